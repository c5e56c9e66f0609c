"""Where the files that ship with the program lie, in a checkout and in an installed wheel alike."""

from pathlib import Path

from layout_app.model.errors import LayoutError

_PACKAGE = Path(__file__).resolve().parents[1]


def resources_folder() -> Path:
    """Return the folder of catalogues, icons, help pages and colour maps.

    Raises
    ------
    LayoutError : the installation lacks it
    """
    return _folder("resources")


def resource(name: str) -> Path:
    """Return the path of one shipped file, e.g. ``resource("cells.toml")``."""
    return resources_folder() / name


def sample_layouts() -> dict[str, Path]:
    """Return the finished layouts that ship with the program: file name without ending -> path, by name."""
    return {path.stem: path for path in sorted(_folder("sample_layouts").glob("*.busweave"))}


def _folder(name: str) -> Path:
    for folder in (_PACKAGE / f"_{name}", _PACKAGE.parent / name):  # as the wheel places it, as the checkout has it
        if folder.is_dir():
            return folder
    raise LayoutError(f"The program's folder {name} is missing beside {_PACKAGE}. Install Busweave again.")
