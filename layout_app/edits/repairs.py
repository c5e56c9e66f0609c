"""Edits that repair: groups evened out, cells put on free sites, a clearance changed with the cells left alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout_app.edits.locks import free_cells, require_cells
from layout_app.edits.moves import relocated
from layout_app.model.layouts import Layout


@dataclass(frozen=True, slots=True)
class MendGroups:
    """Give every group its number of cells, in one piece, by trading cells across borders."""

    label: str = "Even out the groups"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with its groups mended; raise LayoutError when trading leads nowhere."""
        from layout_app.planning.mending import mended_groups

        groups = mended_groups(layout)
        if np.array_equal(groups, layout.cells.groups):
            return layout
        return replace(layout, cells=layout.cells.regrouped(groups))


@dataclass(frozen=True, slots=True)
class PutCells:
    """Put cells, given by index, on places of their own (mm, layout coordinates)."""

    cells: tuple[int, ...]
    places_mm: tuple[tuple[float, float], ...]

    @property
    def label(self) -> str:
        """E.g. "Put 2 cells on free sites"."""
        n_cells = len(self.cells)
        return "Put 1 cell on a free site" if n_cells == 1 else f"Put {n_cells} cells on free sites"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells there; raise CellsOverlapError where there is no room."""
        chosen, places_mm = require_cells(layout, self.cells), np.array(self.places_mm).reshape(-1, 2)
        free = free_cells(layout, chosen, "moved")
        return relocated(layout, free, places_mm[~layout.cells.locked[chosen]])


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeClearance:
    """Change the clearance to wall or keep-outs that cells are held to, every cell left where it is."""

    wall_mm: float | None = None
    keep_out_mm: float | None = None

    @property
    def label(self) -> str:
        """E.g. "Change wall clearance"."""
        return "Change wall clearance" if self.keep_out_mm is None else "Change keep-out clearance"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout in a housing with those clearances."""
        housing = layout.housing
        changed = replace(
            housing,
            wall_clearance_mm=housing.wall_clearance_mm if self.wall_mm is None else self.wall_mm,
            keep_out_clearance_mm=housing.keep_out_clearance_mm if self.keep_out_mm is None else self.keep_out_mm,
        )
        return layout if changed == housing else replace(layout, housing=changed)
