"""Cells as columns: where each stands and which parallel group it belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import IntArray, PointArray, frozen_floats
from layout_app.model.errors import CellsOutOfRangeError
from layout_app.model.validation import MAX_CELLS, require_count

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
    """

    centres_mm: PointArray
    groups: IntArray

    def __init__(self, centres_mm: ArrayLike, groups: ArrayLike | None = None) -> None:
        centres = frozen_floats(centres_mm, n_columns=2)
        numbers = np.zeros(len(centres), dtype=np.int64) if groups is None else np.array(groups, dtype=np.int64)
        numbers.flags.writeable = False
        object.__setattr__(self, "centres_mm", centres)
        object.__setattr__(self, "groups", numbers)
        require_count("number of cells", len(centres), most=MAX_CELLS)
        if numbers.shape != (len(centres),):
            raise CellsOutOfRangeError(f"{len(centres)} cells need as many group numbers, not {numbers.size}.", ())
        astray = np.flatnonzero(~np.isfinite(centres).all(axis=1))
        if len(astray):
            raise CellsOutOfRangeError(
                f"Cell {astray[0] + 1} has a coordinate that is not a finite number.", astray.tolist()
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
        return np.array_equal(self.centres_mm, other.centres_mm) and np.array_equal(self.groups, other.groups)

    def __hash__(self) -> int:
        return hash((self.centres_mm.tobytes(), self.groups.tobytes()))

    def of_group(self, group: int) -> IntArray:
        """Return the indices of the cells in a group, ascending."""
        return np.flatnonzero(self.groups == group)

    def regrouped(self, groups: ArrayLike) -> Cells:
        """Return the same cells with other group numbers."""
        return Cells(self.centres_mm, groups)
