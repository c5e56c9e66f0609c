"""Neighbours: which points share a stretch of border between their Voronoi territories, and how long it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

LEAST_BORDER_FRACTION = 0.1  # of the reach: longer than rounding makes of a square lattice's diagonals, shorter than
# any border a strip of metal could use
FAR = 4.0  # how many sizes of the whole away the helper points stand that close the triangulation all round


@dataclass(frozen=True, slots=True, eq=False)
class Neighbours:
    """Pairs of neighbouring points and the border between their territories.

    Attributes
    ----------
    pairs : (m, 2) int array, i < j in each row, rows ascending
    borders_mm : (m,) float array: length of the shared Voronoi edge within half the reach of both points, obstacles
        taken out
    """

    pairs: IntArray
    borders_mm: FloatArray


def neighbour_pairs(centres_mm: PointArray, reach_mm: float, obstacles: BaseGeometry | None = None) -> IntArray:
    """Return the (m, 2) pairs i < j of neighbouring points, rows ascending; see `neighbours`."""
    return neighbours(centres_mm, reach_mm, obstacles).pairs


def neighbours(
    centres_mm: PointArray,
    reach_mm: float,
    obstacles: BaseGeometry | None = None,
    *,
    least_border_mm: float | None = None,
) -> Neighbours:
    """Return which points are neighbours and how long their common borders are.

    Two points are neighbours when they stand no further apart than the reach and their Voronoi territories, each cut
    off at half the reach from its point, share a border longer than `least_border_mm`. An obstacle takes away the part
    of the border it covers or cuts off from either point.

    Parameters
    ----------
    centres_mm : (n, 2) float array, mm; any n, also all on one line
    reach_mm : float, mm, about one and a half times the pitch
    obstacles : area no connection may cross (keep-outs, the outside of the wall)
    least_border_mm : float, mm; a tenth of the reach by default

    >>> neighbours(np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 2.0], [2.0, 2.0]]), 3.0).pairs.tolist()
    [[0, 1], [0, 2], [1, 3], [2, 3]]
    """
    least_mm = reach_mm * LEAST_BORDER_FRACTION if least_border_mm is None else least_border_mm
    if len(centres_mm) < 2:
        return Neighbours(np.empty((0, 2), dtype=np.int64), np.empty(0))
    local = centres_mm - centres_mm.mean(axis=0)  # drawings lie far from the origin: keep the squares small
    pairs, from_mm, to_mm = _voronoi_edges(local, reach_mm)
    wide = to_mm - from_mm > least_mm
    pairs, from_mm, to_mm = pairs[wide], from_mm[wide], to_mm[wide]
    borders_mm = to_mm - from_mm
    if obstacles is not None and not obstacles.is_empty:
        _cut_by_obstacles(centres_mm, pairs, from_mm, to_mm, borders_mm, reach_mm, obstacles)
        open_ = borders_mm > least_mm
        pairs, borders_mm = pairs[open_], borders_mm[open_]
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    return Neighbours(pairs[order], borders_mm[order])


def _voronoi_edges(points: PointArray, reach_mm: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return pairs within reach and where their Voronoi edge runs, measured along the bisector from its middle.

    A Voronoi edge joins the circumcentres of the two Delaunay triangles on either side of the pair. Four helper points
    far out give every pair a triangle on both sides; they take nothing from territories cut off at half the reach.
    """
    from scipy.spatial import Delaunay

    n = len(points)
    far = FAR * max(float(np.abs(points).max()), reach_mm)
    helpers = far * np.array([[-1.0, -1.07], [1.03, -1.0], [1.0, 1.05], [-1.02, 1.0]])  # on no line of the lattice
    everything = np.vstack([points, helpers])
    triangles = Delaunay(everything).simplices.astype(np.int64)
    centres = _circumcentres(everything, triangles)
    sides = np.vstack([triangles[:, [1, 2]], triangles[:, [2, 0]], triangles[:, [0, 1]]])
    sides.sort(axis=1)
    triangle = np.tile(np.arange(len(triangles)), 3)
    real = sides[:, 1] < n
    sides, triangle = sides[real], triangle[real]
    key = sides[:, 0] * n + sides[:, 1]
    order = np.argsort(key, kind="stable")
    first = order[:-1][key[order[:-1]] == key[order[1:]]]
    second = order[1:][key[order[:-1]] == key[order[1:]]]
    pairs = sides[first]
    middle, across = points[pairs].mean(axis=1), points[pairs[:, 1]] - points[pairs[:, 0]]
    apart = np.hypot(across[:, 0], across[:, 1])
    near = (apart <= reach_mm * (1 + 1e-9)) & (apart > 0)
    first, second, pairs, middle, across, apart = (a[near] for a in (first, second, pairs, middle, across, apart))
    along = np.column_stack([-across[:, 1], across[:, 0]]) / apart[:, None]
    ends = [((centres[triangle[side]] - middle) * along).sum(axis=1) for side in (first, second)]
    half = np.sqrt(np.maximum((reach_mm / 2) ** 2 - (apart / 2) ** 2, 0))
    low, high = np.minimum(*ends), np.maximum(*ends)
    return pairs, np.clip(low, -half, half), np.clip(high, -half, half)


def _circumcentres(points: PointArray, triangles: IntArray) -> PointArray:
    """Return (t, 2) circumcentres; very far out for a flat triangle."""
    a = points[triangles[:, 0]]
    (bx, by), (cx, cy) = (points[triangles[:, 1]] - a).T, (points[triangles[:, 2]] - a).T
    twice = 2 * (bx * cy - by * cx)
    twice = np.where(np.abs(twice) < 1e-12, 1e-12, twice)
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    return np.asarray(a + np.column_stack([cy * b2 - by * c2, bx * c2 - cx * b2]) / twice[:, None], dtype=np.float64)


def _cut_by_obstacles(
    points: PointArray,
    pairs: IntArray,
    from_mm: FloatArray,
    to_mm: FloatArray,
    borders_mm: FloatArray,
    reach_mm: float,
    obstacles: BaseGeometry,
) -> None:
    """Shorten, in place, the borders an obstacle covers or cuts off.

    What joins two points across their border is the kite between them: point, border end, point, border end. The
    border counts where it lies in the piece of the kite, obstacles taken out, that holds both points.
    """
    import shapely

    shapely.prepare(obstacles)
    beside = shapely.dwithin(obstacles, shapely.points(points), reach_mm / 2)
    suspects = np.flatnonzero(beside[pairs].any(axis=1))
    a, b = points[pairs[suspects, 0]], points[pairs[suspects, 1]]
    across = b - a
    along = np.column_stack([-across[:, 1], across[:, 0]]) / np.hypot(across[:, 0], across[:, 1])[:, None]
    ends = [(a + b) / 2 + along * t[suspects, None] for t in (from_mm, to_mm)]
    kites = shapely.polygons(np.stack([a, ends[0], b, ends[1]], axis=1))
    hit = np.flatnonzero(shapely.intersects(obstacles, kites))
    free = shapely.difference(kites[hit], obstacles)
    lines = shapely.linestrings(np.stack([ends[0][hit], ends[1][hit]], axis=1))
    parts, owner = shapely.get_parts(free, return_index=True)
    holds = [shapely.dwithin(parts, shapely.points(p[hit][owner]), 1e-6) for p in (a, b)]
    lengths = np.where(holds[0] & holds[1], shapely.length(shapely.intersection(parts, lines[owner])), 0.0)
    borders_mm[suspects[hit]] = np.bincount(owner, weights=lengths, minlength=len(hit))
