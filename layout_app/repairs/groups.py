"""Repairs of groups that are uneven, split, or out of touch."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout_app.checks.findings import Finding
from layout_app.edits import ChangeGrouping, PlaceCells
from layout_app.edits.repairs import MendGroups
from layout_app.model.cells import UNASSIGNED
from layout_app.model.layouts import Layout
from layout_app.repairs.cells import NEAR_PITCHES, free_sites_mm
from layout_app.repairs.offers import Offer


def mend(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Trade border cells, and take in cells without a group, where their number is right."""
    n_wanted, n_grouped = layout.n_series * layout.n_parallel, int(layout.group_sizes.sum())
    n_loose = int((layout.cells.groups == UNASSIGNED).sum())
    if not n_grouped <= n_wanted <= n_grouped + n_loose or not layout.group_sizes.all():
        return
    if finding.rule == "unassigned":
        if n_grouped < n_wanted:
            yield Offer("Put them into groups that lack cells", MendGroups("Assign cells to groups that lack some"))
    else:
        yield Offer("Trade border cells to even the groups out", MendGroups())


def place_lacking(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Place the cells a group lacks on free sites beside it, where the whole module lacks as many."""
    if not finding.cells or finding.measured is None:
        return
    group = int(layout.cells.groups[finding.cells[0]])
    n_lacking = layout.n_parallel - int(finding.measured)
    if not 0 < n_lacking <= layout.n_series * layout.n_parallel - int(layout.group_sizes.sum()):
        return
    places = _beside(layout, group, n_lacking)
    if len(places) == n_lacking:
        words = f"Place {n_lacking} cell{'s' if n_lacking > 1 else ''} beside group {group}"
        yield Offer(words, PlaceCells(tuple(places), group))


def form_anew(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Divide all cells again, if none is locked."""
    if len(layout.cells) >= layout.n_series * layout.n_parallel and not layout.cells.has_locks:
        yield Offer("Form all groups anew", ChangeGrouping())


def _beside(layout: Layout, group: int, n_wanted: int) -> list[tuple[float, float]]:
    """Return free sites, one after the other, that touch the group or a site taken before, with most touching first."""
    reach_mm = NEAR_PITCHES * layout.lattice.pitch_mm
    mates = layout.cells.centres_mm[layout.cells.of_group(group)]
    free, taken = free_sites_mm(layout), np.empty((0, 2))
    while len(taken) < n_wanted and len(free):
        apart_mm = np.hypot(*(free[:, None] - np.vstack([mates, taken])[None]).transpose(2, 0, 1))
        n_touching = (apart_mm <= reach_mm).sum(axis=1)
        best = int(n_touching.argmax())
        if not n_touching[best]:
            break
        taken = np.vstack([taken, free[best]])
        free = free[np.hypot(*(free - free[best]).T) >= layout.cell_type.diameter_mm]
    return [(x, y) for x, y in taken.tolist()]
