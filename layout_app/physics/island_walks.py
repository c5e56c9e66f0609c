"""Island walks: the islands between a segment's cuts, found by walking round them with the metal to the left."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.physics.islands import ARC, CIRCLE, PLAIN, SLIT, TERMINAL, UNITS_PER_MM, Int32Array, Shape
from layout_app.physics.joints import Lands
from layout_app.physics.metal_cuts import FOOT_ROOM_MM, LARGEST_SINE, Cuts
from layout_app.physics.metal_edge import MetalEdge

TURN = 10.0  # more than a whole turn, radians: to sort by hole, then by angle


@dataclass(frozen=True, slots=True, eq=False)
class Walks:
    """The walks round all islands, one after the other.

    Attributes
    ----------
    darts : (2c,) int array, in the order walked: 2·cut, or 2·cut + 1 from its second end to its first
    island : (2c,) int array, the island to the left of each, ascending
    island_of : (2c,) int array, the same by dart
    """

    darts: IntArray
    island: IntArray
    island_of: IntArray

    @property
    def n_islands(self) -> int:
        """How many islands there are."""
        return int(self.island.max(initial=-1)) + 1

    @property
    def is_slit(self) -> BoolArray:
        """(2c,) which steps run along a cut with the same island on both sides: no contact, and no boundary."""
        return np.asarray(self.island_of[self.darts] == self.island_of[self.darts ^ 1])

    @property
    def after(self) -> IntArray:
        """(2c,) the dart walked after each step."""
        first = np.searchsorted(self.island, self.island)
        is_last = np.append(np.diff(self.island) != 0, True)
        return np.where(is_last, self.darts[first], np.append(self.darts[1:], 0))


def walks(cuts: Cuts, edge: MetalEdge) -> Walks:
    """Return the walks: along a cut, then on along the rim or the edge to the next one."""
    after, start = _next_darts(cuts, edge).tolist(), cuts.ends_mm.reshape(-1, 2).round(2)
    darts: list[int] = []
    island: list[int] = []
    is_new = [True] * len(after)
    number = 0
    for dart in np.lexsort((start[:, 1], start[:, 0])).tolist():  # each walk from its leftmost corner, so all alike
        if is_new[dart]:
            while is_new[dart]:
                is_new[dart] = False
                darts.append(dart)
                island.append(number)
                dart = after[dart]
            number += 1
    order, of = np.array(darts, dtype=np.int64), np.array(island, dtype=np.int64)
    return Walks(order, of, of[np.argsort(order)])


def _next_darts(cuts: Cuts, edge: MetalEdge) -> IntArray:
    """Return (2c,) the dart after each: at a rim the next one clockwise, at the edge the next one along it.

    A dart has the number of the end it leaves from.
    """
    hole = cuts.hole.ravel()
    ring = np.repeat(edge.ring[cuts.bit], 2)
    place = np.where(hole >= 0, -_angles(cuts), np.repeat(cuts.along_mm, 2))
    about = np.where(hole >= 0, hole, -1 - ring)
    order = np.lexsort((place, about))
    is_last = np.append(np.diff(about[order]) != 0, True)[: len(order)]
    after = np.arange(1, len(order) + 1)
    after[is_last] = np.flatnonzero(np.append(True, is_last[:-1]))[: int(is_last.sum())]
    following = np.empty_like(order)
    following[order] = order[after]
    return np.asarray(following[np.arange(len(order)) ^ 1])


def _angles(cuts: Cuts) -> FloatArray:
    return np.mod(cuts.angle_rad.ravel(), 2 * np.pi)


def shapes_and_contacts(
    walked: Walks, holes_mm: FloatArray, lands: Lands, cuts: Cuts, edge: MetalEdge, bolts_mm: FloatArray
) -> tuple[list[Shape], list[IntArray]]:
    """Return the shape of each island and its contacts: cuts, terminal, lands, as its conductance has them in order.

    Contacts are numbered by segment: lands, then the terminal, then cuts. `bolts_mm`, (b, 3), are x, y, radius of bolt
    holes out on tabs, which no cut leads to.
    """
    n, n_lands = walked.n_islands, len(lands.centres_mm)
    first = np.searchsorted(walked.island, np.arange(n + 1))
    origin = cuts.ends_mm.reshape(-1, 2)[walked.darts[first[:-1]]]
    owner, corners, kind = _with_bolts(*_corners(walked, holes_mm, cuts, edge), bolts_mm)
    order, land_of = _lands_in_order(walked, lands, cuts, holes_mm)
    corner_rows = _corner_rows(corners - np.tile(origin[owner], 2), kind)
    source_rows = _source_rows(lands, holes_mm, order, origin[land_of], land_of)
    has_terminal = np.bincount(owner, weights=kind == TERMINAL, minlength=n) > 0
    at_corner, at_land = (np.searchsorted(of, np.arange(n + 1)) for of in (owner, land_of))
    at_source = at_land * lands.sources_mm.shape[1]
    shapes = [
        (corner_rows[a:b].tobytes(), source_rows[c:d].tobytes())
        for a, b, c, d in zip(
            *(each.tolist() for each in (at_corner[:-1], at_corner[1:], at_source[:-1], at_source[1:])), strict=True
        )
    ]
    of = np.concatenate([walked.island[~walked.is_slit], np.flatnonzero(has_terminal), land_of])
    contact = [n_lands + 1 + walked.darts[~walked.is_slit] // 2, np.full(int(has_terminal.sum()), n_lands), order]
    by_island = np.argsort(of, kind="stable")
    contacts, at = np.concatenate(contact)[by_island], np.searchsorted(of[by_island], np.arange(n + 1)).tolist()
    return shapes, [contacts[a:b] for a, b in pairwise(at)]


def _corner_rows(corners: FloatArray, kind: IntArray) -> Int32Array:
    """Return corners relative to their islands' origins as a shape tells them."""
    rows = np.rint(np.column_stack([corners * UNITS_PER_MM, kind])).astype(np.int32)
    rows[(kind != ARC) & (kind != CIRCLE), 2:4] = 0
    return rows


