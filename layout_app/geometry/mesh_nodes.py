"""Mesh nodes: how long a mesh's edges shall be where, and the lattice points inside that make them so."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray

GROWTH = 0.4  # sizes grow by this per millimetre away from a place, unless told otherwise
ACROSS = 2.0  # edges wanted across a narrow web, unless told otherwise
LEAST_SHARE = 1 / 16  # narrow webs are not followed below this share of the largest size, unless told otherwise
TOO_CLOSE = 0.6  # lattice points nearer to the edge than this share of the size are left out: they make slivers
EDGE_SHARE = 0.75  # of that distance must lie between a lattice point and an edge
MOST_LEVELS = 24
HALVING = 0.75  # the lattice is halved where the size wanted is less than this share of its step
# from a lattice point to its six neighbours
_AROUND = np.array([[1, 0], [0, 1], [-1, 1], [-1, 0], [0, -1], [1, -1]], dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Sizes:
    """How long a mesh's edges shall be: `largest_mm`, less near places: `sizes_mm` there, growing with distance.

    Attributes
    ----------
    largest_mm : float
    places_mm : (k, 2) float array
    sizes_mm : (k,) float array
    growth : float, per millimetre away from a place; far above a half, triangles get long
    across : float, edges wanted across a narrow web
    least_share : float, of the largest size, below which a narrow web is not followed
    """

    largest_mm: float
    places_mm: PointArray = field(default_factory=lambda: np.empty((0, 2)))
    sizes_mm: FloatArray = field(default_factory=lambda: np.empty(0))
    growth: float = GROWTH
    across: float = ACROSS
    least_share: float = LEAST_SHARE

    def __post_init__(self) -> None:
        from scipy.spatial import cKDTree

        classes = np.round(np.log2(self.sizes_mm / self.largest_mm) * 2).astype(np.int64)  # half octaves
        trees = [
            (float(self.sizes_mm[classes == k].min()), cKDTree(self.places_mm[classes == k]))
            for k in np.unique(classes[classes < 0])
        ]
        object.__setattr__(self, "_trees", trees)

    def __call__(self, points_mm: PointArray) -> FloatArray:
        """Return the (n,) sizes wanted at (n, 2) points."""
        wanted = np.full(len(points_mm), float(self.largest_mm))
        for size_mm, tree in self.__dict__["_trees"]:
            reach_mm = (self.largest_mm - size_mm) / self.growth
            distance, _ = tree.query(points_mm, distance_upper_bound=reach_mm)
            np.minimum(wanted, size_mm + self.growth * distance, out=wanted)
        return wanted

    def and_at(self, places_mm: PointArray, sizes_mm: FloatArray) -> Sizes:
        """Return these sizes with more places."""
        places, sizes = np.vstack([self.places_mm, places_mm]), np.concatenate([self.sizes_mm, sizes_mm])
        return replace(self, places_mm=places, sizes_mm=sizes)


def lattice_points(nodes: PointArray, edges: IntArray, sizes: Sizes) -> PointArray:
    """Return the (k, 2) lattice points inside the metal, the lattice halved wherever the size wanted is smaller."""
    from scipy.spatial import cKDTree

    low, high = nodes.min(axis=0), nodes.max(axis=0)
    step = sizes.largest_mm
    row = np.sqrt(3) / 2
    n_rows = int((high[1] - low[1]) / (step * row)) + 2
    n_columns = int((high[0] - low[0]) / step) + 2
    j, i = (axis.ravel() for axis in np.mgrid[-1 : n_rows + 1, -1 : n_columns + 1])
    active = np.column_stack([i - j // 2, j]).astype(np.int64)
    wanted = sizes(_placed(active, low, step))
    done: list[IntArray] = []
    wanted_there: list[FloatArray] = []
    for _ in range(MOST_LEVELS):
        too_coarse = wanted < HALVING * step
        done = [2 * index for index in (*done, active[~too_coarse])]
        wanted_there.append(wanted[~too_coarse])
        active, wanted, step = 2 * active[too_coarse], wanted[too_coarse], step / 2
        if len(active) == 0:
            break
        between = _distinct((active[:, None, :] + _AROUND[None]).reshape(-1, 2))  # halfway to the lattice's next points
        active = np.vstack([active, between])
        wanted = np.append(wanted, sizes(_placed(between, low, step)))
    index = np.vstack([*done, active])
    points = _placed(index, low, step)
    distance, nearest = cKDTree(nodes).query(points)
    wanted = TOO_CLOSE * np.concatenate([*wanted_there, wanted])
    far = np.asarray(distance > wanted)
    points, wanted = points[far], wanted[far]
    points = points[_from_edges(nodes, edges, points, np.asarray(nearest)[far]) > wanted * EDGE_SHARE]
    return points[_contains(nodes, edges, points)]


def _distinct(index: IntArray) -> IntArray:
    width = 2 * int(np.abs(index).max()) + 1
    keys = np.asarray(np.unique((index[:, 0] + width // 2) * width + index[:, 1] + width // 2))
    return np.column_stack([keys // width, keys % width]) - width // 2


def _placed(index: IntArray, low: PointArray, step: float) -> PointArray:
    i, j = index.T
    return np.column_stack([low[0] + step * (i + j / 2), low[1] + step * j * (np.sqrt(3) / 2)])


def _from_edges(nodes: PointArray, edges: IntArray, points: PointArray, nearest: IntArray) -> FloatArray:
    """Return the (n,) distance of each point to the two edges at its nearest node."""
    distance = np.full(len(points), np.inf)
    for end in (0, 1):
        edge_of = np.zeros(len(nodes), dtype=np.int64)
        edge_of[edges[:, end]] = np.arange(len(edges))
        start, stop = nodes[edges[edge_of[nearest]]].transpose(1, 0, 2)
        along = stop - start
        share = ((points - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-300)
        foot = start + np.clip(share, 0, 1)[:, None] * along
        distance = np.minimum(distance, np.hypot(*(points - foot).T))
    return distance


def _contains(nodes: PointArray, edges: IntArray, points: PointArray) -> BoolArray:
    """Return which points lie inside the edges: crossed an odd number of times by a ray to the right.

    Points of the lattice share their heights, so each row is settled at once by sorting its crossings.
    """
    heights, row = np.unique(points[:, 1], return_inverse=True)
    start, end = nodes[edges[:, 0]], nodes[edges[:, 1]]
    bottom, top = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
    first, last = np.searchsorted(heights, bottom, side="left"), np.searchsorted(heights, top, side="left")
    n = last - first  # rows an edge crosses: bottom <= height < top
    edge = np.repeat(np.arange(len(edges)), n)
    crossed_row = np.arange(len(edge)) - np.repeat(np.cumsum(n) - n, n) + first[edge]
    share = (heights[crossed_row] - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    x = start[edge, 0] + share * (end[edge, 0] - start[edge, 0])
    order = np.lexsort((x, crossed_row))
    span = float(np.ptp(nodes[:, 0])) + float(np.abs(points[:, 0]).max(initial=0.0)) + 1.0
    shift = 4 * span  # rows laid one after another on one line
    crossings = crossed_row[order] * shift + x[order]
    begins = np.searchsorted(crossed_row[order], np.arange(len(heights)))
    before = np.searchsorted(crossings, row * shift + points[:, 0])
    return np.asarray((before - begins[row]) % 2 == 1)
