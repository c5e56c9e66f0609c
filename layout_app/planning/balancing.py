"""Balancing: from a rough cut to groups of exactly P cells, each in one piece, by trading cells across borders."""

from __future__ import annotations

import itertools
from collections import Counter, deque

import numpy as np

from layout_app.geometry.arrays import IntArray
from layout_app.planning.links import Links

APART = 3.0  # what a border between groups that do not follow one another costs, beside 1 between those that do
MOVES_PER_STRAY = 20  # balancing gives up after this many moves, and in any case after MOST_MOVES
MOST_MOVES = 1000
MOST_FAILED = 60  # in a row
FEW = 8  # candidates looked at closely before a border counts as one no cell can cross


def cut(order: IntArray, n_parallel: int, n_cells: int) -> IntArray:
    """Return (n_cells,) groups: runs of P along the order are 1, 2, …; cells not in the order 0."""
    groups = np.zeros(n_cells, dtype=np.int64)
    groups[order] = np.arange(len(order)) // n_parallel + 1
    return groups


def balanced(links: Links, groups: IntArray, n_series: int, n_parallel: int) -> IntArray:
    """Return groups mended: strayed pieces go to the groups they touch, then cells are passed on until all have P.

    Cells in group 0 stay out. Where that fails the groups are returned as they were: with P cells each, in pieces.
    """
    trade = Trade(links, groups, n_series)
    strays = _strays(groups, links.pieces(groups))
    most_moves = min(MOST_MOVES, 50 + MOVES_PER_STRAY * len(strays))
    trade.release(strays)
    trade.level(n_parallel, most_moves)
    mended = trade.groups_if_even(n_parallel)
    if mended is None:
        return groups
    for group in trade.open_steps():
        trade.rejoin(group)
    trade.level(n_parallel, most_moves)
    rejoined = trade.groups_if_even(n_parallel)
    return mended if rejoined is None else rejoined


def _strays(groups: IntArray, pieces: IntArray) -> IntArray:
    """Return the cells not in the largest piece of their group, ascending."""
    size = np.bincount(pieces)[pieces]
    order = np.lexsort((pieces, -size, groups))
    first = np.unique(groups[order], return_index=True)[1]
    main = pieces[order[first]]
    return np.flatnonzero((groups > 0) & ~np.isin(pieces, main))