def _source_rows(lands: Lands, holes_mm: FloatArray, order: IntArray, origin: FloatArray, of: IntArray) -> Int32Array:
    """Return the sources of lands in order as a shape tells them."""
    n = lands.sources_mm.shape[1]
    number = np.arange(len(order)) - np.searchsorted(of, of)
    window = np.column_stack([holes_mm[order, :2] - origin, holes_mm[order, 2]])
    spots = (_within_cuts(lands, holes_mm)[order] - origin[:, None]).reshape(-1, 2)
    rows = np.rint(np.column_stack([spots, np.repeat(window, n, axis=0)]) * UNITS_PER_MM)
    return np.column_stack([rows, np.repeat(number, n)]).astype(np.int32)


def _within_cuts(lands: Lands, holes_mm: FloatArray) -> FloatArray:
    """Return (w, f, 2) where the lands' sources are, drawn together on lands wider than cuts leave room for."""
    reach = np.hypot(*(lands.centres_mm - holes_mm[: len(lands.centres_mm), :2]).T)
    aside = lands.sources_mm - lands.centres_mm[:, None]
    furthest = np.hypot(aside[..., 0], aside[..., 1]).max(axis=1)
    room = LARGEST_SINE * reach - FOOT_ROOM_MM
    share = np.where(furthest > room, np.maximum(room, 0.0) / np.maximum(furthest, FOOT_ROOM_MM), 1.0)
    return np.asarray(lands.centres_mm[:, None] + share[:, None, None] * aside)


