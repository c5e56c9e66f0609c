"""Holding: groups formed anew around cells that must keep theirs."""

from __future__ import annotations

from collections import deque

import numpy as np

from layout_app.geometry.arrays import IntArray
from layout_app.planning.balancing import release, take_way
from layout_app.planning.evening import evened
from layout_app.planning.links import Links
from layout_app.planning.trades import Trade


def formed_around(links: Links, groups: IntArray, held: IntArray, n_groups: int) -> IntArray:
    """Return (n,) groups 1…n_groups in which every held cell is where it must be, and the others near where they were.

    Pieces cut off from their group go to the groups around them; a held cell that lies apart is reached by a string of
    cells. Counts are then evened as far as trades can do it.

    Parameters
    ----------
    groups : (n,) a division that knows nothing of held cells
    held : (n,) the group a cell must be in, 0 for one that may be in any
    """
    fixed = held > 0
    trade = Trade(links, np.where(fixed, held, groups), n_groups, fixed)
    release(trade, _cut_off(links, trade))
    for group in range(1, n_groups + 1):
        while _reach(links, trade, group):
            pass
    reached = np.array(trade.groups, dtype=np.int64)
    return evened(links, reached, n_groups, np.arange(1, n_groups + 1), fixed)


def n_pieces(links: Links, groups: IntArray, group: int) -> int:
    """Return in how many pieces a group is."""
    return len(np.unique(links.pieces(groups)[groups == group]))


def _cut_off(links: Links, trade: Trade) -> IntArray:
    """Return the cells, not fixed, of pieces without a fixed cell, where their group has another piece; ascending."""
    groups = np.array(trade.groups)
    pieces = links.pieces(groups)
    is_anchored = np.isin(pieces, pieces[sorted(trade.fixed)])
    size = np.bincount(pieces)[pieces] + is_anchored * len(groups)  # a piece with a fixed cell stays before larger ones
    order = np.lexsort((pieces, -size, groups))
    main = pieces[order[np.unique(groups[order], return_index=True)[1]]]
    return np.flatnonzero(~np.isin(pieces, main) & ~is_anchored)


def _reach(links: Links, trade: Trade, group: int) -> bool:
    """Join the smallest piece of a group to another by the shortest string of cells; return whether that was done."""
    pieces = links.pieces(np.array(trade.groups))
    members = sorted(trade.members[group])
    sizes = np.bincount(pieces[members])
    if np.count_nonzero(sizes) < 2:
        return False
    smallest = int(np.flatnonzero(sizes == sizes[sizes > 0].min())[0])
    came = {cell: -1 for cell in members if pieces[cell] == smallest}
    queue = deque(came)
    while queue:
        cell = queue.popleft()
        for other in trade.around[cell]:
            if other in came:
                continue
            if trade.groups[other] == group:
                n_before = len(trade.members[group])
                take_way(trade, cell, came, group)
                return len(trade.members[group]) > n_before
            if trade.can_leave(other):
                came[other] = cell
                queue.append(other)
    return False
