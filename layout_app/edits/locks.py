"""Locks: cells that keep their place and group whatever else is edited, until they are unlocked.

An edit of chosen cells does as though the locked ones among them were not chosen. One that would touch nothing but
locked cells, or could only be done by changing one, is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout_app.geometry.arrays import IntArray
from layout_app.model.cells import Cells
from layout_app.model.errors import CellsOutOfRangeError
from layout_app.model.layouts import Layout

NAMED = 4  # cells named in a sentence; of more, the rest is counted


class LockedCellsError(CellsOutOfRangeError):
    """What was asked for would change locked cells, given by index; `why_not` says how."""

    def __init__(self, cells: Sequence[int], why_not: str) -> None:
        verb, it = ("is", "it") if len(cells) == 1 else ("are", "them")
        named = named_cells(cells)
        super().__init__(f"{named[:1].upper()}{named[1:]} {verb} locked and {why_not}. Unlock {it} first.", cells)


@dataclass(frozen=True, slots=True)
class LockCells:
    """Lock cells, given by index: no edit moves, erases or regroups them from then on."""

    cells: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Lock 3 cells"."""
        return f"Lock {counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells locked."""
        return _with_locks(layout, self.cells, is_locked=True)


@dataclass(frozen=True, slots=True)
class UnlockCells:
    """Unlock cells, given by index."""

    cells: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Unlock 1 cell"."""
        return f"Unlock {counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells unlocked."""
        return _with_locks(layout, self.cells, is_locked=False)


def _with_locks(layout: Layout, cells: Sequence[int], *, is_locked: bool) -> Layout:
    chosen = require_cells(layout, cells)
    if (layout.cells.locked[chosen] == is_locked).all():
        return layout
    locked = layout.cells.locked.copy()
    locked[chosen] = is_locked
    return replace(layout, cells=layout.cells.relocked(locked))


def require_cells(layout: Layout, cells: Sequence[int]) -> IntArray:
    """Return cells, given by index, as an array; raise where one does not exist."""
    chosen = np.array(cells, dtype=np.int64)
    astray = chosen[(chosen < 0) | (chosen >= len(layout.cells))]
    if len(astray):
        raise CellsOutOfRangeError(
            f"There is no cell {astray[0] + 1}; the layout has cells 1 to {len(layout.cells)}.", astray.tolist()
        )
    return chosen


def free_cells(layout: Layout, cells: Sequence[int] | IntArray, done: str) -> IntArray:
    """Return those of the cells, given by index, that are not locked.

    Raises
    ------
    LockedCellsError : there are some, and all are locked; `done` says what they cannot be, e.g. "moved"
    """
    chosen = require_cells(layout, cells)  # type: ignore[arg-type]  # an array of indices will do as well
    is_locked = layout.cells.locked[chosen]
    if not is_locked.any():
        return chosen
    if is_locked.all():
        raise LockedCellsError(chosen.tolist(), f"cannot be {done}")
    return chosen[~is_locked]


def regrouped(layout: Layout, groups: IntArray) -> Cells:
    """Return the layout's cells in other groups, (n,); raise LockedCellsError where a locked one would change its."""
    changes = np.flatnonzero(layout.cells.locked & (groups != layout.cells.groups)).tolist()
    if changes:
        would = f"would come from group {layout.cells.groups[changes[0]]} into {groups[changes[0]]}"
        raise LockedCellsError(changes, would if len(changes) == 1 else "would come into other groups")
    return layout.cells.regrouped(groups)


def require_no_locks(layout: Layout, why_not: str) -> None:
    """Raise LockedCellsError when any cell is locked; `why_not` goes on after "is locked and"."""
    locked = np.flatnonzero(layout.cells.locked).tolist()
    if locked:
        raise LockedCellsError(locked, why_not)


def named_cells(cells: Sequence[int]) -> str:
    """Return cells, given by index, by their numbers.

    >>> named_cells([2]), named_cells([2, 3]), named_cells(range(9))
    ('cell 3', 'cells 3 and 4', 'cells 1, 2, 3, 4 and 5 more')
    """
    numbers = [str(cell + 1) for cell in cells[:NAMED]]
    last = [f"{len(cells) - NAMED} more"] if len(cells) > NAMED else [numbers.pop()] if len(numbers) > 1 else []
    return f"cell{'s' if len(cells) != 1 else ''} {' and '.join([', '.join(numbers), *last])}"


def counted(things: Sequence[object]) -> str:
    """Return how many cells, in words, e.g. "3 cells"."""
    return f"{len(things)} cell" + ("" if len(things) == 1 else "s")
