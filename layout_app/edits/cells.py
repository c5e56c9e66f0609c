"""Edits of single cells: paint into a group, place, erase."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.cells import UNASSIGNED, Cells
from layout_app.model.errors import CellsOutOfRangeError, LayoutError, ValueOutOfRangeError
from layout_app.model.layouts import Layout

TOUCHING_MM = 1e-6  # sites are computed, so cells that just touch may seem to overlap by rounding


class CellsOverlapError(CellsOutOfRangeError):
    """A new cell would stand where another one is."""

    def __init__(self, place_mm: Sequence[float], cell: int, overlap_mm: float) -> None:
        super().__init__(
            f"A cell at x {place_mm[0]:.2f}, y {place_mm[1]:.2f} mm would overlap cell {cell + 1} by "
            f"{overlap_mm:.2f} mm. Place it on a free site or erase that cell first.",
            (cell,),
        )


@dataclass(frozen=True, slots=True)
class PaintCells:
    """Put cells, given by index, into a group 1…S; group 0 takes them out of every group."""

    cells: tuple[int, ...]
    group: int

    @property
    def label(self) -> str:
        """E.g. "Paint 3 cells into group 2"."""
        if self.group == UNASSIGNED:
            return f"Take {_counted(self.cells)} out of the groups"
        return f"Paint {_counted(self.cells)} into group {self.group}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells in the group."""
        _require_group(layout, self.group)
        chosen = _require_cells(layout, self.cells)
        groups = layout.cells.groups.copy()
        groups[chosen] = self.group
        if np.array_equal(groups, layout.cells.groups):
            return layout
        return replace(layout, cells=layout.cells.regrouped(groups))


@dataclass(frozen=True, slots=True)
class PlaceCells:
    """Add cells at the given places (mm, layout coordinates) to a group; they take the highest numbers."""

    places_mm: tuple[tuple[float, float], ...]
    group: int = UNASSIGNED

    @property
    def label(self) -> str:
        """E.g. "Place 2 cells"."""
        return f"Place {_counted(self.places_mm)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the new cells; raise CellsOverlapError where there is no room."""
        _require_group(layout, self.group)
        if not self.places_mm:
            return layout
        centres = np.vstack([layout.cells.centres_mm, np.array(self.places_mm, dtype=np.float64).reshape(-1, 2)])
        groups = np.concatenate([layout.cells.groups, np.full(len(self.places_mm), self.group)])
        cells = Cells(centres, groups)  # first, so that a place that is no number is refused
        _require_room(cells.centres_mm, len(layout.cells), layout.cell_type.diameter_mm)
        return replace(layout, cells=cells)


@dataclass(frozen=True, slots=True)
class EraseCells:
    """Take cells, given by index, out of the layout; the cells after them move up in number."""

    cells: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Erase 1 cell"."""
        return f"Erase {_counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without those cells."""
        chosen = _require_cells(layout, self.cells)
        if not len(chosen):
            return layout
        stays = np.ones(len(layout.cells), dtype=np.bool_)
        stays[chosen] = False
        return replace(layout, cells=Cells(layout.cells.centres_mm[stays], layout.cells.groups[stays]))


def _counted(things: Sequence[object]) -> str:
    return f"{len(things)} cell" + ("" if len(things) == 1 else "s")


def _require_cells(layout: Layout, cells: Sequence[int]) -> IntArray:
    chosen = np.array(cells, dtype=np.int64)
    astray = chosen[(chosen < 0) | (chosen >= len(layout.cells))]
    if len(astray):
        raise CellsOutOfRangeError(
            f"There is no cell {astray[0] + 1}; the layout has cells 1 to {len(layout.cells)}.", astray.tolist()
        )
    return chosen


def _require_group(layout: Layout, group: int) -> None:
    if not UNASSIGNED <= group <= layout.n_series:
        raise ValueOutOfRangeError("group", group, f"0 (none) or a group from 1 to {layout.n_series}")


def _require_room(centres_mm: PointArray, n_old: int, diameter_mm: float) -> None:
    """Raise when a cell from index `n_old` on overlaps an earlier one."""
    if not np.abs(centres_mm[n_old:]).max() < 1e8:  # beyond 100 km squares lose the micrometre
        raise LayoutError("A cell would stand more than 100 km from the origin. Place it inside the housing.")
    for new in range(n_old, len(centres_mm)):
        distance_mm = np.hypot(*(centres_mm[:new] - centres_mm[new]).T)
        if len(distance_mm):
            nearest = int(distance_mm.argmin())
            overlap_mm = diameter_mm - float(distance_mm[nearest])
            if overlap_mm > TOUCHING_MM:
                raise CellsOverlapError(centres_mm[new].tolist(), nearest, overlap_mm)
