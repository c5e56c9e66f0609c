"""Edits of single cells: paint into a group, place, erase."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout_app.edits.locks import counted, free_cells, require_cells
from layout_app.edits.room import first_without_room
from layout_app.geometry.arrays import PointArray
from layout_app.model.cells import UNASSIGNED, Cells
from layout_app.model.errors import CellsOutOfRangeError, ValueOutOfRangeError
from layout_app.model.layouts import Layout


class CellsOverlapError(CellsOutOfRangeError):
    """A cell, new or moved, would stand where another one is."""

    def __init__(self, place_mm: Sequence[float], cell: int, overlap_mm: float, moved: int | None = None) -> None:
        which = "A cell" if moved is None else f"Cell {moved + 1}"
        verb = "Place" if moved is None else "Move"
        super().__init__(
            f"{which} at x {place_mm[0]:.2f}, y {place_mm[1]:.2f} mm would overlap cell {cell + 1} by "
            f"{overlap_mm:.2f} mm. {verb} it on a free site or erase that cell first.",
            (cell,) if moved is None else (moved, cell),
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
            return f"Take {counted(self.cells)} out of the groups"
        return f"Paint {counted(self.cells)} into group {self.group}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells in the group."""
        require_group(layout, self.group)
        chosen = require_cells(layout, self.cells)
        groups = layout.cells.groups.copy()
        others = chosen[groups[chosen] != self.group]
        if not len(others):
            return layout
        groups[free_cells(layout, others, "put into another group")] = self.group
        return replace(layout, cells=layout.cells.regrouped(groups))


@dataclass(frozen=True, slots=True)
class PlaceCells:
    """Add cells at the given places (mm, layout coordinates) to a group; they take the highest numbers."""

    places_mm: tuple[tuple[float, float], ...]
    group: int = UNASSIGNED

    @property
    def label(self) -> str:
        """E.g. "Place 2 cells"."""
        return f"Place {counted(self.places_mm)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the new cells; raise CellsOverlapError where there is no room."""
        require_group(layout, self.group)
        places = np.array(self.places_mm, dtype=np.float64).reshape(-1, 2)
        return with_new_cells(layout, places, [self.group] * len(places))


@dataclass(frozen=True, slots=True)
class EraseCells:
    """Take cells, given by index, out of the layout; the cells after them move up in number."""

    cells: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Erase 1 cell"."""
        return f"Erase {counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without those cells."""
        chosen = free_cells(layout, self.cells, "erased")
        if not len(chosen):
            return layout
        cells, stays = layout.cells, np.ones(len(layout.cells), dtype=np.bool_)
        stays[chosen] = False
        return replace(layout, cells=Cells(cells.centres_mm[stays], cells.groups[stays], cells.locked[stays]))


def with_new_cells(layout: Layout, places_mm: PointArray, groups: Sequence[int]) -> Layout:
    """Return the layout with further cells at (n, 2) places; raise CellsOverlapError where there is no room."""
    if not len(places_mm):
        return layout
    centres = np.vstack([layout.cells.centres_mm, places_mm])
    numbers = np.concatenate([layout.cells.groups, np.asarray(groups, dtype=np.int64)])
    locked = np.concatenate([layout.cells.locked, np.zeros(len(places_mm), dtype=np.bool_)])
    cells = Cells(centres, numbers, locked)
    _require_room(cells.centres_mm, len(layout.cells), layout.cell_type.diameter_mm)
    return replace(layout, cells=cells)


def require_group(layout: Layout, group: int) -> None:
    """Raise unless the group is 0 or one of the chain's."""
    if not UNASSIGNED <= group <= layout.n_series:
        raise ValueOutOfRangeError("group", group, f"0 (none) or a group from 1 to {layout.n_series}")


def _require_room(centres_mm: PointArray, n_old: int, diameter_mm: float) -> None:
    """Raise when a cell from index `n_old` on overlaps an earlier one."""
    clash = first_without_room(centres_mm, n_old, diameter_mm)
    if clash is not None:
        cell, other, overlap_mm = clash
        raise CellsOverlapError(centres_mm[cell].tolist(), other, overlap_mm)
