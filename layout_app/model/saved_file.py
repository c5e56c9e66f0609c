"""The saved file NAME.busweave: UTF-8 JSON, one cell to a line, with cell type and materials inside.

``"format"`` and ``"version"`` stand first, then the fields of a Layout under their own names. A newer version is
refused, an older one is carried forward by `UPGRADES`. What reading accepts is told in `reading`, how numbers and
lines are set in `writing`.
"""

from __future__ import annotations

import json
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from layout_app.model.atomic import backup_path, replace_file
from layout_app.model.errors import FileError, shown
from layout_app.model.layouts import Layout
from layout_app.model.places import json_line, repeated_field
from layout_app.model.reading import FieldError, path_text, read
from layout_app.model.writing import layout_text

FORMAT = "busweave-layout"
VERSION = 1
ENDING = ".busweave"
MAX_FILE_BYTES = 200_000_000  # twenty times a layout of MAX_CELLS cells

# version -> what turns a file of that version into one of the next; the dict is the parsed file and may be changed
UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}


def save(layout: Layout, path: Path | str) -> None:
    """Write a layout in one step; the previous file stays beside it as NAME.busweave~.

    Raises
    ------
    FileError : it could not be written; the file that was there is untouched
    """
    replace_file(Path(path), dumps(layout).encode())


def load(path: Path | str) -> Layout:
    """Return the layout a file holds.

    Raises
    ------
    FileError : no such file, not readable, or not a sound layout; names line and field, what was found, what is wanted
    """
    return loads(_file_text(Path(path)), str(path))


def dumps(layout: Layout) -> str:
    """Return the text of a layout's file; the same layout always gives the same text."""
    return layout_text(layout, {"format": FORMAT, "version": VERSION})


def loads(text: str, origin: str = "layout") -> Layout:
    """Return the layout a text holds; `origin` names the text in messages.

    Raises
    ------
    FileError : as `load`
    """
    text = text.removeprefix("\ufeff")  # some editors put a byte-order mark before UTF-8
    data = _parsed(text, origin)
    try:
        return read(Layout, _carried_forward(data))
    except FieldError as error:
        line = json_line(text, error.path)
        raise FileError(origin, error.reason, line=line, place=path_text(error.path)) from error


class _RepeatedFieldError(ValueError):
    pass


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    members = dict(pairs)
    if len(members) < len(pairs):
        raise _RepeatedFieldError
    return members


def _whole(digits: str) -> int | float:
    return int(digits) if len(digits) < 19 else float(digits)  # counts are short; int() of a million digits is slow


def _parsed(text: str, origin: str) -> object:
    try:
        return json.loads(text, object_pairs_hook=_object, parse_int=_whole)
    except _RepeatedFieldError:
        path, line = repeated_field(text)
        raise FileError(origin, "stands here a second time. Take one out.", line=line, place=path_text(path)) from None
    except json.JSONDecodeError as error:
        if not text.strip():
            raise FileError(origin, f"the file is empty. {_way_out(origin)}") from None
        if not text.lstrip().startswith("{"):
            raise FileError(origin, "this is not a layout of this program. Choose another file.") from None
        breaks_off = error.pos >= len(text.rstrip())
        what = "the file breaks off here." if breaks_off else f"the file is damaged here, at column {error.colno}."
        raise FileError(origin, f"{what} {_way_out(origin)}", line=error.lineno) from None
    except RecursionError:
        raise FileError(origin, f"objects within objects without end. {_way_out(origin)}") from None


def _way_out(origin: str) -> str:
    """Return what to do about a damaged file: open the previous one, where it is still kept beside it."""
    try:
        backup = backup_path(Path(origin))
        has_backup = backup.is_file()
    except (OSError, ValueError):  # a name no file can have
        has_backup = False
    return f"Open the previous one, kept beside it as {backup.name}." if has_backup else "Fetch the file anew."


def _carried_forward(data: object) -> dict[str, Any]:
    """Return the fields of a Layout from a file of this version or an older one."""
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        found = data.get("format", "no format") if isinstance(data, dict) else data
        raise FieldError(
            ("format",), f'found {shown(found)}; it must be an object with "format": "{FORMAT}". This is another file.'
        )
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise FieldError(("version",), f"found {shown(version)}; it must be a whole number from 1 to {VERSION}.")
    if version > VERSION:
        _refuse_newer(version)
    for older in range(version, VERSION):
        data = UPGRADES[older](data)
    return {name: value for name, value in data.items() if name not in ("format", "version")}


def _refuse_newer(version: int) -> NoReturn:
    raise FieldError(
        ("version",),
        f"the file is of version {version}; this program reads up to version {VERSION}. Open it with a newer Busweave.",
    )


def _file_text(path: Path) -> str:
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise FileError(path, f"this is a folder. Name a file that ends in {ENDING}.")
        if not stat.S_ISREG(status.st_mode) or status.st_size > MAX_FILE_BYTES:
            raise FileError(path, f"this is no layout: not a plain file of at most {MAX_FILE_BYTES // 10**6} MB.")
        return path.read_bytes().decode()
    except FileNotFoundError:
        raise FileError(path, "there is no such file. Check the name and the folder.") from None
    except UnicodeDecodeError as error:
        raise FileError(
            path, f"not UTF-8 text (byte {error.start}); this is no layout, or damaged. {_way_out(str(path))}"
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileError(path, f"cannot be read: {reason}.") from error
