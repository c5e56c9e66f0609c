"""Trades: groups in the making, whose cells change hands one by one."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.planning.links import Links

APART = 3.0  # what a border between groups that do not follow one another costs, beside 1 between those that do


class Trade:
    """Groups, who belongs to them and which of them touch, kept up to date while cells change hands.

    `fixed`, (n,), says which cells never leave their group; None: all may.

    Attributes
    ----------
    groups : the group of every cell, 0 for one that belongs to none
    members : the cells of every group, from group 0 on
    touching : for every group the groups beside it and by how many pairs of cells they touch; group 0 touches none
    """

    def __init__(self, links: Links, groups: IntArray, n_series: int, fixed: BoolArray | None = None) -> None:
        self.around = links.around
        self.fixed = frozenset() if fixed is None else frozenset(np.flatnonzero(fixed).tolist())
        self.n_series = n_series
        self.groups: list[int] = groups.tolist()
        order, ends = np.argsort(groups, kind="stable"), np.cumsum(np.bincount(groups, minlength=n_series + 1))
        self.members: list[set[int]] = [set(part.tolist()) for part in np.split(order, ends[:-1])]
        self.touching: list[dict[int, int]] = [{} for _ in range(n_series + 1)]
        here, there = groups[links.pairs].T
        differ = (here != there) & (here > 0) & (there > 0)
        borders, counts = np.unique(np.stack([here[differ], there[differ]], axis=1), axis=0, return_counts=True)
        for (a, b), n in zip(borders.tolist(), counts.tolist(), strict=True):
            self._count(a, b, n)

    def _count(self, a: int, b: int, by: int) -> None:
        if a == b or not (a and b):
            return
        n = self.touching[a].get(b, 0) + by
        if n:
            self.touching[a][b] = self.touching[b][a] = n
        else:
            self.touching[a].pop(b, None)
            self.touching[b].pop(a, None)

    def move(self, cell: int, to: int) -> None:
        """Give a cell to a group."""
        was = self.groups[cell]
        for other in self.around[cell]:
            self._count(was, self.groups[other], -1)
            self._count(to, self.groups[other], 1)
        self.members[was].discard(cell)
        self.members[to].add(cell)
        self.groups[cell] = to

    def border_cost_rise(self, cell: int, to: int) -> float:
        """Return by how much the cost of all borders would rise if the cell went to a group."""
        was = self.groups[cell]
        rise = 0.0
        for other in self.around[cell]:
            group = self.groups[other]
            if group:
                rise += _border_cost(to - group) - _border_cost(was - group)
        return rise

    def leaves_neatly(self, cell: int) -> bool:
        """Return whether those of its group around the cell are connected among themselves: enough to let it go."""
        group = self.groups[cell]
        own = [o for o in self.around[cell] if self.groups[o] == group]
        loose, front = own[1:], own[:1]
        while front and loose:
            beside = self.around[front.pop()]
            front += [o for o in loose if o in beside]
            loose = [o for o in loose if o not in beside]
        return bool(own) and not loose

    def can_leave(self, cell: int) -> bool:
        """Return whether the cell may leave, and its group stays in one piece, and not empty, without it."""
        if cell in self.fixed:
            return False
        if self.leaves_neatly(cell):
            return True
        group = self.groups[cell]
        own = [o for o in self.around[cell] if self.groups[o] == group]
        if not own:
            return False
        wanted, seen, stack = set(own[1:]), {cell, own[0]}, [own[0]]
        while stack and wanted:
            for o in self.around[stack.pop()]:
                if self.groups[o] == group and o not in seen:
                    seen.add(o)
                    wanted.discard(o)
                    stack.append(o)
        return not wanted

    def keeps_steps(self, cell: int, to: int) -> bool:
        """Return whether groups that follow one another and touch still touch when the cell has gone to `to`."""
        was = self.groups[cell]
        for other in (was - 1, was + 1):
            now = self.touching[was].get(other, 0) if 0 < other <= self.n_series else 0
            if not now:
                continue
            lost = sum(self.groups[o] == other for o in self.around[cell])
            won = sum(self.groups[o] == was for o in self.around[cell]) if other == to else 0
            if now - lost + won <= 0:
                return False
        return True


def _border_cost(apart: int) -> float:
    apart = abs(apart)
    return APART if apart > 1 else float(apart)
