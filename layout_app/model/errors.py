"""Errors the user can put right. Whatever else escapes is our own bug."""

from collections.abc import Sequence
from pathlib import Path

SHOWN_CHARACTERS = 60  # enough to recognise what was typed, short enough to stay one line


class LayoutError(Exception):
    """Something in the user's input is not usable; the message says what, where and what to do."""


class ValueOutOfRangeError(LayoutError):
    """A number or word in a field is not one of those it may be."""

    def __init__(self, field: str, found: object, wanted: str, unit: str = "") -> None:
        number, wish = (f"{found:.10g}" if isinstance(found, float) else shown(found)), f"{wanted} {unit}".rstrip()
        super().__init__(f"{field} is {f'{number} {unit}'.rstrip()}; it must be {wish}.")
        self.field, self.found, self.wanted = field, found, wish


class CellsOutOfRangeError(LayoutError):
    """Some cells carry values no cell can have."""

    def __init__(self, message: str, cells: Sequence[int]) -> None:
        super().__init__(message)
        self.cells = tuple(cells)


class FileError(LayoutError):
    """A file cannot be read, written or believed; `line` counts from 1, `place` names the field, where known."""

    def __init__(self, file: Path | str, message: str, *, line: int | None = None, place: str = "") -> None:
        where = f"{file}, line {line}" if line else f"{file}"
        super().__init__(f"{where}: {place}: {message}" if place else f"{where}: {message}")
        self.file, self.line, self.place, self.reason = file, line, place, message


def shown(value: object) -> str:
    """Return a value as a message quotes it, cut short when long.

    >>> shown(0.5), shown("x" * 100)[-5:]
    ('0.5', 'xxxx…')
    """
    try:
        text = repr(value)
    except ValueError:  # Python will not spell out a whole number of more than 4 300 digits
        return f"a {type(value).__name__} too long to show"
    return text if len(text) <= SHOWN_CHARACTERS else text[:SHOWN_CHARACTERS] + "…"
