"""Cells: each stands alone, inside the housing, clear of the keep-outs, and belongs to a group."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout_app.checks.findings import Finding, Severity, at, named, places
from layout_app.checks.nearby import close_pairs
from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.geometry.distances import signed_distances_mm
from layout_app.model.cells import UNASSIGNED
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits

ROUNDING_MM = 1e-3  # a saved file may round coordinates; nobody places a can more finely
SAME_PLACE = 0.01  # of the diameter: two cells that near are one drawn twice, not two that overlap


def same_place(layout: Layout) -> Iterator[Finding]:
    """No two cells may stand at one place."""
    within_mm = SAME_PLACE * layout.cell_type.diameter_mm
    pairs, apart_mm = close_pairs(layout.cells.centres_mm, within_mm)
    if len(pairs):
        yield _pair_finding(
            layout,
            pairs,
            rule="same place",
            severity="error",
            message=f"{_pairs_text(pairs)} at one place, {at(layout.cells.centres_mm[pairs[0, 0]])}. "
            "Erase all but one of them.",
            measured=float(apart_mm[0]),
            limit=layout.cell_type.diameter_mm,
            source="two cans cannot stand in one another",
        )


def overlap(layout: Layout) -> Iterator[Finding]:
    """Cans must not overlap."""
    diameter_mm = layout.cell_type.diameter_mm
    pairs, apart_mm = close_pairs(layout.cells.centres_mm, diameter_mm - ROUNDING_MM)
    apart = apart_mm >= SAME_PLACE * diameter_mm
    pairs, apart_mm = pairs[apart], apart_mm[apart]
    if len(pairs):
        yield _pair_finding(
            layout,
            pairs,
            rule="overlap",
            severity="error",
            message=f"{_pairs_text(pairs)} too near: their middles are {apart_mm[0]:.2f} mm apart, cans of "
            f"{diameter_mm:.2f} mm overlap by {diameter_mm - apart_mm[0]:.2f} mm. Move or erase one of them.",
            measured=float(apart_mm[0]),
            limit=diameter_mm,
            source="two cans cannot stand in one another",
        )


def cell_gap(layout: Layout) -> Iterator[Finding]:
    """Cans at the upper end of their tolerance must not touch; a small gap is worth a note."""
    cell, limit_mm = layout.cell_type, layout.limits.cell_gap_mm
    tolerance_mm = cell.diameter_tolerance_mm  # two cans, each half of it nearer
    pairs, apart_mm = close_pairs(layout.cells.centres_mm, cell.diameter_mm + max(limit_mm, tolerance_mm) - ROUNDING_MM)
    apart = apart_mm >= cell.diameter_mm - ROUNDING_MM
    pairs, gap_mm = pairs[apart], apart_mm[apart] - cell.diameter_mm
    if not len(pairs):
        return
    touch = gap_mm[0] < tolerance_mm - ROUNDING_MM
    least_mm = tolerance_mm if touch else limit_mm
    close = pairs[gap_mm < least_mm - ROUNDING_MM]
    why = (
        f"cans at the upper end of their tolerance (+{tolerance_mm:g} mm) do not fit. Make the gap larger"
        if touch
        else f"{limit_mm:g} mm is common. Practice is divided: judge by holder, cooling and insulation"
    )
    yield _pair_finding(
        layout,
        close,
        rule="cell gap",
        severity="warning" if touch else "note",
        message=f"{_pairs_text(close)} {max(gap_mm[0], 0.0):.2f} mm apart, can to can; {why}.",
        measured=float(gap_mm[0]),
        limit=least_mm,
        source=f"cell type {cell.id}, tolerance" if touch else Limits.SOURCES["cell_gap_mm"],
    )


def wall(layout: Layout) -> Iterator[Finding]:
    """Cans must keep the wall clearance."""
    housing, centres = layout.housing, layout.cells.centres_mm
    free_mm = signed_distances_mm(housing.outline, centres) - layout.cell_type.diameter_mm / 2
    yield from _clearance(layout, "wall", free_mm, housing.wall_clearance_mm, "the housing's wall")


def keep_out(layout: Layout) -> Iterator[Finding]:
    """Cans must keep the clearance to every keep-out."""
    housing, centres = layout.housing, layout.cells.centres_mm
    if not housing.keep_outs or not len(centres):
        return
    away_mm = np.min([-signed_distances_mm(loop, centres) for loop in housing.keep_outs], axis=0)
    free_mm = away_mm - layout.cell_type.diameter_mm / 2
    yield from _clearance(layout, "keep-out", free_mm, housing.keep_out_clearance_mm, "a keep-out")


def unassigned(layout: Layout) -> Iterator[Finding]:
    """Every cell should belong to a group."""
    loose = np.flatnonzero(layout.cells.groups == UNASSIGNED)
    if len(loose):
        verb = "belongs" if len(loose) == 1 else "belong"
        yield Finding(
            rule="unassigned",
            severity="warning",
            message=f"{named(loose.tolist()).capitalize()} {verb} to no group and will not be connected. "
            "Paint a group over the place or erase what stands there.",
            measured=float(len(loose)),
            limit=0.0,
            unit="cells",
            places_mm=places(layout.cells.centres_mm[loose]),
            cells=tuple(loose.tolist()),
            source="definition",
        )


def _pairs_text(pairs: IntArray) -> str:
    one, other = pairs[0] + 1
    whom = f"Cells {one} and {other}" if len(pairs) == 1 else f"{len(pairs)} pairs of cells, worst {one} and {other},"
    return f"{whom} stand"


def _pair_finding(
    layout: Layout,
    pairs: IntArray,
    *,
    rule: str,
    severity: Severity,
    message: str,
    measured: float,
    limit: float,
    source: str,
) -> Finding:
    """Return a finding about pairs of cells, its places in the middle between them."""
    return Finding(
        rule=rule,
        severity=severity,
        message=message,
        measured=measured,
        limit=limit,
        unit="mm",
        places_mm=places(layout.cells.centres_mm[pairs].mean(axis=1)),
        cells=tuple(np.unique(pairs).tolist()),
        source=source,
    )


def _clearance(layout: Layout, rule: str, free_mm: FloatArray, limit_mm: float, what: str) -> Iterator[Finding]:
    """Yield a finding when cans are nearer to `what` than the limit; `free_mm` is (n,), negative where they cross."""
    near = np.flatnonzero(free_mm < limit_mm - ROUNDING_MM)
    if not len(near):
        return
    near = near[np.argsort(free_mm[near], kind="stable")]
    worst, measured = int(near[0]), float(free_mm[near[0]])
    how = f"stands {measured:.2f} mm from" if measured >= 0 else f"reaches {-measured:.2f} mm into or past"
    more = f" ({len(near) - 1} more too near)" if len(near) > 1 else ""
    yield Finding(
        rule=rule,
        severity="error",
        message=f"Cell {worst + 1} {how} {what}{more}; the clearance is {limit_mm:.2f} mm. Move or erase it, or make "
        "the clearance smaller.",
        measured=measured,
        limit=limit_mm,
        unit="mm",
        places_mm=places(layout.cells.centres_mm[near]),
        cells=tuple(near.tolist()),
        source="clearance chosen for this housing",
    )
