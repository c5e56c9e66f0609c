"""Triangles: a triangulation by its corners, as areas, sides and the parts that edges divide it into."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray

FLAT = 1e-7  # height over length; a triangle lower than that is an accident of rounding
MOST_FLIPS = 30  # rounds of taking flat triangles away; one or two do


def areas(points: PointArray, triangles: IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    (ux, uy), (vx, vy) = (b - a).T, (c - a).T
    return np.asarray((ux * vy - uy * vx) / 2)


def counter_clockwise(points: PointArray, triangles: IntArray) -> IntArray:
    turned = areas(points, triangles) < 0
    return np.where(turned[:, None], triangles[:, ::-1], triangles)


def side_lengths(points: PointArray, triangles: IntArray) -> FloatArray:
    """Return (t, 3): the length of the side from each corner to the next."""
    corner = points[triangles]
    return np.stack([np.hypot(*(corner[:, (k + 1) % 3] - corner[:, k]).T) for k in range(3)], axis=1)


class Sides:
    """The directed sides of triangles, found by the nodes they run from and to."""

    def __init__(self, triangles: IntArray, n_points: int) -> None:
        self.n_points, self.n_triangles = n_points, len(triangles)
        self.start = np.concatenate([triangles[:, k] for k in range(3)])
        self.end = np.concatenate([triangles[:, (k + 1) % 3] for k in range(3)])
        keys = self.start * n_points + self.end
        self.order = np.argsort(keys)
        self.keys = keys[self.order]

    def triangle_at(self, pairs: IntArray) -> IntArray:
        """Return the triangle on the left of each (m, 2) pair of nodes, -1 where none has that side."""
        wanted = pairs[:, 0] * self.n_points + pairs[:, 1]
        place = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        found = self.keys[place] == wanted
        return np.where(found, self.order[place] % self.n_triangles, -1)


def inside_edges(sides: Sides, edges: IntArray) -> BoolArray:
    """Return which triangles are metal: those reached from the left of an edge without crossing one."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    n, t = sides.n_points, sides.n_triangles
    barrier = np.sort(np.concatenate([edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]]))
    once = np.flatnonzero(sides.start < sides.end)
    keys = sides.start[once] * n + sides.end[once]
    place = np.minimum(np.searchsorted(barrier, keys), len(barrier) - 1)
    once = once[barrier[place] != keys]
    across = sides.triangle_at(np.column_stack([sides.end[once], sides.start[once]]))
    one, other = once[across >= 0] % t, across[across >= 0]
    links = coo_matrix((np.ones(len(one), dtype=np.int8), (one, other)), shape=(t, t))
    _, part = connected_components(links, directed=False)
    is_metal = np.zeros(part.max() + 1, dtype=bool)
    is_metal[part[sides.triangle_at(edges)]] = True
    return np.asarray(is_metal[part])


def without_flat(points: PointArray, triangles: IntArray) -> IntArray:
    """Return the triangles, each flat one joined with that across its longest side and the two divided the other way.

    Nodes in a line far smaller than the whole lie, for Delaunay's triangulation, on one circle with points beyond; then
    it may lay a triangle along the line, of no height and either way round.
    """
    for _ in range(MOST_FLIPS):
        lengths = side_lengths(points, triangles)
        longest = lengths.argmax(axis=1)
        rows = np.arange(len(triangles))
        flat = np.flatnonzero(2 * np.abs(areas(points, triangles)) < FLAT * lengths[rows, longest] ** 2)
        if len(flat) == 0:
            return triangles
        turned = _first_corner(triangles[flat], longest[flat])  # longest side from corner 0 to corner 1
        sides = Sides(triangles, len(points))
        left, right = sides.triangle_at(turned[:, :2]), sides.triangle_at(turned[:, 1::-1])
        other = np.where(right != flat, right, left)
        other = np.where(other < 0, left, other)
        other[other == flat] = -1
        sound = (other >= 0) & ~np.isin(other, flat)
        _, first = np.unique(other[sound], return_index=True)
        flat, turned, other = flat[sound][first], turned[sound][first], other[sound][first]
        if len(flat) == 0:
            return triangles
        a, b, middle = turned.T
        opposite = triangles[other].sum(axis=1) - a - b
        triangles = triangles.copy()
        triangles[flat] = np.column_stack([a, middle, opposite])
        triangles[other] = np.column_stack([middle, b, opposite])
        triangles = counter_clockwise(points, triangles)
    return triangles


def _first_corner(triangles: IntArray, first: IntArray) -> IntArray:
    """Return the triangles turned to begin with the given corner."""
    return np.take_along_axis(triangles, (first[:, None] + np.arange(3)) % 3, axis=1)


def parted_at_points(points: PointArray, triangles: IntArray, edges: IntArray) -> tuple[PointArray, IntArray, IntArray]:
    """Return points, triangles and edges (metal on their left) with a node for each side where metal meets in a point.

    Nothing flows through a point, while triangles that share a node would let it pass.
    """
    begins = np.bincount(edges[:, 0], minlength=len(points))
    sides = Sides(triangles, len(points))
    triangles, edges, owner = triangles.copy(), edges.copy(), sides.triangle_at(edges)
    extra: list[int] = []
    for node in np.flatnonzero(begins > 1).tolist():
        around = np.flatnonzero((triangles == node).any(axis=1))
        for fan in _fans(triangles[around], node)[1:]:
            new, here = len(points) + len(extra), around[fan]
            extra.append(node)
            triangles[here] = np.where(triangles[here] == node, new, triangles[here])
            beside = np.isin(owner, here)
            edges[beside] = np.where(edges[beside] == node, new, edges[beside])
    return np.vstack([points, points[extra]]), triangles, edges


def _fans(around: IntArray, node: int) -> list[IntArray]:
    """Return which of the triangles around a node share sides there, fan by fan."""
    from scipy.sparse.csgraph import connected_components

    others = around[around != node].reshape(-1, 2)
    shared = (others[:, None, :, None] == others[None, :, None, :]).any(axis=(2, 3))
    _, fan = connected_components(shared)
    return [np.flatnonzero(fan == k) for k in range(fan.max() + 1)]
