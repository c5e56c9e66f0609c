"""Edits that lay the module out anew: lattice and clearances, groups and chain, cell type, housing.

They may take a second on a large module, so the window runs them in the background. None of them keeps a cell where it
is, so with a locked cell they are refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from layout_app.edits.locks import require_no_locks
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import LatticeKind
from layout_app.model.layouts import Chain, Layout
from layout_app.model.overrides import SegmentOverride

SAME_MM = 1e-9
SIDES_RAD = (math.pi, 0.0, math.pi / 2, -math.pi / 2)  # left, right, up, down


def gap_mm_of(layout: Layout) -> float:
    """Return the gap between the cans of neighbouring cells of the lattice, mm."""
    return layout.lattice.pitch_mm - layout.cell_type.diameter_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeFill:
    """Fill the housing again with another lattice, gap or clearances; None keeps what is. Groups are formed anew.

    With `lattice` None the kind of lattice stays, its place and angle are searched again.
    """

    lattice: LatticeKind | None = None
    gap_mm: float | None = None
    wall_clearance_mm: float | None = None
    keep_out_clearance_mm: float | None = None

    @property
    def label(self) -> str:
        """E.g. "Change cell gap"."""
        words = {
            "lattice": "lattice", "gap_mm": "cell gap", "wall_clearance_mm": "wall clearance",
            "keep_out_clearance_mm": "keep-out clearance",
        }  # fmt: skip
        return "Change " + " and ".join(word for field, word in words.items() if getattr(self, field) is not None)

    def apply(self, layout: Layout) -> Layout:
        """Return the layout filled again; raise LayoutError when S x P cells no longer fit."""
        clearances = {
            field: value
            for field in ("wall_clearance_mm", "keep_out_clearance_mm")
            if (value := getattr(self, field)) is not None
        }
        housing = replace(layout.housing, **clearances)
        gap_mm = gap_mm_of(layout) if self.gap_mm is None else self.gap_mm
        lattice = layout.lattice.kind if self.lattice is None else self.lattice
        is_same_gap = abs(gap_mm - gap_mm_of(layout)) < SAME_MM
        if housing == layout.housing and lattice == layout.lattice.kind and is_same_gap:
            return layout
        return laid_again(layout, housing=housing, gap_mm=gap_mm, lattice=lattice)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeGrouping:
    """Divide the cells into groups again: series, parallel, chain, the edge the chain starts from, which way up.

    `start_rad` is the direction, seen from the middle, in which group 1 lies. Turning only the first group the other
    way up keeps all groups. Another number of cells lays the housing out again.
    """

    n_series: int | None = None
    n_parallel: int | None = None
    chain: Chain | None = None
    start_rad: float | None = None
    first_group_up: bool | None = None

    @property
    def label(self) -> str:
        """E.g. "Change series and parallel"."""
        words = {
            "n_series": "series", "n_parallel": "parallel", "chain": "chain", "start_rad": "chain start",
            "first_group_up": "polarity",
        }  # fmt: skip
        named = [word for field, word in words.items() if getattr(self, field) is not None]
        return "Change " + " and ".join(named) if named else "Form groups anew"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with its cells grouped anew; raise LayoutError when no division exists."""
        wanted = {
            field: value
            for field in ("n_series", "n_parallel", "chain", "first_group_up")
            if (value := getattr(self, field)) is not None
        }
        changed = {field: value for field, value in wanted.items() if getattr(layout, field) != value}
        if changed.keys() <= {"first_group_up"} and self.start_rad is None and wanted:
            return replace(layout, **changed) if changed else layout
        n_cells = changed.get("n_series", layout.n_series) * changed.get("n_parallel", layout.n_parallel)
        if n_cells != layout.n_series * layout.n_parallel:
            return laid_again(layout, start_rad=self.start_rad, **changed)
        return _regrouped(layout, start_rad=self.start_rad, **changed)


@dataclass(frozen=True, slots=True)
class ChangeCellType:
    """Use another cell type. A cell as thick as before keeps its place; any other fills the housing again."""

    cell_type: CellType

    @property
    def label(self) -> str:
        """E.g. "Change cell type to 21700 energy"."""
        return f"Change cell type to {self.cell_type.name}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the other cell; raise LayoutError when S x P of them do not fit."""
        if self.cell_type == layout.cell_type:
            return layout
        old, new = layout.cell_type, self.cell_type
        if (old.diameter_mm, old.diameter_tolerance_mm) == (new.diameter_mm, new.diameter_tolerance_mm):
            return replace(layout, cell_type=new)
        return laid_again(layout, cell_type=new)


