"""Errors the user can put right. Whatever else escapes is our own bug."""

from collections.abc import Sequence


class LayoutError(Exception):
    """Something in the user's input is not usable; the message says what, where and what to do."""


class ValueOutOfRangeError(LayoutError):
    """A number or word in a field is not one of those it may be."""

    def __init__(self, field: str, found: object, wanted: str) -> None:
        super().__init__(f"{field} is {found!r}; it must be {wanted}.")
        self.field, self.found, self.wanted = field, found, wanted


class CellsOutOfRangeError(LayoutError):
    """Some cells carry values no cell can have."""

    def __init__(self, message: str, cells: Sequence[int]) -> None:
        super().__init__(message)
        self.cells = tuple(cells)
