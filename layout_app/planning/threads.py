"""Threads: an order in which every cell is a neighbour of the one before, a Hamiltonian path of the links.

Cut anywhere into runs of P, a thread gives connected groups that touch the next, however small P is. It is what makes
chains of single cells and pairs possible in round and notched footprints, where rows driven there and back leave gaps
at the turns. Finding one is hard in general; on lattices the gaps can be walked along the thread, by turning a stretch
of it round or slipping a cell in elsewhere, until they meet or fall off an end (Pósa's rotations, as 2-opt moves).
"""

from __future__ import annotations

import random

from layout_app.geometry.arrays import IntArray

STEPS_PER_CELL = 40
MOST_RELINKED = 5_000_000  # cells; a second or two

Move = tuple[int, int, int]  # (rise in gaps, first, last): turn first…last round; (rise, i, ~j): slip cell i in after j


def mended_thread(around: list[list[int]], order: IntArray) -> list[int]:
    """Return the order with gaps closed as far as found: all of the cells, the first as near the start as can be.

    `around` holds every cell's neighbours; `order` says which cells take part.
    """
    thread = Thread(around, order.tolist())
    choose = random.Random(0)  # the same thread every time
    for _ in range(STEPS_PER_CELL * len(order)):
        if not thread.gaps or thread.n_relinked > MOST_RELINKED:
            break
        moves = thread.moves(min(thread.gaps))
        if not moves:
            break
        least = min(moves)[0]
        thread.apply(choose.choice([move for move in moves if move[0] == least]))
    return thread.cells


class Thread:
    """Cells in a row; a gap is a place i where cells i and i + 1 are no neighbours."""

    def __init__(self, around: list[list[int]], cells: list[int]) -> None:
        self.around = around
        self.cells = cells
        self.place = {cell: i for i, cell in enumerate(cells)}
        self.n_relinked = 0
        self.gaps = {i for i in range(len(cells) - 1) if self._is_gap(i)}

    def _is_gap(self, i: int) -> bool:
        return self.cells[i + 1] not in self.around[self.cells[i]]

    def _parts(self, i: int, j: int) -> int:
        """Return 1 if the cells at two places would make a gap, 0 if not or if a place is beyond an end."""
        if min(i, j) < 0 or max(i, j) >= len(self.cells):
            return 0
        return int(self.cells[i] not in self.around[self.cells[j]])

    def moves(self, gap: int) -> list[Move]:
        """Return what can be done about the gap after place `gap` without making more gaps than there are."""
        before, after = self._beside(gap), self._beside(gap + 1)
        found = [self._turn(gap + 1, place) if place > gap else self._turn(place + 1, gap) for place in before]
        found += [self._turn(place, gap) if place < gap else self._turn(gap + 1, place - 1) for place in after]
        for cell in (gap, gap + 1):
            found += self._slips(cell)
        return [move for move in found if move[0] <= 0]

    def _beside(self, place: int) -> list[int]:
        """Return the places of a cell's neighbours that take part."""
        return [self.place[o] for o in self.around[self.cells[place]] if o in self.place]

    def _turn(self, first: int, last: int) -> Move:
        before = self._parts(first - 1, first) + self._parts(last, last + 1)
        after = self._parts(first - 1, last) + self._parts(first, last + 1)
        return after - before, first, last

    def _slips(self, i: int) -> list[Move]:
        lost = self._parts(i - 1, i) + self._parts(i, i + 1) - self._parts(i - 1, i + 1)
        found = []
        for j in self._beside(i):
            for after in (j - 1, j):
                if after in (i - 1, i) or not 0 <= after < len(self.cells) - 1:
                    continue
                won = self._parts(after, i) + self._parts(i, after + 1) - self._parts(after, after + 1)
                found.append((won - lost, i, ~after))
        return found

    def apply(self, move: Move) -> None:
        """Carry out a move and note where the gaps are now."""
        _, i, j = move
        if j >= 0:
            low, high = i, j
            self.cells[i : j + 1] = self.cells[i : j + 1][::-1]
        else:
            after = ~j
            low, high = min(i, after), max(i, after) + 1
            cell = self.cells.pop(i)
            self.cells.insert(after + 1 if after < i else after, cell)
        high = min(high, len(self.cells) - 1)
        self.n_relinked += high - low + 1
        for place in range(low, high + 1):
            self.place[self.cells[place]] = place
        stretch = range(max(low - 1, 0), min(high + 1, len(self.cells) - 1))
        self.gaps.difference_update(stretch)
        self.gaps.update(place for place in stretch if self._is_gap(place))
