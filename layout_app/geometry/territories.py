"""Territories: the Voronoi cells of points, kept as a graph of ridges so that unions are walks, not boolean work."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray

FAR_SPANS = 8.0  # sentinels stand this many spans away, so that every real territory is bounded
SHORTEST_RIDGE_MM = 1e-4  # shorter ones are rounding noise where four or more territories meet


@dataclass(frozen=True, eq=False)
class Territories:
    """The plane divided among n points.

    Attributes
    ----------
    corners_mm : (c, 2) float array, where three or more territories meet
    pairs : (m, 2) int array, the two points a ridge lies between; the first is to the left of its direction. Numbers
        from n up are sentinels far away
    ridges : (m, 2) int array, the ridge's two corners
    halfway_mm : (m, 2) float array, halfway between the two points
    """

    corners_mm: PointArray
    pairs: IntArray
    ridges: IntArray
    halfway_mm: PointArray

    def lengths_mm(self) -> FloatArray:
        """Return (m,) lengths of the ridges, mm."""
        ends = self.corners_mm[self.ridges]
        return np.asarray(np.hypot(*(ends[:, 1] - ends[:, 0]).T), dtype=np.float64)

    def ridges_between(self, starts: IntArray, ends: IntArray) -> IntArray:
        """Return (k,) the ridges that run between the given corners, whatever their direction."""
        names, order = self._sorted_names
        return order[np.searchsorted(names, self._names(starts, ends))]

    @cached_property
    def _sorted_names(self) -> tuple[IntArray, IntArray]:
        """The ridges' names in ascending order, and which ridge each belongs to."""
        names = self._names(self.ridges[:, 0], self.ridges[:, 1])
        order = np.argsort(names)
        return names[order], order

    def _names(self, starts: IntArray, ends: IntArray) -> IntArray:
        """Return one number for each pair of corners, whatever their order."""
        return np.minimum(starts, ends) * len(self.corners_mm) + np.maximum(starts, ends)

    def meeting_corners(self, owners: IntArray) -> BoolArray:
        """Return (c,) which corners three or more owners share, or a sentinel."""
        n_sentinels = int(self.pairs.max(initial=-1)) + 1 - len(owners)
        everyone = np.append(owners, np.full(n_sentinels, owners.min() - 1))
        is_border = everyone[self.pairs[:, 0]] != everyone[self.pairs[:, 1]]
        meeting = np.bincount(self.ridges[is_border].ravel(), minlength=len(self.corners_mm)) > 2
        meeting[self.ridges[(self.pairs >= len(owners)).any(axis=1)]] = True
        return meeting

    def borders(self, owners: IntArray) -> dict[int, IntArray]:
        """Return, for each owner, the directed edges (e, 2) around its territories, with the owner on the left.

        Parameters
        ----------
        owners : (n,) int array, the owner of each point
        """
        of = np.append(owners, np.full(int(self.pairs.max(initial=-1)) + 1 - len(owners), owners.min() - 1))
        left, right = of[self.pairs[:, 0]], of[self.pairs[:, 1]]
        is_border = left != right
        edges = np.concatenate([self.ridges[is_border], self.ridges[is_border][:, ::-1]])
        sides = np.concatenate([left[is_border], right[is_border]])
        order = np.argsort(sides, kind="stable")
        numbers, first = np.unique(sides[order], return_index=True)
        return dict(zip(numbers.tolist(), np.split(edges[order], first[1:]), strict=True))

    def walks(self, edges: IntArray) -> list[IntArray]:
        """Return the closed walks over corners that directed edges form.

        Counter-clockwise walks enclose territory, clockwise ones are holes. Territories that touch in one corner only
        come back as separate walks.
        """
        return _closed_walks(edges, self.corners_mm)


