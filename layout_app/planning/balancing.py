"""Balancing: from a rough cut to groups of exactly P cells, each in one piece, by trading cells across borders."""

from __future__ import annotations

from collections import Counter, deque
from itertools import pairwise

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.planning.links import Links
from layout_app.planning.trades import Trade

MOST_FAILED = 60  # ways in a row that lead nowhere before levelling is given up
FEW = 8  # candidates looked at closely before a border counts as one no cell can cross


class Effort:
    """How many cells and groups may still be looked at. It bounds the time spent, the same on every machine."""

    def __init__(self, left: int) -> None:
        self.left = left


def cut(order: IntArray, n_parallel: int, n_cells: int) -> IntArray:
    """Return (n_cells,) groups: runs of P along the order are 1, 2, …; cells not in the order 0."""
    groups = np.zeros(n_cells, dtype=np.int64)
    groups[order] = np.arange(len(order)) // n_parallel + 1
    return groups


def balanced(
    links: Links, groups: IntArray, n_series: int, n_parallel: int, effort: Effort, fixed: BoolArray | None = None
) -> IntArray:
    """Return groups mended: strayed pieces go to the groups they touch, then cells are passed on until all have P.

    Groups that do not touch the next are brought together likewise. Cells in group 0 stay out, `fixed` ones
    where they are. Where all that fails, or the effort runs out, the groups are returned as they were: with P cells
    each, in pieces.
    """
    trade = Trade(links, groups, n_series, fixed)
    release(trade, _strays(groups, links.pieces(groups)))
    level(trade, n_parallel, effort)
    mended = _groups_if_even(trade, n_parallel)
    if mended is None:
        return groups
    for group in range(1, n_series):
        if group + 1 not in trade.touching[group]:
            _rejoin(trade, group, effort)
    level(trade, n_parallel, effort)
    rejoined = _groups_if_even(trade, n_parallel)
    return mended if rejoined is None else rejoined


def _strays(groups: IntArray, pieces: IntArray) -> IntArray:
    """Return the cells not in the largest piece of their group, ascending."""
    size = np.bincount(pieces)[pieces]
    order = np.lexsort((pieces, -size, groups))
    first = np.unique(groups[order], return_index=True)[1]
    main = pieces[order[first]]
    return np.flatnonzero((groups > 0) & ~np.isin(pieces, main))


def _groups_if_even(trade: Trade, n_parallel: int) -> IntArray | None:
    """Return (n,) the groups when each has P cells, else None."""
    if any(len(members) != n_parallel for members in trade.members[1:]):
        return None
    return np.array(trade.groups, dtype=np.int64)


def release(trade: Trade, strays: IntArray) -> None:
    """Give each strayed cell to the group beside it that is nearest its own in the chain, from the rim inward."""
    was = {cell: trade.groups[cell] for cell in strays.tolist() if cell not in trade.fixed}
    for cell in was:
        trade.move(cell, 0)
    left = list(was)
    while left:
        takers = {cell: _taker(trade, cell, was[cell]) for cell in left}
        if not any(takers.values()):
            break
        for cell, group in takers.items():
            trade.move(cell, group)
        left = [cell for cell in left if not takers[cell]]
    for cell in left:
        trade.move(cell, was[cell])


def _taker(trade: Trade, cell: int, own: int) -> int:
    """Return the group beside a cell that is nearest its own, 0 if none is there."""
    beside = Counter(group for group in (trade.groups[o] for o in trade.around[cell]) if group)
    return min(beside, key=lambda group: (abs(group - own), -beside[group], group), default=0)


def level(trade: Trade, n_parallel: int, effort: Effort, traders: frozenset[int] | None = None) -> None:
    """Pass cells from groups with more than P to groups with fewer, each by the shortest way through others.

    Only `traders` take part; None: all groups.
    """
    allowed = frozenset(range(1, trade.n_series + 1)) if traders is None else traders
    blocked: set[tuple[int, int]] = set()
    n_failed = 0
    while n_failed < MOST_FAILED:
        way = _way(trade, n_parallel, blocked, effort, allowed)
        n_failed += 1
        for a, b in pairwise(way):
            cell = _passable(trade, a, b, effort)
            if cell is None:
                blocked.add((a, b))
                break
            trade.move(cell, b)
            blocked = {border for border in blocked if a not in border and b not in border}
        else:
            n_failed = 0
        if not way or effort.left <= 0:
            return


def _way(
    trade: Trade, n_parallel: int, blocked: set[tuple[int, int]], effort: Effort, allowed: frozenset[int]
) -> list[int]:
    """Return groups from one with cells to spare to the nearest that lacks some, each touching the next."""
    for source in sorted(allowed):
        if len(trade.members[source]) <= n_parallel:
            continue
        came, queue = {source: 0}, deque([source])
        while queue:
            a = queue.popleft()
            if len(trade.members[a]) < n_parallel:
                return _traced(came, a)
            effort.left -= 1
            for _, b in sorted((abs(group - a), group) for group in trade.touching[a]):
                if b in allowed and b not in came and (a, b) not in blocked:
                    came[b] = a
                    queue.append(b)
    return []


def _traced(came: dict[int, int], end: int) -> list[int]:
    """Return the way to `end`, given where each group was come to from; 0 marks the source."""
    way = [end]
    while came[way[-1]]:
        way.append(came[way[-1]])
    return way[::-1]


def _passable(trade: Trade, a: int, b: int, effort: Effort) -> int | None:
    """Return the cell of group `a` it is best to pass to `b`, or None when none can go."""
    effort.left -= len(trade.members[a])
    free = trade.members[a] - trade.fixed
    beside = [cell for cell in free if any(trade.groups[o] == b for o in trade.around[cell])]
    beside = [cell for _, cell in sorted((trade.border_cost_rise(cell, b), cell) for cell in beside)]
    for cell in beside:
        if trade.leaves_neatly(cell) and trade.keeps_steps(cell, b):
            return cell
    for cell in beside[:FEW]:
        if trade.can_leave(cell) and trade.keeps_steps(cell, b):
            return cell
    return None


def _rejoin(trade: Trade, group: int, effort: Effort) -> None:
    """Bring a group into touch with the next by giving it the cells of the shortest way there."""
    came: dict[int, int] = dict.fromkeys(sorted(trade.members[group]), -1)
    queue = deque(came)
    while queue and effort.left > 0:
        cell = queue.popleft()
        effort.left -= 1
        for other in trade.around[cell]:
            if other in came or not trade.groups[other]:
                continue
            if trade.groups[other] == group + 1:
                take_way(trade, cell, came, group)
                return
            if trade.can_leave(other):
                came[other] = cell
                queue.append(other)


def take_way(trade: Trade, cell: int, came: dict[int, int], group: int) -> None:
    """Give a group the cells on the way to `cell`, given where each was come to from; −1 marks a start."""
    way = []
    while came[cell] >= 0:
        way.append(cell)
        cell = came[cell]
    for cell in reversed(way):
        if trade.can_leave(cell):
            trade.move(cell, group)
