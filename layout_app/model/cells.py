"""Cells as columns: where each stands, which parallel group it belongs to, and whether it is locked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray, PointArray, is_frozen
from layout_app.model.errors import CellsOutOfRangeError
from layout_app.model.validation import MAX_CELLS, MAX_COORDINATE_MM, require_count

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

UNASSIGNED = 0


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """All cells of a layout, in order; a cell's number is its index plus one.

    Attributes
    ----------
    centres_mm : (n, 2) read-only float array, mm, layout coordinates
    groups : (n,) read-only int array, 1…S from the negative terminal, 0 for a cell not assigned yet
    locked : (n,) read-only bool array, which cells no edit may move, erase or put into another group
    """

    centres_mm: PointArray
    groups: IntArray
    locked: BoolArray

    def __init__(self, centres_mm: ArrayLike, groups: ArrayLike | None = None, locked: ArrayLike | None = None) -> None:
        centres = _points(centres_mm)
        numbers = _whole_numbers(np.zeros(len(centres), dtype=np.int64) if groups is None else groups)
        object.__setattr__(self, "centres_mm", centres)
        object.__setattr__(self, "groups", numbers)
        object.__setattr__(self, "locked", _flags(locked, len(centres)))
        require_count("number of cells", len(centres), most=MAX_CELLS)
        if numbers.shape != (len(centres),):
            raise CellsOutOfRangeError(f"{len(centres)} cells need as many group numbers, not {numbers.size}.", ())
        astray = np.flatnonzero(~(np.abs(centres) <= MAX_COORDINATE_MM).all(axis=1))
        if len(astray):
            x_mm, y_mm = centres[astray[0]].tolist()
            raise CellsOutOfRangeError(
                f"Cell {astray[0] + 1} stands at ({x_mm:g}, {y_mm:g}) mm; both must be finite numbers of at most "
                f"{MAX_COORDINATE_MM:g} either way.",
                astray.tolist(),
            )
        negative = np.flatnonzero(numbers < 0)
        if len(negative):
            raise CellsOutOfRangeError(
                f"Cell {negative[0] + 1} is in group {numbers[negative[0]]}; groups count from 1, 0 means unassigned.",
                negative.tolist(),
            )

    def __len__(self) -> int:
        return len(self.groups)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Cells):
            return NotImplemented
        return (
            np.array_equal(self.centres_mm, other.centres_mm)
            and np.array_equal(self.groups, other.groups)
            and np.array_equal(self.locked, other.locked)
        )

    def __hash__(self) -> int:
        return hash((self.centres_mm.tobytes(), self.groups.tobytes(), self.locked.tobytes()))

    @property
    def has_locks(self) -> bool:
        """Whether any cell is locked."""
        return bool(self.locked.any())

    def of_group(self, group: int) -> IntArray:
        """Return the indices of the cells in a group, ascending."""
        return np.flatnonzero(self.groups == group)

    def regrouped(self, groups: ArrayLike) -> Cells:
        """Return the same cells with other group numbers."""
        return Cells(self.centres_mm, groups, self.locked)

    def relocked(self, locked: ArrayLike) -> Cells:
        """Return the same cells with others of them locked."""
        return Cells(self.centres_mm, self.groups, locked)


def _points(centres_mm: ArrayLike) -> PointArray:
    """Return a read-only (n, 2) copy, or raise: other shapes must not be folded into pairs silently. A read-only array
    stays the same object, so that what was derived from it is found again."""
    if isinstance(centres_mm, np.ndarray) and centres_mm.dtype == np.float64 and is_frozen(centres_mm, 2):
        return centres_mm
    try:
        points = np.array(centres_mm, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise CellsOutOfRangeError("The cells' centres must be pairs of numbers (x, y).", ()) from None
    points = points.reshape(0, 2) if points.size == 0 else points
    if points.ndim != 2 or points.shape[1] != 2:
        raise CellsOutOfRangeError(f"The cells' centres must be pairs (x, y), not an array of {points.shape}.", ())
    points.flags.writeable = False
    return points


def _whole_numbers(groups: ArrayLike) -> IntArray:
    """Return a read-only (n,) array, or raise: 1.5 must not become group 1 silently. A read-only one is kept."""
    if isinstance(groups, np.ndarray) and groups.dtype == np.int64 and _is_own(groups):
        return groups
    try:
        numbers = np.asarray(groups)
    except ValueError:  # rows of different lengths
        raise CellsOutOfRangeError("The cells' groups must be whole numbers.", ()) from None
    if numbers.size and numbers.dtype.kind not in "iu":
        raise CellsOutOfRangeError("The cells' groups must be whole numbers.", ())
    numbers = numbers.astype(np.int64)
    numbers.flags.writeable = False
    return numbers


def _flags(locked: ArrayLike | None, n_cells: int) -> BoolArray:
    """Return a read-only (n,) array, or raise: a number must not become a lock silently. None locks no cell."""
    if isinstance(locked, np.ndarray) and _is_own(locked):
        flags = locked  # that of other cells: groups change far more often than locks
    else:
        flags = np.zeros(n_cells, dtype=np.bool_) if locked is None else np.array(locked)
        flags = flags.astype(np.bool_) if not flags.size else flags
        flags.flags.writeable = False
    if flags.dtype != np.bool_:
        raise CellsOutOfRangeError("The cells' locks must be true or false.", ())
    if flags.shape != (n_cells,):
        raise CellsOutOfRangeError(f"{n_cells} cells need as many locks, not {flags.size}.", ())
    return flags


def _is_own(array: np.ndarray[Any, Any]) -> bool:
    """Whether nobody can write to an array."""
    return array.base is None and not array.flags.writeable