class Trade:
    """Groups in the making: cells change hands one by one, and no group that is in one piece is ever torn."""

    def __init__(self, links: Links, groups: IntArray, n_series: int) -> None:
        self.around = links.around
        self.n_series = n_series
        self.groups: list[int] = groups.tolist()
        self.members: list[set[int]] = [set() for _ in range(n_series + 1)]
        for cell, group in enumerate(self.groups):
            self.members[group].add(cell)
        self.touching: Counter[tuple[int, int]] = Counter()
        for i, j in links.pairs.tolist():
            self._count(self.groups[i], self.groups[j], 1)

    def _count(self, a: int, b: int, by: int) -> None:
        if a != b:
            self.touching[(a, b) if a < b else (b, a)] += by

    def move(self, cell: int, to: int) -> None:
        """Give a cell to a group."""
        was = self.groups[cell]
        for other in self.around[cell]:
            self._count(was, self.groups[other], -1)
            self._count(to, self.groups[other], 1)
        self.members[was].discard(cell)
        self.members[to].add(cell)
        self.groups[cell] = to

    def release(self, strays: IntArray) -> None:
        """Give each strayed cell to the group beside it that is nearest its own in the chain, from the rim inward."""
        was = {cell: self.groups[cell] for cell in strays.tolist()}
        for cell in was:
            self.move(cell, 0)
        left = list(was)
        while left:
            touching = []
            for cell in left:
                beside = Counter(g for g in (self.groups[o] for o in self.around[cell]) if g)
                if beside:
                    own = was[cell]
                    touching.append((cell, min(beside, key=lambda g: (abs(g - own), -beside[g], g))))
            if not touching:
                break
            for cell, group in touching:
                self.move(cell, group)
            taken = {cell for cell, _ in touching}
            left = [cell for cell in left if cell not in taken]
        for cell in left:
            self.move(cell, was[cell])

    def level(self, n_parallel: int, most_moves: int) -> None:
        """Pass cells from groups with more than P to groups with fewer, each by the shortest way through others."""
        blocked: set[tuple[int, int]] = set()
        n_failed = 0
        while most_moves > 0 and n_failed < MOST_FAILED:
            way = self._way(n_parallel, blocked)
            if way is None:
                return
            most_moves -= 1
            n_failed += 1
            for a, b in itertools.pairwise(way):
                cell = self._passable(a, b)
                if cell is None:
                    blocked.add((a, b))
                    break
                self.move(cell, b)
                blocked.difference_update([(g, h) for g, h in blocked if a in (g, h) or b in (g, h)])
            else:
                n_failed = 0

    def groups_if_even(self, n_parallel: int) -> IntArray | None:
        """Return (n,) the groups when each has P cells, else None."""
        if any(len(members) != n_parallel for members in self.members[1:]):
            return None
        return np.array(self.groups, dtype=np.int64)

    def open_steps(self) -> list[int]:
        """Return the groups that do not touch the next one."""
        return [k for k in range(1, self.n_series) if self.touching[k, k + 1] <= 0]

    def rejoin(self, group: int) -> None:
        """Bring a group into touch with the next by giving it the cells of the shortest way there."""
        came: dict[int, int] = dict.fromkeys(sorted(self.members[group]), -1)
        queue = deque(came)
        while queue:
            cell = queue.popleft()
            for other in self.around[cell]:
                if other in came or not self.groups[other]:
                    continue
                if self.groups[other] == group + 1:
                    return self._take_way(cell, came, group)
                if self.can_leave(other):
                    came[other] = cell
                    queue.append(other)
        return None

    def _take_way(self, cell: int, came: dict[int, int], group: int) -> None:
        way = []
        while came[cell] >= 0:
            way.append(cell)
            cell = came[cell]
        for cell in reversed(way):
            if self.can_leave(cell):
                self.move(cell, group)

    def _way(self, n_parallel: int, blocked: set[tuple[int, int]]) -> list[int] | None:
        """Return groups from one with cells to spare to the nearest that lacks some, each touching the next."""
        beside: dict[int, list[int]] = {}
        for (a, b), n in self.touching.items():
            if n > 0 and a > 0:
                beside.setdefault(a, []).append(b)
                beside.setdefault(b, []).append(a)
        for source in range(1, self.n_series + 1):
            if len(self.members[source]) <= n_parallel:
                continue
            came: dict[int, int] = {source: 0}
            queue = deque([source])
            while queue:
                a = queue.popleft()
                if len(self.members[a]) < n_parallel:
                    way = [a]
                    while came[way[-1]]:
                        way.append(came[way[-1]])
                    return way[::-1]
                for b in sorted(beside.get(a, ()), key=lambda g: (abs(g - a), g)):
                    if b not in came and (a, b) not in blocked:
                        came[b] = a
                        queue.append(b)
        return None

    def _passable(self, a: int, b: int) -> int | None:
        """Return the cell of group `a` it is best to pass to `b`, or None when none can go."""
        beside = [cell for cell in self.members[a] if any(self.groups[o] == b for o in self.around[cell])]
        beside = [cell for _, cell in sorted((self._cost(cell, b), cell) for cell in beside)]
        for cell in beside:
            if self._leaves_neatly(cell) and self._keeps_steps(cell, b):
                return cell
        for cell in beside[:FEW]:
            if self.can_leave(cell) and self._keeps_steps(cell, b):
                return cell
        return None

    def _cost(self, cell: int, to: int) -> float:
        """Return by how much the cost of all borders rises when the cell changes hands."""
        was = self.groups[cell]
        rise = 0.0
        for other in self.around[cell]:
            group = self.groups[other]
            if group:
                rise += _border_cost(to - group) - _border_cost(was - group)
        return rise

    def _leaves_neatly(self, cell: int) -> bool:
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
        """Return whether the cell's group stays in one piece, and not empty, without it."""
        if self._leaves_neatly(cell):
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

    def _keeps_steps(self, cell: int, to: int) -> bool:
        """Return whether groups that follow one another and touch still touch when the cell has gone to `to`."""
        was = self.groups[cell]
        for other in (was - 1, was + 1):
            if not 1 <= other <= self.n_series:
                continue
            key = (min(was, other), max(was, other))
            lost = sum(self.groups[o] == other for o in self.around[cell])
            won = sum(self.groups[o] == was for o in self.around[cell]) if other == to else 0
            if self.touching[key] > 0 and self.touching[key] - lost + won <= 0:
                return False
        return True


def _border_cost(apart: int) -> float:
    apart = abs(apart)
    return APART if apart > 1 else float(apart)
