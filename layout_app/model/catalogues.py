"""Catalogues: the cell types, sheet materials and wire metals that ship with the program, and the user's own cells.

The user's cells stand in ``cells.toml`` in the program's settings folder, in the form of ours: a table for each type,
its name the id. A table of the same id takes the place of ours.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import TypeVar

from layout_app.model.cell_types import CellType
from layout_app.model.errors import FileError, LayoutError
from layout_app.model.fuse_metals import FuseMetal
from layout_app.model.materials import Material
from layout_app.model.places import toml_line
from layout_app.model.reading import FieldError, path_text, read
from layout_app.model.resources import resource

SETTINGS_VARIABLE = "BUSWEAVE_CONFIG_DIR"  # overrides the platform's settings folder
MAX_FILE_BYTES = 10_000_000
T = TypeVar("T", CellType, Material, FuseMetal)


def cell_types() -> dict[str, CellType]:
    """Return all cell types by id: ours, then the user's. Bad entries are left out; see `user_cell_problems`."""
    return {**_shipped(CellType, "cells.toml"), **_user_cells()[0]}


def cell_type(id_or_path: str | Path) -> CellType:
    """Return one cell type by its id, or the one a TOML file holds.

    Raises
    ------
    LayoutError : no such id, with those that come near
    FileError : the file cannot be read, or does not hold exactly one sound cell type
    """
    known = cell_types()
    if str(id_or_path) in known:
        return known[str(id_or_path)]
    path = Path(id_or_path)
    if path.suffix.lower() == ".toml" or isinstance(id_or_path, Path):
        return _only_cell(path)
    raise _unknown("cell type", str(id_or_path), known, "'busweave cells' lists all; a path ending in .toml works too.")


def materials() -> dict[str, Material]:
    """Return all sheet materials by id."""
    return dict(_shipped(Material, "materials.toml"))


def material(id_: str) -> Material:
    """Return one sheet material by its id.

    Raises
    ------
    LayoutError : no such id, with those that come near
    """
    known = materials()
    if id_ not in known:
        raise _unknown("material", id_, known, f"There are {', '.join(known)}.")
    return known[id_]


def wire_metals() -> dict[str, FuseMetal]:
    """Return the metals bond wires are drawn from, by id."""
    return dict(_shipped(FuseMetal, "wires.toml"))


def wire_metal(id_: str) -> FuseMetal:
    """Return one bond-wire metal by its id.

    Raises
    ------
    LayoutError : no such id, with those there are
    """
    known = wire_metals()
    if id_ not in known:
        raise _unknown("bond-wire metal", id_, known, f"There are {', '.join(known)}.")
    return known[id_]


def user_cells_file() -> Path:
    """Return where the user's own cell types are read from; the file need not exist."""
    return settings_folder() / "cells.toml"


def settings_folder() -> Path:
    """Return where everything a user sets for the program is kept; the folder need not exist."""
    if folder := os.environ.get(SETTINGS_VARIABLE):
        return Path(folder)
    from platformdirs import user_config_dir

    return Path(user_config_dir("busweave"))


def user_cell_problems() -> tuple[FileError, ...]:
    """Return what is wrong in the user's file, one error an entry; empty when all is well or there is no file."""
    return _user_cells()[1]


def _user_cells() -> tuple[dict[str, CellType], tuple[FileError, ...]]:
    path = user_cells_file()
    if not path.exists():
        return {}, ()
    try:
        good, problems = _entries(CellType, path)
    except FileError as error:
        return {}, (error,)
    return good, tuple(problems)


def _only_cell(path: Path) -> CellType:
    good, problems = _entries(CellType, path)
    if problems:
        raise problems[0]
    if len(good) != 1:
        raise FileError(path, f"holds {len(good)} cell types; it must hold one. Move the one you mean to its own file.")
    return next(iter(good.values()))


@cache
def _shipped(kind: type[T], name: str) -> dict[str, T]:
    good, problems = _entries(kind, resource(name))
    if problems:
        raise problems[0]
    return good


def _entries(kind: type[T], path: Path) -> tuple[dict[str, T], list[FileError]]:
    """Return the sound entries of a TOML file by id, and an error for each that is not."""
    text = _file_text(path)
    good: dict[str, T] = {}
    problems: list[FileError] = []
    for id_, table in _tables(text, path).items():
        try:
            good[id_] = _entry(kind, id_, table)
        except FieldError as error:
            where = path_text(error.path)
            problems.append(FileError(path, error.reason, line=toml_line(text, error.path), place=where))
    return good, problems


def _entry(kind: type[T], id_: str, table: object) -> T:
    if not isinstance(table, dict):
        raise FieldError((id_,), f"stands outside any table. Put it below a line such as [my-{kind.__name__.lower()}].")
    if "id" in table:
        raise FieldError((id_, "id"), f"the table's name, {id_}, is the id. Take this line out.")
    return read(kind, {"id": id_, **table}, (id_,))


def _tables(text: str, path: Path) -> dict[str, object]:
    import tomllib

    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also a whole number of more than 4 300 digits
        at = re.search(r"\(at line (\d+), column \d+\)", str(error))
        reason = re.sub(r" \(at .*\)$", "", str(error))
        raise FileError(path, f"not sound TOML: {reason}.", line=int(at[1]) if at else None) from None


def _file_text(path: Path) -> str:
    try:
        if path.is_file() and path.stat().st_size > MAX_FILE_BYTES:
            raise FileError(path, f"larger than {MAX_FILE_BYTES // 10**6} MB; this is no catalogue.")
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise FileError(path, "there is no such file. Check the name and the folder.") from None
    except UnicodeDecodeError as error:
        raise FileError(path, f"not UTF-8 text (byte {error.start}). Save it as UTF-8.") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileError(path, f"cannot be read: {reason}.") from error


def _unknown(what: str, id_: str, known: Collection[str], advice: str) -> LayoutError:
    from difflib import get_close_matches

    near = get_close_matches(id_, known, n=4, cutoff=0.5) or [name for name in known if id_[:2] == name[:2]]
    return LayoutError(f"There is no {what} {id_[:60]!r}. " + (f"Near: {', '.join(near)}. " if near else "") + advice)