def territories(points_mm: PointArray) -> Territories:
    """Divide the plane among points.

    Parameters
    ----------
    points_mm : (n, 2) float array, mm, n >= 1, no two the same

    Source: Voronoi diagram by Qhull, as scipy wraps it.
    """
    from scipy.spatial import Voronoi  # a heavy import that listing figures does without

    n_points = len(points_mm)
    centre = (points_mm.min(axis=0) + points_mm.max(axis=0)) / 2
    reach_mm = FAR_SPANS * max(float(np.ptp(points_mm, axis=0).max()), 100.0)
    turn = np.arange(12) * np.pi / 6 + 0.1  # off the lattice directions, so that no ridge runs to infinity by symmetry
    sentinels = reach_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    diagram = Voronoi(np.vstack([points_mm - centre, sentinels]))
    pairs = np.asarray(diagram.ridge_points, dtype=np.int64)
    ridges = np.asarray(diagram.ridge_vertices, dtype=np.int64)
    bounded = (ridges >= 0).all(axis=1) & (pairs < n_points).any(axis=1)
    corners, ridges, pairs = _merged(diagram.vertices, ridges[bounded], pairs[bounded])
    pairs = _left_first(diagram.points, corners, pairs, ridges)
    return Territories(corners + centre, pairs, ridges, diagram.points[pairs].mean(axis=1) + centre)


def _merged(corners: PointArray, ridges: IntArray, pairs: IntArray) -> tuple[PointArray, IntArray, IntArray]:
    """Drop ridges of no length by making their two corners one."""
    short = np.hypot(*(corners[ridges[:, 1]] - corners[ridges[:, 0]]).T) < SHORTEST_RIDGE_MM
    if not short.any():
        return corners, ridges, pairs
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ends = ridges[short]
    links = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(corners), len(corners)))
    n_corners, label = connected_components(links, directed=False)
    representative = np.zeros((n_corners, 2))
    representative[label] = corners
    merged = label[ridges].astype(np.int64)
    keep = merged[:, 0] != merged[:, 1]
    return representative, merged[keep], pairs[keep]


def _left_first(points: PointArray, corners: PointArray, pairs: IntArray, ridges: IntArray) -> IntArray:
    """Order each pair so that its first point lies to the left of the ridge."""
    along = corners[ridges[:, 1]] - corners[ridges[:, 0]]
    across = points[pairs[:, 0]] - points[pairs[:, 1]]
    is_left = along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0] > 0
    return np.where(is_left[:, None], pairs, pairs[:, ::-1])


def _closed_walks(edges: IntArray, corners: PointArray) -> list[IntArray]:
    """Join directed edges, each corner entered as often as left, into closed walks that turn left where they may."""
    after = dict(edges.tolist())
    return _plain_walks(after) if len(after) == len(edges) else _branching_walks(edges, corners)


def _plain_walks(after: dict[int, int]) -> list[IntArray]:
    """Follow each corner's one successor round and round: the usual case, and a hot path."""
    walks = []
    while after:
        start = next(iter(after))
        walk, here = [start], after.pop(start)
        while here != start:
            walk.append(here)
            here = after.pop(here)
        walks.append(np.array(walk, dtype=np.int64))
    return walks


def _branching_walks(edges: IntArray, corners: PointArray) -> list[IntArray]:
    outgoing: dict[int, list[int]] = {}
    for start, end in edges.tolist():
        outgoing.setdefault(start, []).append(end)
    walks = []
    while outgoing:
        start = here = next(iter(outgoing))
        before: int | None = None
        walk = []
        while True:
            ends = outgoing[here]
            chosen = 0 if len(ends) == 1 or before is None else _leftmost(corners, before, here, ends)
            before, after = here, ends.pop(chosen)
            if not ends:
                del outgoing[before]
            walk.append(before)
            here = after
            if here == start and (here not in outgoing or _closes(corners, before, here, outgoing[here], walk[1])):
                break
        walks.append(np.array(walk, dtype=np.int64))
    return walks


def _leftmost(corners: PointArray, before: int, here: int, ends: list[int]) -> int:
    """Return which of `ends` is the sharpest left turn: the one that keeps to the territory walked around."""
    incoming = np.arctan2(*(corners[here] - corners[before])[::-1])
    outgoing = corners[ends] - corners[here]
    turn = (np.arctan2(outgoing[:, 1], outgoing[:, 0]) - incoming + np.pi) % (2 * np.pi)
    return int(np.argmax(turn))


def _closes(corners: PointArray, before: int, here: int, ends: list[int], first: int) -> bool:
    """Whether the walk's own first edge is a sharper left turn than every edge still to be walked."""
    return _leftmost(corners, before, here, [first, *ends]) == 0
