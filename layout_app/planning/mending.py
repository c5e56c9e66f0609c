"""Mending: groups made even and whole again by trading cells across borders, the rest of the division kept."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.model.cells import UNASSIGNED
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.planning.balancing import Effort, balanced
from layout_app.planning.evening import EFFORT, evened, links_of
from layout_app.planning.grouping import defects
from layout_app.planning.links import Links


def mended_groups(layout: Layout) -> IntArray:
    """Return (n,) groups with P cells each, in one piece and touching the next, changed as little as was found to do.

    Cells in no group first join groups beside them that lack some; then cells are passed on across borders. Locked
    cells stay as they are.

    Raises
    ------
    LayoutError : the cells do not make S × P, or trading leads nowhere; says what to do instead
    """
    links = links_of(layout)
    fixed = layout.cells.locked
    groups = _joined(links, layout.cells.groups, fixed, layout.n_series, layout.n_parallel)
    n_cells, n_wanted = int((groups > 0).sum()), layout.n_series * layout.n_parallel
    if n_cells != n_wanted:
        few = n_cells < n_wanted
        raise LayoutError(
            f"{n_cells} cells are in groups, {layout.n_series} × {layout.n_parallel} = {n_wanted} are wanted. "
            f"{'Place' if few else 'Erase'} {abs(n_wanted - n_cells)} cells or choose another number in parallel."
        )
    shape = layout.n_series, layout.n_parallel
    traded = evened(links, groups, layout.n_series, np.arange(1, layout.n_series + 1), fixed)
    moved = balanced(links, groups, *shape, Effort(EFFORT), fixed)  # this also moves pieces that strayed
    left, _, mended = min(
        ((defects(links, new, *shape), int((new != layout.cells.groups).sum()), new) for new in (traded, moved)),
        key=lambda attempt: (len(attempt[0]), attempt[1]),
    )
    if left and len(left) >= len(defects(links, layout.cells.groups, *shape)):
        raise LayoutError(f"Trading border cells does not mend the groups: {left[0]} Form the groups anew instead.")
    return mended


def _joined(links: Links, groups: IntArray, fixed: BoolArray, n_series: int, n_parallel: int) -> IntArray:
    """Return groups after cells in none have joined, as many as are lacking, the group beside them that lacks most."""
    groups = groups.copy()
    sizes = np.bincount(groups, minlength=n_series + 1)
    loose = set(np.flatnonzero((groups == UNASSIGNED) & ~fixed).tolist())
    n_lacking = n_series * n_parallel - int(sizes[1:].sum())
    while n_lacking > 0:
        offers = [
            (n_parallel - int(sizes[g]), -cell, -g) for cell in loose for g in _groups_beside(links, groups, cell)
        ]
        if not offers:
            break
        _, cell, group = max(offers)
        groups[-cell], n_lacking = -group, n_lacking - 1
        sizes[-group] += 1
        loose.discard(-cell)
    return groups


def _groups_beside(links: Links, groups: IntArray, cell: int) -> set[int]:
    return {int(groups[other]) for other in links.around[cell]} - {UNASSIGNED}
