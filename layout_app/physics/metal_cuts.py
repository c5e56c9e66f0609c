"""Metal cuts: where a segment is cut into islands, across its narrowest places.

A cut runs from the rim of one round hole straight to the rim of the next, or to the metal's edge where that is nearest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.physics.joints import Lands
from layout_app.physics.metal_edge import MetalEdge, root_mm
from layout_app.physics.network import parts_of
from layout_app.plates.tabs import Tab

NECK_SHARE = 0.1  # of two holes' distance: how far the border between their territories must go on either side
HAIR_MM = 0.1  # metal left between holes, and to the edge, that overlap: next to nothing flows there
RISE = 0.1  # of the metal's width beside a neck: less is no neck of its own
FOOT_ROOM_MM = 0.3  # from a land's side to a cut…
LARGEST_SINE = (
    0.45  # …but no cut is left out for a land that is further round its window than this angle, 27°: necks are
)
# 60° apart in a hexagonal lattice, and islands without end would take their time
TAB_ROOM_MM = 1.0  # from a tab to a cut
FAR_SPANS = 1e3
SMALLEST = 1e-9  # mm², of a triangle that has an area


@dataclass(frozen=True, slots=True, eq=False)
class Cuts:
    """Cuts through a segment.

    Attributes
    ----------
    hole : (c, 2) int array, the round holes at both ends; -1 for the metal's edge, at the second end only
    angle_rad : (c, 2) float array, the direction of each end seen from its hole
    ends_mm : (c, 2, 2) float array
    bit : (c,) int array, the bit of edge the second end lies on, or -1
    along_mm : (c,) float array, how far along its ring that is
    """

    hole: IntArray
    angle_rad: FloatArray
    ends_mm: FloatArray
    bit: IntArray
    along_mm: FloatArray

    def joined(self, other: Cuts) -> Cuts:
        """Return the cuts of both."""
        return self._of(lambda name: np.concatenate([getattr(self, name), getattr(other, name)]))

    def only(self, which: BoolArray) -> Cuts:
        """Return some of the cuts."""
        return self._of(lambda name: getattr(self, name)[which])

    def _of(self, column: Callable[[str], Any]) -> Cuts:
        return Cuts(*(column(name) for name in ("hole", "angle_rad", "ends_mm", "bit", "along_mm")))

    @property
    def widths_mm(self) -> FloatArray:
        """(c,) how wide the metal is at each cut."""
        return np.asarray(np.hypot(*(self.ends_mm[:, 1] - self.ends_mm[:, 0]).T))


def metal_cuts(
    windows_mm: FloatArray, bolts_mm: FloatArray, lands: Lands, edge: MetalEdge, tabs: Sequence[Tab]
) -> tuple[FloatArray, Cuts]:
    """Return the round holes, smaller where they overlap each other or the edge, and the cuts between them.

    No cut goes through a land or ends at a tab: islands there are larger instead.

    Parameters
    ----------
    windows_mm, bolts_mm : (w, 3) and (b, 3) float arrays, x, y, radius: windows, and the bolt holes amid them

    Returns
    -------
    holes_mm : (n, 3) float array, windows first; a bolt hole in a window is left out
    """
    holes_mm = np.vstack([windows_mm, _beside(bolts_mm, windows_mm)])
    samples = _Samples(holes_mm[:, :2], edge)
    pairs, is_neck = _neighbours(holes_mm[:, :2], edge)
    holes_mm = _apart(holes_mm, pairs, samples)
    necks = _between(holes_mm, pairs[is_neck])
    others = _to_edge(holes_mm, samples, edge)
    cuts = necks.joined(others)
    wanted = ~_through_lands(cuts, holes_mm, lands) & ~_at_tabs(cuts, tabs)
    return holes_mm, _chosen(cuts, wanted, edge, len(holes_mm))


def _beside(bolts_mm: FloatArray, windows_mm: FloatArray) -> FloatArray:
    """Return bolt holes as large as windows leave room for; where they do not fit, a finding says so."""
    apart = np.hypot(*(bolts_mm[:, None, :2] - windows_mm[None, :, :2]).transpose(2, 0, 1))
    radius = np.minimum(bolts_mm[:, 2], (apart - windows_mm[:, 2]).min(axis=1) - HAIR_MM)
    return np.asarray(np.column_stack([bolts_mm[:, :2], radius])[radius > HAIR_MM])


class _Samples:
    """Points along the edge, in order: on which bit, the one before each and after it, the hole nearest to it."""

    def __init__(self, centres_mm: PointArray, edge: MetalEdge) -> None:
        from scipy.spatial import cKDTree

        points_mm, self.bit, self.following = edge.samples()
        self.before = np.argsort(self.following)
        away, owner = cKDTree(centres_mm).query(points_mm)
        self.away_mm, self.owner = np.asarray(away), np.asarray(owner, dtype=np.int64)


def _neighbours(centres_mm: PointArray, edge: MetalEdge) -> tuple[IntArray, BoolArray]:
    """Return the pairs of holes whose territories meet, and which of them have a neck of metal between them.

    That is where the line of centres crosses the middle of the border between both territories, and no edge of metal.
    Triangles of Delaunay's tell both.
    """
    import shapely
    from scipy.spatial import Delaunay

    n = len(centres_mm)
    points = np.vstack([centres_mm, _far_away(centres_mm)])  # so that one hole, or a row of them, has triangles too
    corner = Delaunay(points).simplices.astype(np.int64)
    one, other = np.roll(corner, 1, axis=1).ravel(), np.roll(corner, 2, axis=1).ravel()
    a, b = points[one] - points[corner.ravel()], points[other] - points[corner.ravel()]
    # The border between two territories goes half their distance times the cotangent of the opposite angle to that side
    reach = (a * b).sum(axis=1) / np.maximum(2 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), SMALLEST)
    names = np.where(np.maximum(one, other) < n, np.minimum(one, other) * n + np.maximum(one, other), -1)
    order = np.lexsort((reach, names))
    first = np.append(True, np.diff(names[order]) != 0) & (names[order] >= 0)
    names, is_neck = names[order][first], reach[order][first] > NECK_SHARE
    pairs = np.column_stack([names // n, names % n])
    metal_ends = shapely.multilinestrings(np.stack([edge.starts_mm, edge.ends_mm], axis=1))
    shapely.prepare(metal_ends)
    is_neck[is_neck] = ~shapely.intersects(metal_ends, shapely.linestrings(centres_mm[pairs[is_neck]]))
    return pairs, is_neck


def _far_away(points: PointArray) -> PointArray:
    """Return three points round the others, so far off that they change nothing among them."""
    middle, span = points.mean(axis=0), max(float(np.ptp(points, axis=0).max()), 1.0)
    angle = 0.1 + np.arange(3) * (2 * np.pi / 3)  # off the directions of lattices
    return np.asarray(middle + FAR_SPANS * span * np.column_stack([np.cos(angle), np.sin(angle)]))


def _apart(holes_mm: FloatArray, pairs: IntArray, samples: _Samples) -> FloatArray:
    """Return the holes, with smaller radii where there would be no metal between them or to the edge."""
    holes_mm = holes_mm.copy()
    to_edge = np.full(len(holes_mm), np.inf)
    np.minimum.at(to_edge, samples.owner, samples.away_mm)
    holes_mm[:, 2] = np.clip(holes_mm[:, 2], HAIR_MM / 2, np.maximum(to_edge - HAIR_MM, HAIR_MM / 2))
    apart = np.hypot(*(holes_mm[pairs[:, 0], :2] - holes_mm[pairs[:, 1], :2]).T)
    share = np.maximum(apart - HAIR_MM, HAIR_MM) / holes_mm[pairs, 2].sum(axis=1)
    least = np.ones(len(holes_mm))
    np.minimum.at(least, pairs.ravel(), np.repeat(share, 2))
    holes_mm[:, 2] *= least
    return holes_mm


def _between(holes_mm: FloatArray, pairs: IntArray) -> Cuts:
    """Return the cuts from hole to hole."""
    across = holes_mm[pairs[:, 1], :2] - holes_mm[pairs[:, 0], :2]
    angle = np.arctan2(across[:, 1], across[:, 0])
    unit = across / np.hypot(*across.T)[:, None]
    one = holes_mm[pairs[:, 0], :2] + holes_mm[pairs[:, 0], 2:] * unit
    other = holes_mm[pairs[:, 1], :2] - holes_mm[pairs[:, 1], 2:] * unit
    nowhere = np.full(len(pairs), -1, dtype=np.int64)
    return Cuts(
        pairs, np.column_stack([angle, angle + np.pi]), np.stack([one, other], axis=1), nowhere, np.zeros(len(pairs))
    )


def _to_edge(holes_mm: FloatArray, samples: _Samples, edge: MetalEdge) -> Cuts:
    """Return the cuts from holes to the edge, where it comes nearest."""
    which = _nearest_places(samples, holes_mm[samples.owner, 2])
    hole = samples.owner[which]
    tries = [
        _foot_of(holes_mm[hole, :2], edge, bit) for bit in (samples.bit[which], samples.bit[samples.before[which]])
    ]
    is_first = tries[0][1] <= tries[1][1]
    bit = np.where(is_first, samples.bit[which], samples.bit[samples.before[which]])
    share = np.where(is_first, tries[0][0], tries[1][0])
    point = edge.starts_mm[bit] + share[:, None] * (edge.ends_mm - edge.starts_mm)[bit]
    out = point - holes_mm[hole, :2]
    along_edge = (edge.ends_mm - edge.starts_mm)[bit]
    across = np.column_stack([along_edge[:, 1], -along_edge[:, 0]])  # for a hole whose middle is on the edge itself
    out = np.where((np.hypot(*out.T) > 0)[:, None], out, across)
    rim = holes_mm[hole, :2] + out * (holes_mm[hole, 2] / np.hypot(*out.T))[:, None]
    angle = np.arctan2(out[:, 1], out[:, 0])
    along = edge.along_mm[bit] + share * edge.lengths_mm()[bit]
    no_hole = np.full(len(hole), -1, dtype=np.int64)
    ends = np.stack([rim, point], axis=1)
    return Cuts(np.column_stack([hole, no_hole]), np.column_stack([angle, angle]), ends, bit, along)


def _nearest_places(samples: _Samples, radius_mm: FloatArray) -> IntArray:
    """Return the samples where the edge is nearest to a hole, one for each neck, in order along the edge."""
    gap, owner, before, after = samples.away_mm - radius_mm, samples.owner, samples.before, samples.following
    is_least = (owner[before] == owner) & (owner[after] == owner) & (gap <= gap[before]) & (gap < gap[after])
    run = np.cumsum((owner != owner[before]) | (before != np.arange(len(owner)) - 1))
    kept: list[int] = []
    for k in np.flatnonzero(is_least).tolist():
        if kept and run[kept[-1]] == run[k]:
            last = kept[-1]
            higher = max(gap[last], gap[k])
            if gap[last:k].max() - higher < RISE * higher:
                if gap[k] < gap[last]:
                    kept[-1] = k
                continue
        kept.append(k)
    return np.array(kept, dtype=np.int64)


def _foot_of(points: PointArray, edge: MetalEdge, bit: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return how far along each bit, as a share, it is nearest to each point, and how near."""
    start, along = edge.starts_mm[bit], (edge.ends_mm - edge.starts_mm)[bit]
    share = ((points - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-18)
    share = np.clip(share, 0.0, 1.0)
    return share, np.hypot(*(start + share[:, None] * along - points).T)


def _through_lands(cuts: Cuts, holes_mm: FloatArray, lands: Lands) -> BoolArray:
    """Return which cuts come too near to a land."""
    n = len(lands.centres_mm)
    out = lands.centres_mm - holes_mm[:n, :2]
    towards, reach = np.arctan2(out[:, 1], out[:, 0]), np.hypot(*out.T)
    near = np.zeros(len(cuts.hole), dtype=bool)
    for side in (0, 1):
        hole = cuts.hole[:, side]
        has_land = (hole >= 0) & (hole < n)
        hole = np.where(has_land, hole, 0)
        turn = cuts.angle_rad[:, side] - towards[hole]
        beside = np.where(np.cos(turn) > 0, np.abs(reach[hole] * np.sin(turn)), np.inf)
        near |= has_land & (beside < np.minimum(lands.half_width_mm + FOOT_ROOM_MM, LARGEST_SINE * reach[hole]))
    return near


def _at_tabs(cuts: Cuts, tabs: Sequence[Tab]) -> BoolArray:
    """Return which cuts end at a tab."""
    at = np.zeros(len(cuts.bit), dtype=bool)
    for tab in tabs:
        out = np.array(tab.outward)
        along, across = ((cuts.ends_mm[:, 1] - tab.foot_mm) @ np.column_stack([out, [-out[1], out[0]]])).T
        is_in = (along > root_mm(tab) - TAB_ROOM_MM) & (np.abs(across) < tab.width_mm / 2 + TAB_ROOM_MM)
        at |= (cuts.bit >= 0) & is_in
    return at


def _chosen(cuts: Cuts, wanted: BoolArray, edge: MetalEdge, n_holes: int) -> Cuts:
    """Return the cuts wanted, and of the others the shortest that holes and rings need to hang together by cuts.

    Without them an island would have holes inside it that no walk round it meets.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import minimum_spanning_tree

    width = cuts.widths_mm
    one, other = cuts.hole[:, 0], np.where(cuts.bit >= 0, n_holes + edge.ring[cuts.bit], cuts.hole[:, 1])
    n = n_holes + int(edge.ring.max(initial=-1)) + 1
    part = parts_of(n, one[wanted], other[wanted])
    if (part[one] == part[other]).all():
        return cuts.only(wanted)
    cost = width + np.where(wanted, 0.0, width.max(initial=0.0))
    order = np.lexsort((cost, other, one))
    order = order[np.append(True, np.diff((one * n + other)[order]) != 0)[: len(order)]]  # the least between two
    tree = minimum_spanning_tree(coo_array((cost[order], (one[order], other[order])), shape=(n, n))).tocoo()
    wanted[order] |= np.isin((one * n + other)[order], tree.row.astype(np.int64) * n + tree.col)
    return cuts.only(wanted)