@dataclass(frozen=True, slots=True)
class SetHousing:
    """Put the module into another housing and fill it."""

    housing: Housing
    label: str = "Change housing"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout in that housing; raise LayoutError when S x P cells do not fit."""
        if self.housing == layout.housing:
            return layout
        negative, positive = (replace(terminal, near_mm=None, more_near_mm=()) for terminal in layout.terminals)
        return replace(laid_again(layout, housing=self.housing), terminals=(negative, positive))


def first_group_side_rad(layout: Layout) -> float | None:
    """Return the direction, of left, right, up and down, in which group 1 lies from the middle of all cells, or None.

    None where there is no such direction: a single group, no cells in it, or a group around the middle.
    """
    first = layout.cells.centres_mm[layout.cells.of_group(1)]
    if not len(first) or layout.n_series < 2:
        return None
    dx, dy = (first.mean(axis=0) - layout.cells.centres_mm.mean(axis=0)).tolist()
    if math.hypot(dx, dy) < SAME_MM:
        return None
    angle = math.atan2(dy, dx)
    return min(SIDES_RAD, key=lambda side: abs(math.remainder(angle - side, 2 * math.pi)))


def laid_again(layout: Layout, **changes: Any) -> Layout:
    """Return the layout laid out anew with other settings, its brief, plates, terminals, limits and notes kept.

    Kind and direction of the rows and the side of group 1 stay too, as far as the cells then fit, unless changed.
    """
    require_no_locks(layout, "filling the housing again places every cell anew")
    wishes = {field: value for field, value in changes.items() if value is not None}
    start_rad, gap_mm = wishes.pop("start_rad", None), wishes.pop("gap_mm", gap_mm_of(layout))
    kind = wishes.pop("lattice", layout.lattice.kind)
    overrides = _overrides_within(layout, wishes.get("n_series", layout.n_series))
    wanted = replace(layout, cells=Cells(np.empty((0, 2))), overrides=overrides, **wishes)
    return _from_the_same_side(layout, start_rad, _layer(wanted, kind, gap_mm))


def _layer(wanted: Layout, kind: LatticeKind, gap_mm: float) -> Callable[[float | None], Layout]:
    """Return what lays cells into a layout that has none, given where the chain starts."""
    from layout_app.planning.filling import arrangements  # scipy and shapely: only when something is laid out
    from layout_app.planning.laying import lay, lay_into

    for angles_rad in ((wanted.lattice.angle_rad,), None):
        found = arrangements(wanted.housing, wanted.cell_type, gap_mm=gap_mm, kinds=(kind,), angles_rad=angles_rad)
        fitting = [a for a in found if a.lattice.kind == kind and len(a) >= wanted.n_series * wanted.n_parallel]
        if fitting:
            return lambda start_rad: lay_into(wanted, fitting, start_rad=start_rad)

    def lay_otherwise(start_rad: float | None) -> Layout:
        fresh = lay(
            wanted.housing, wanted.cell_type, n_series=wanted.n_series, n_parallel=wanted.n_parallel, gap_mm=gap_mm,
            lattice=kind, chain=wanted.chain, start_rad=start_rad, plates=wanted.plates,
        )  # fmt: skip
        return replace(wanted, lattice=fresh.lattice, cells=fresh.cells)

    return lay_otherwise


def _regrouped(layout: Layout, start_rad: float | None, **changes: Any) -> Layout:
    from layout_app.planning.laying import regroup

    require_no_locks(
        layout, "all groups would be formed anew. “Divide anew” of chosen groups leaves locked cells alone"
    )
    nowhere = Cells(layout.cells.centres_mm)  # old groups may lie beyond the new chain
    overrides = _overrides_within(layout, changes.get("n_series", layout.n_series))
    bare = replace(layout, cells=nowhere, overrides=overrides, **changes)
    return _from_the_same_side(layout, start_rad, lambda start: regroup(bare, start_rad=start))


def _from_the_same_side(before: Layout, start_rad: float | None, laid_from: Callable[[float | None], Layout]) -> Layout:
    """Return what is laid from the side asked for; with none asked for, from where group 1 lay before."""
    after, side_rad = laid_from(start_rad), first_group_side_rad(before)
    if start_rad is not None or side_rad is None or first_group_side_rad(after) == side_rad:
        return after
    return laid_from(side_rad)


def _overrides_within(layout: Layout, n_series: int) -> tuple[SegmentOverride, ...]:
    """Return the overrides if the chain keeps its length: with another, segment k is another piece of metal."""
    return layout.overrides if n_series == layout.n_series else ()