def _lands_in_order(walked: Walks, lands: Lands, cuts: Cuts, holes_mm: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the lands that are on islands, island after island, and the island of each."""
    of = _island_of_lands(walked, lands, cuts, holes_mm)
    where = lands.centres_mm.round(2)
    order = np.lexsort((where[:, 1], where[:, 0], of))
    order = order[of[order] >= 0]
    return order, of[order]


def _island_of_lands(walked: Walks, lands: Lands, cuts: Cuts, holes_mm: FloatArray) -> IntArray:
    """Return (w,) the island each land is on: that clockwise of the next cut at its window; -1 at one without cuts."""
    n = len(lands.centres_mm)
    out = lands.centres_mm - holes_mm[:n, :2]
    towards = np.mod(np.arctan2(out[:, 1], out[:, 0]), 2 * np.pi)
    hole, place = cuts.hole.ravel(), cuts.hole.ravel() * TURN + _angles(cuts)
    order = np.argsort(place)
    first, last = (np.searchsorted(place[order], (np.arange(n) + more) * TURN - 1.0) for more in (0, 1))
    following = np.searchsorted(place[order], np.arange(n) * TURN + towards)
    end = order[np.where(following < last, following, np.minimum(first, len(order) - 1))]
    return np.where(hole[end] == np.arange(n), walked.island_of[end ^ 1], -1)


def _corners(walked: Walks, holes_mm: FloatArray, cuts: Cuts, edge: MetalEdge) -> tuple[IntArray, FloatArray, IntArray]:
    """Return the corners of all islands in order: the island, (x, y, centre x, centre y), what the bit after it is."""
    ends, leaves, arrives = cuts.ends_mm.reshape(-1, 2), walked.darts, walked.darts ^ 1
    n, hole, bit = len(leaves), cuts.hole.ravel()[arrives], cuts.bit[arrives // 2]
    real = (~walked.is_slit).astype(np.int64)
    number = np.cumsum(real) - real
    number = np.where(walked.is_slit, SLIT, number - number[np.searchsorted(walked.island, walked.island)])
    turning = np.where(hole >= 0, ARC, np.where(edge.is_terminal[bit], TERMINAL, PLAIN))
    step, vertex = _stretches(walked, cuts, edge, np.flatnonzero(hole < 0))
    points = np.vstack([ends[leaves], ends[arrives], edge.starts_mm[vertex]])
    centre = np.zeros_like(points)
    centre[n : 2 * n] = holes_mm[np.maximum(hole, 0), :2]
    kind = np.concatenate([number, turning, np.where(edge.is_terminal[vertex], TERMINAL, PLAIN)])
    place = np.concatenate([np.arange(n) * 3, np.arange(n) * 3 + 1, step * 3 + 2])
    order = np.argsort(place, kind="stable")
    return walked.island[place[order] // 3], np.hstack([points, centre])[order], kind[order]


def _stretches(walked: Walks, cuts: Cuts, edge: MetalEdge, steps: IntArray) -> tuple[IntArray, IntArray]:
    """Return the bits of edge that start between each arrival there and the next cut: the step of the walk, the bit."""
    one, other = walked.darts[steps] // 2, walked.after[steps] // 2
    ring = edge.ring[cuts.bit[one]]
    first, beyond = np.searchsorted(edge.ring, ring), np.searchsorted(edge.ring, ring, side="right")
    n = np.mod(cuts.bit[other] - cuts.bit[one], beyond - first)
    n += np.where((n == 0) & (cuts.along_mm[other] <= cuts.along_mm[one]), beyond - first, 0)  # once round
    row = np.repeat(np.arange(len(steps)), n)
    count = np.arange(len(row)) - np.repeat(np.cumsum(n) - n, n)
    return steps[row], first[row] + np.mod(cuts.bit[one][row] - first[row] + 1 + count, (beyond - first)[row])


def _with_bolts(
    owner: IntArray, corners: FloatArray, kind: IntArray, bolts_mm: FloatArray
) -> tuple[IntArray, FloatArray, IntArray]:
    """Return the corners with bolt holes as whole circles, each in the island with the terminal nearest to it."""
    for x, y, radius in bolts_mm.tolist():
        at_terminal = np.flatnonzero(kind == TERMINAL)
        if len(at_terminal) == 0:
            break
        nearest = at_terminal[np.hypot(*(corners[at_terminal, :2] - (x, y)).T).argmin()]
        place = np.searchsorted(owner, owner[nearest], side="right")
        corners = np.insert(corners, place, (x + radius, y, x, y), axis=0)
        kind, owner = np.insert(kind, place, CIRCLE), np.insert(owner, place, owner[nearest])
    return owner, corners, kind
