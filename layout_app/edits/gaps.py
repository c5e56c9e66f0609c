"""Row gaps: rows of cells moved apart, for a rib or a cooling ribbon between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.edits.choosing import across_rows_mm
from layout_app.edits.locks import LockedCellsError, require_cells
from layout_app.edits.moves import relocated
from layout_app.geometry.arrays import FloatArray, IntArray, rotation
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.validation import require_number

OWN_ROW = 0.5  # of the distance of rows: cells further apart than this, across the rows, stand in different ones


@dataclass(frozen=True, slots=True)
class OpenRows:
    """Open a gap between every two neighbouring rows that both hold one of the cells; less than 0 closes it.

    All cells on either side move, half the way each, at right angles to the rows. A side with locked cells stays, and
    the other moves the whole way.
    """

    cells: tuple[int, ...]
    gap_mm: float

    @property
    def label(self) -> str:
        """E.g. "Open rows by 3 mm"."""
        return f"{'Open' if self.gap_mm >= 0 else 'Close'} rows by {abs(self.gap_mm):g} mm"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with rows apart; raise LayoutError when the cells are all in one row, or would overlap."""
        chosen = require_cells(layout, self.cells)
        require_number("row gap", self.gap_mm, least=-1000, most=1000)
        heights = across_rows_mm(layout)
        borders = _borders_mm(heights, heights[chosen], OWN_ROW * layout.lattice.row_mm)
        if not len(borders):
            raise LayoutError("A gap opens between rows. Choose cells in two neighbouring rows or more.")
        if self.gap_mm == 0:
            return layout
        above = np.searchsorted(borders, heights)  # how many of the gaps lie below each cell
        steps = above - _unmoved(layout, above, len(borders) / 2)
        normal = rotation(layout.lattice.angle_rad) @ (0.0, 1.0)
        shifts = steps[:, None] * self.gap_mm * normal
        everything = np.arange(len(layout.cells))
        return relocated(layout, everything, layout.cells.centres_mm + shifts)


def _unmoved(layout: Layout, above: IntArray, middle: float) -> float:
    """Return above how many gaps nothing moves: amid all of them, or where locked cells stand."""
    locked = np.flatnonzero(layout.cells.locked)
    levels = np.unique(above[locked]).tolist()
    if len(levels) > 1:
        raise LockedCellsError(locked.tolist(), "stand on more than one side of the gaps, so that some would move")
    return float(levels[0]) if levels else middle


def _borders_mm(heights_mm: FloatArray, chosen_mm: FloatArray, apart_mm: float) -> FloatArray:
    """Return the heights midway between neighbouring rows that both hold chosen cells, ascending."""
    ordered = np.sort(heights_mm)
    first = np.flatnonzero(np.append(True, np.diff(ordered) > apart_mm)) if len(ordered) else np.empty(0, np.int64)
    between = (ordered[first[1:] - 1] + ordered[first[1:]]) / 2
    row = np.searchsorted(between, chosen_mm)
    is_chosen = np.isin(np.arange(len(between) + 1), row)
    return np.asarray(between[is_chosen[:-1] & is_chosen[1:]], dtype=np.float64)
