"""Reading never trusts: turns parsed JSON or TOML into the model's frozen values, guided by their annotations.

Unknown fields are refused, for a misspelt one would silently become its default. A field with a default may be left
out. The first thing that is wrong is raised as a FieldError that leads to it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from operator import itemgetter
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.cells import Cells
from layout_app.model.errors import CellsOutOfRangeError, LayoutError, ValueOutOfRangeError, shown

FieldPath = tuple[str | int, ...]
T = TypeVar("T")


class FieldError(LayoutError):
    """A field does not hold what it should; `path` leads to it from the top of the file."""

    def __init__(self, path: FieldPath, message: str) -> None:
        super().__init__(f"{path_text(path)}: {message}" if path else message)
        self.path, self.reason = path, message


@dataclass(frozen=True, slots=True, kw_only=True)
class CellRow:
    """One cell as a file holds it; group 0 for a cell not assigned yet. A lock stands only where there is one."""

    x_mm: float
    y_mm: float
    group: int
    locked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class VertexRow:
    """One vertex of a contour as a file holds it, with the bulge of the edge that starts there."""

    x_mm: float
    y_mm: float
    bulge: float


def path_text(path: FieldPath) -> str:
    """Return a path as messages show it.

    >>> path_text(("cells", 17, "x_mm"))
    'cells[17].x_mm'
    """
    return "".join(map(_step_text, path)).removeprefix(".")


def _step_text(step: str | int) -> str:
    if isinstance(step, int):
        return f"[{step}]"
    return f".{step}" if re.fullmatch(r"[\w-]{1,60}", step) else f"[{shown(step)}]"  # a file may hold any key


def read(kind: type[T], data: object, path: FieldPath = ()) -> T:
    """Return `data`, as a JSON or TOML parser gives it, as a value of `kind`.

    Parameters
    ----------
    kind : a frozen dataclass of the model, or a type one of its fields is annotated with
    data : dicts, lists, text, numbers, True, False, None
    path : where in the file `data` stands

    Raises
    ------
    FieldError : the first thing that is not as it should be, with its place
    """
    return cast(T, _reader(cast(Any, kind))(data, path))


Reader = Callable[[object, FieldPath], object]


@cache
def _reader(kind: Any) -> Reader:
    """Return the function that reads values annotated as `kind`."""
    if kind in _PLAIN_READERS:
        return _PLAIN_READERS[kind]
    if is_dataclass(kind):
        return _record_reader(kind)
    arguments = get_args(kind)
    if get_origin(kind) is Literal:
        return lambda data, path: _choice(arguments, data, path)
    if get_origin(kind) is tuple:
        return _tuple_reader(arguments)
    if get_origin(kind) in (Union, UnionType) and len(arguments) == 2 and NoneType in arguments:
        inner = _reader(next(argument for argument in arguments if argument is not NoneType))
        return lambda data, path: None if data is None else inner(data, path)
    raise TypeError(f"nothing is known about reading {kind}")


def _refuse(path: FieldPath, data: object, wanted: str) -> FieldError:
    return FieldError(path, f"found {shown(data)}; it must be {wanted}.")


def _number(data: object, path: FieldPath) -> float:
    if isinstance(data, int | float) and not isinstance(data, bool):
        try:
            number = float(data)
        except OverflowError:
            number = math.inf
        if math.isfinite(number):
            return number
    raise _refuse(path, data, "a finite number")


def _whole_number(data: object, path: FieldPath) -> int:
    if isinstance(data, int) and not isinstance(data, bool):
        return data
    raise _refuse(path, data, "a whole number")


def _flag(data: object, path: FieldPath) -> bool:
    if isinstance(data, bool):
        return data
    raise _refuse(path, data, "true or false")


def _text(data: object, path: FieldPath) -> str:
    if isinstance(data, str):
        return data
    raise _refuse(path, data, "text")


def _list(data: object, path: FieldPath) -> list[object]:
    if isinstance(data, list):
        return data
    raise _refuse(path, data, "a list")


def _choice(choices: tuple[str, ...], data: object, path: FieldPath) -> str:
    if isinstance(data, str) and data in choices:
        return data
    raise _refuse(path, data, "one of " + ", ".join(choices))


def _tuple_reader(arguments: tuple[Any, ...]) -> Reader:
    def any_length(data: object, path: FieldPath) -> object:
        inner = _reader(arguments[0])
        return tuple(inner(item, (*path, k)) for k, item in enumerate(_list(data, path)))

    def fixed_length(data: object, path: FieldPath) -> object:
        items = _list(data, path)
        if len(items) != len(arguments):
            raise _refuse(path, data, f"a list of {len(arguments)}")
        return tuple(
            _reader(kind)(item, (*path, k)) for k, (kind, item) in enumerate(zip(arguments, items, strict=True))
        )

    return any_length if arguments[-1] is Ellipsis else fixed_length


def _record_reader(kind: Any) -> Reader:
    hints = get_type_hints(kind)
    readers = {field.name: _reader(hints[field.name]) for field in fields(kind)}
    required = [f.name for f in fields(kind) if f.default is MISSING and f.default_factory is MISSING]

    def reader(data: object, path: FieldPath) -> object:
        if not isinstance(data, dict):
            raise _refuse(path, data, "an object with the fields " + ", ".join(readers))
        _require_fields(data, path, known=list(readers), required=required)
        values = {name: readers[name](data[name], (*path, name)) for name in readers if name in data}
        try:
            return kind(**values)
        except LayoutError as error:
            raise FieldError((*path, *_culprit(values, error)), str(error)) from error

    return reader


def _require_fields(data: dict[str, object], path: FieldPath, *, known: list[str], required: list[str]) -> None:
    for name in data:
        if name not in known:
            from difflib import get_close_matches  # only a mistake needs it

            near = get_close_matches(name, known, n=1)
            raise FieldError(
                (*path, name),
                f"no such field here. Did you mean {near[0]}?" if near else "no such field here. Take it out.",
            )
    for name in required:
        if name not in data:
            raise FieldError((*path, name), "this field is missing.")


def _culprit(values: dict[str, object], error: LayoutError) -> FieldPath:
    """Return the way from a record to the value its own validation refused; empty when it is the whole."""
    if isinstance(error, CellsOutOfRangeError) and error.cells and "cells" in values:
        return ("cells", error.cells[0])
    if isinstance(error, ValueOutOfRangeError):
        for name, value in values.items():
            if value is error.found:
                return (name,)
            if isinstance(value, tuple):
                for k, item in enumerate(value):
                    if item is error.found:
                        return (name, k)
    return ()


def _columns(row_kind: type[Any], data: object, path: FieldPath) -> list[list[Any]]:
    """Return rows as columns. Sound rows, thousands of them, are checked a column at a time."""
    rows = _list(data, path)
    try:
        columns = _sound_columns(row_kind, cast(list[Any], rows))
        if columns is not None:
            return columns
    except (TypeError, KeyError, AttributeError):
        pass  # some row is no object or lacks a field: the slow way below finds and names it
    reader = _reader(cast(Any, row_kind))
    records = [reader(row, (*path, k)) for k, row in enumerate(rows)]
    return [[getattr(record, field.name) for record in records] for field in fields(row_kind)]


def _sound_columns(row_kind: type[Any], rows: list[Any]) -> list[list[Any]] | None:
    """Return rows as columns, None where a row holds something it should not."""
    required = [field.name for field in fields(row_kind) if field.default is MISSING]
    optional = {field.name: field.default for field in fields(row_kind) if field.default is not MISSING}
    columns = [list(map(itemgetter(name), rows)) for name in required]
    if set(map(len, rows)) <= {len(required)}:
        columns += [[default] * len(rows) for default in optional.values()]
    elif all(len(row) == len(required) + sum(map(row.__contains__, optional)) for row in rows):
        columns += [[row.get(name, default) for row in rows] for name, default in optional.items()]
    else:
        return None
    return columns if _are_sound(row_kind, columns) else None


def _are_sound(row_kind: type[Any], columns: list[list[Any]]) -> bool:
    hints = get_type_hints(row_kind)
    allowed = [{hints[f.name]} if hints[f.name] in (int, bool) else {int, float} for f in fields(row_kind)]
    if not all(set(map(type, column)) <= kinds for column, kinds in zip(columns, allowed, strict=True)):
        return False
    return all(bool(np.isfinite(np.array(column, dtype=np.float64)).all()) for column in columns)


def _cells(data: object, path: FieldPath) -> Cells:
    x_mm, y_mm, groups, locked = _columns(CellRow, data, path)
    try:
        return Cells(np.column_stack([x_mm, y_mm]), groups, locked)
    except LayoutError as error:
        first = error.cells[:1] if isinstance(error, CellsOutOfRangeError) else ()
        raise FieldError((*path, *first), str(error)) from error


def _contour(data: object, path: FieldPath) -> Contour:
    x_mm, y_mm, bulges = _columns(VertexRow, data, path)
    try:
        return Contour(np.column_stack([x_mm, y_mm]), bulges)
    except ValueError as error:
        raise FieldError(path, f"{error}.") from error


_PLAIN_READERS: dict[Any, Reader] = {
    float: _number, int: _whole_number, bool: _flag, str: _text, Cells: _cells, Contour: _contour,
}  # fmt: skip
