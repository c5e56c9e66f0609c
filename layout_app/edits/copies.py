"""Copies: cells pasted at places of their own, and arrays of copies side by side. No copy is locked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout_app.edits.cells import require_group, with_new_cells
from layout_app.edits.locks import counted, require_cells
from layout_app.geometry.arrays import IntArray, PointArray, rotation
from layout_app.model.layouts import Layout
from layout_app.model.validation import MAX_CELLS, require_count, require_number


@dataclass(frozen=True, slots=True)
class Clip:
    """Cells lifted from a layout: places (mm) about the middle one of them, and groups."""

    offsets_mm: tuple[tuple[float, float], ...]
    groups: tuple[int, ...]

    @classmethod
    def of(cls, layout: Layout, cells: Sequence[int]) -> Clip:
        """Return the cells of a layout, given by index, as a clip; the cell nearest to their middle is at (0, 0)."""
        chosen = np.array(sorted(cells), dtype=np.int64)
        centres = layout.cells.centres_mm[chosen]
        if not len(chosen):
            return cls((), ())
        nearest = centres[np.hypot(*(centres - centres.mean(axis=0)).T).argmin()]
        offsets = tuple((float(x), float(y)) for x, y in (centres - nearest).tolist())
        return cls(offsets, tuple(layout.cells.groups[chosen].tolist()))

    def places_mm(self, at_mm: tuple[float, float]) -> PointArray:
        """(n, 2): where its cells stand when it is pasted at a point."""
        return np.array(self.offsets_mm, dtype=np.float64).reshape(-1, 2) + at_mm


@dataclass(frozen=True, slots=True)
class PasteCells:
    """Add the cells of a clip, its middle cell at a point; groups beyond the chain become unassigned."""

    clip: Clip
    at_mm: tuple[float, float]

    @property
    def label(self) -> str:
        """E.g. "Paste 3 cells"."""
        return f"Paste {counted(self.clip.groups)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the new cells; raise CellsOverlapError where there is no room."""
        groups = [group if group <= layout.n_series else 0 for group in self.clip.groups]
        return with_new_cells(layout, self.clip.places_mm(self.at_mm), groups)


@dataclass(frozen=True, slots=True)
class ArrayCells:
    """Add copies of cells, each shifted by the step from the one before; they join the same groups."""

    cells: tuple[int, ...]
    n_copies: int
    dx_mm: float
    dy_mm: float

    @property
    def label(self) -> str:
        """E.g. "Add 2 copies of 3 cells"."""
        return f"Add {self.n_copies} {'copy' if self.n_copies == 1 else 'copies'} of {counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the copies; raise CellsOverlapError where there is no room."""
        chosen = require_cells(layout, self.cells)
        require_count("number of copies", self.n_copies, least=1, most=1000)
        require_number("step in x", self.dx_mm)
        require_number("step in y", self.dy_mm)
        require_count("cells with the copies", len(layout.cells) + len(chosen) * self.n_copies, most=MAX_CELLS)
        step = np.array([self.dx_mm, self.dy_mm])
        centres, groups = layout.cells.centres_mm[chosen], layout.cells.groups[chosen]
        places = np.vstack([np.empty((0, 2)), *(centres + step * k for k in range(1, self.n_copies + 1))])
        return with_new_cells(layout, places, np.tile(groups, self.n_copies).tolist())


def step_along_rows_mm(layout: Layout, cells: IntArray) -> tuple[float, float]:
    """Return the least step along the rows, in whole sites, that takes a copy of the cells clear of them."""
    lattice = layout.lattice
    along = (layout.cells.centres_mm[cells] @ rotation(lattice.angle_rad))[:, 0]
    n_sites = math.floor(float(np.ptp(along)) / lattice.along_mm + 1e-6) + 1 if len(along) else 1
    dx, dy = (rotation(lattice.angle_rad) @ (n_sites * lattice.along_mm, 0.0)).tolist()
    return dx, dy


def in_group(layout: Layout, clip: Clip, group: int) -> Clip:
    """Return a clip with all its cells in one group of the layout."""
    require_group(layout, group)
    return replace(clip, groups=(group,) * len(clip.groups))
