"""Meshes: triangles over a piece of metal, small where asked, larger between.

The nodes are points on the metal's edge and points of a triangular lattice inside, halved again and again where a
smaller size is wanted; Delaunay's triangulation of them, less the triangles outside, is the mesh. That is many times
quicker than general mesh generators and gives the same mesh every time. A refined mesh quarters every triangle and
puts the new nodes of the edge on the true edge, so that two meshes of one family tell how far both are off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.mesh_rings import Rings

if TYPE_CHECKING:
    from shapely import Polygon

GROWTH = 0.4  # sizes grow by this per millimetre away from a place, unless told otherwise
ACROSS = 2.0  # edges wanted across a narrow web, unless told otherwise
LEAST_SHARE = 1 / 16  # narrow webs are not followed below this share of the largest size
TOO_CLOSE = 0.6  # lattice points nearer to the edge than this share of the size are left out: they make slivers
EDGE_SHARE = 0.75  # of that distance must lie between a lattice point and an edge
MOST_ROUNDS = 30  # of splitting edges the triangulation has lost; each round halves them
MOST_LEVELS = 24
HALVING = 0.75  # the lattice is halved where the size wanted is less than this share of its step
FLAT = 1e-7  # height over length; a triangle lower than that is an accident of rounding


class MeshError(ValueError):
    """A shape no mesh can be made of: empty, or with edges closer together than rounding."""


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
    """

    largest_mm: float
    places_mm: PointArray = field(default_factory=lambda: np.empty((0, 2)))
    sizes_mm: FloatArray = field(default_factory=lambda: np.empty(0))
    growth: float = GROWTH
    across: float = ACROSS

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
        return Sizes(self.largest_mm, np.vstack([self.places_mm, places_mm]), np.concatenate([self.sizes_mm, sizes_mm]))


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles over metal.

    Attributes
    ----------
    points_mm : (n, 2) float array
    triangles : (t, 3) int array, counter-clockwise
    edges : (e, 2) int array: the edges along the metal's edge, metal on their left
    edge_ends_mm : (e, 2) float array: the same edges' ends as positions along `rings`
    rings : the true edge
    """

    points_mm: PointArray
    triangles: IntArray
    edges: IntArray
    edge_ends_mm: FloatArray
    rings: Rings

    @property
    def edge_marks(self) -> IntArray:
        """(e,): the mark of the ring bit under each edge."""
        return self.rings.marks_at(self.edge_ends_mm.mean(axis=1))

    @property
    def areas_mm2(self) -> FloatArray:
        """(t,): area of each triangle."""
        return _areas(self.points_mm, self.triangles)

    @property
    def smallest_angles_rad(self) -> FloatArray:
        """(t,): the smallest angle of each triangle."""
        sides = np.sort(_side_lengths(self.points_mm, self.triangles), axis=1)
        return np.asarray(np.arcsin(np.clip(2 * self.areas_mm2 / (sides[:, 1] * sides[:, 2]), 0, 1)))

    def refined(self) -> Mesh:
        """Return the mesh with every triangle quartered; new nodes of the edge lie on the true edge."""
        n = len(self.points_mm)
        a, b, c = self.triangles.T
        sides = np.sort(np.stack([np.concatenate([a, b, c]), np.concatenate([b, c, a])]), axis=0)
        keys, which = np.unique(sides[0] * n + sides[1], return_inverse=True)
        middle = (self.points_mm[keys // n] + self.points_mm[keys % n]) / 2
        low, high = np.sort(self.edges, axis=1).T
        on_edge = np.searchsorted(keys, low * n + high)
        middle_position = self.edge_ends_mm.mean(axis=1)
        middle[on_edge] = self.rings.at(middle_position)
        ab, bc, ca = (n + part for part in np.split(which, 3))
        triangles = np.vstack([np.column_stack(t) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
        halves = np.column_stack([self.edges[:, 0], n + on_edge, n + on_edge, self.edges[:, 1]]).reshape(-1, 2)
        start, end = self.edge_ends_mm.T
        ends = np.column_stack([start, middle_position, middle_position, end]).reshape(-1, 2)
        return Mesh(np.vstack([self.points_mm, middle]), triangles, halves, ends, self.rings)


def mesh_of(shape: Polygon | Sequence[Polygon] | Rings, sizes: Sizes | float) -> Mesh:
    """Return a mesh of a polygon with holes, of several that do not overlap, or of their rings.

    Parameters
    ----------
    shape : polygon, mm; valid, with any number of holes. Where polygons touch in a point their mesh does too.
    sizes : the edge lengths wanted, mm. The mesh is finer than that where the metal is narrow or an edge short.

    Raises
    ------
    MeshError : nothing to mesh, or edges that rounding cannot keep apart

    >>> import shapely
    >>> mesh = mesh_of(shapely.box(0.0, 0.0, 4.0, 3.0), 0.5)
    >>> round(float(mesh.areas_mm2.sum()), 9)
    12.0
    """
    rings = shape if isinstance(shape, Rings) else Rings.of(list(shape) if isinstance(shape, Sequence) else [shape])
    if len(rings.vertices_mm) == 0:
        raise MeshError("There is no metal to mesh.")
    wanted = sizes if isinstance(sizes, Sizes) else Sizes(sizes)
    origin = rings.vertices_mm.mean(axis=0)  # drawings lie far from the origin, where Delaunay's squares lose digits
    local = Rings(rings.vertices_mm - origin, rings.ring_of, rings.marks)
    wanted = _narrowed(local, replace(wanted, places_mm=wanted.places_mm - origin))
    mesh = _conforming(local, local.nodes_mm(wanted), wanted)
    return Mesh(mesh.points_mm + origin, mesh.triangles, mesh.edges, mesh.edge_ends_mm, rings)


def _narrowed(rings: Rings, sizes: Sizes) -> Sizes:
    """Return the sizes, made smaller where two edges of the metal face each other closely."""
    from scipy.spatial import cKDTree

    positions = rings.nodes_mm(sizes)
    points = rings.at(positions)
    wanted = sizes(points)
    ring = rings.ring_of[np.searchsorted(rings.positions_mm, positions, side="right") - 1]
    near, other = cKDTree(points).query(
        points, k=min(12, len(points)), distance_upper_bound=sizes.largest_mm * sizes.across
    )
    found = np.isfinite(near)
    other = np.where(found, other, 0)
    along = np.abs(positions[other] - positions[:, None])
    perimeter = rings.perimeters_mm[ring][:, None]
    along = np.where(ring[other] == ring[:, None], np.minimum(along, perimeter - along), np.inf)
    is_facing = found & (along > 3 * near) & (near > 0)
    apart = np.where(is_facing, near, np.inf).min(axis=1, initial=np.inf)
    narrow = apart / sizes.across < wanted
    if not narrow.any():
        return sizes
    return sizes.and_at(points[narrow], np.maximum(apart[narrow] / sizes.across, sizes.largest_mm * LEAST_SHARE))


def _conforming(rings: Rings, positions: FloatArray, sizes: Sizes) -> Mesh:
    """Return the mesh; edges of the metal that Delaunay's triangulation passes over are split until it keeps them."""
    from scipy.spatial import Delaunay, QhullError

    inner: PointArray | None = None
    for _ in range(MOST_ROUNDS):
        points, edges, ends = _edge_nodes(rings, positions)
        if inner is None:
            inner = _lattice_points(points, edges, rings, sizes)
        everything = np.vstack([points, inner, _helpers(points)])
        try:
            net = Delaunay(everything)
        except (QhullError, ValueError) as error:
            raise MeshError("This shape has no area to mesh.") from error
        triangles = _without_flat(everything, _counter_clockwise(everything, net.simplices.astype(np.int64)))
        sides = _Sides(triangles, len(everything))
        lost = sides.triangle_at(edges) < 0
        if not lost.any():
            return _tidy(everything, triangles[_inside(sides, edges)], edges, ends, rings)
        positions = np.sort(np.append(positions, ends[lost].mean(axis=1)))
    raise MeshError("Edges of this shape lie too close together to mesh.")


def _helpers(points: PointArray) -> PointArray:
    """Return points far outside. With nothing out there, nodes in a line along the outline, a rounding error out of it,
    would make a triangle of no area."""
    angle = np.arange(16) * (2 * np.pi / 16) + 0.1
    reach = 2 * max(float(np.abs(points).max()), 1e-9)
    return reach * np.column_stack([np.cos(angle), np.sin(angle)])


def _edge_nodes(rings: Rings, positions: FloatArray) -> tuple[PointArray, IntArray, FloatArray]:
    """Return the distinct nodes on the edge, the edges between them (node pairs), and the edges' ends (positions)."""
    points = rings.at(positions)
    is_real = ~np.isin(positions[1:], rings.positions_mm[rings.is_first])
    ends = np.column_stack([positions[:-1], positions[1:]])[is_real]
    grain = 1e-9 * max(1.0, float(np.abs(points).max()))
    keys = np.round(points / grain).astype(np.int64) @ np.array([2**31 + 11, 1])
    _, first, same = np.unique(keys, return_index=True, return_inverse=True)
    edges = np.column_stack([same[:-1], same[1:]])[is_real]
    return points[first], edges, ends


def _lattice_points(nodes: PointArray, edges: IntArray, rings: Rings, sizes: Sizes) -> PointArray:
    """Return the (k, 2) lattice points inside the metal, the lattice halved wherever the size wanted is smaller."""
    from scipy.spatial import cKDTree

    low, high = nodes.min(axis=0), nodes.max(axis=0)
    step = sizes.largest_mm
    row = np.sqrt(3) / 2
    n_rows = int((high[1] - low[1]) / (step * row)) + 2
    n_columns = int((high[0] - low[0]) / step) + 2
    j, i = (axis.ravel() for axis in np.mgrid[-1 : n_rows + 1, -1 : n_columns + 1])
    active = np.column_stack([i - j // 2, j]).astype(np.int64)
    wanted, done = sizes(_placed(active, low, step)), []
    for _ in range(MOST_LEVELS):
        too_coarse = wanted < HALVING * step
        done = [2 * index for index in (*done, active[~too_coarse])]
        active, wanted, step = 2 * active[too_coarse], wanted[too_coarse], step / 2
        if len(active) == 0:
            break
        between = _distinct((active[:, None, :] + _AROUND[None]).reshape(-1, 2))  # halfway to the lattice's next points
        active = np.vstack([active, between])
        wanted = np.append(wanted, sizes(_placed(between, low, step)))
    index = np.vstack([*done, active])
    points = _placed(index, low, step)
    distance, nearest = cKDTree(nodes).query(points)
    wanted = TOO_CLOSE * sizes(points)
    far = np.asarray(distance > wanted)
    points, wanted = points[far], wanted[far]
    points = points[_from_edges(nodes, edges, points, np.asarray(nearest)[far]) > wanted * EDGE_SHARE]
    return points[_contains(nodes, edges, points)]


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


def _distinct(index: IntArray) -> IntArray:
    width = 2 * int(np.abs(index).max()) + 1
    keys = np.asarray(np.unique((index[:, 0] + width // 2) * width + index[:, 1] + width // 2))
    return np.column_stack([keys // width, keys % width]) - width // 2


_AROUND = np.array([[1, 0], [0, 1], [-1, 1], [-1, 0], [0, -1], [1, -1]], dtype=np.int64)


def _placed(index: IntArray, low: PointArray, step: float) -> PointArray:
    i, j = index.T
    return np.column_stack([low[0] + step * (i + j / 2), low[1] + step * j * (np.sqrt(3) / 2)])


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


def _areas(points: PointArray, triangles: IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    (ux, uy), (vx, vy) = (b - a).T, (c - a).T
    return np.asarray((ux * vy - uy * vx) / 2)


def _counter_clockwise(points: PointArray, triangles: IntArray) -> IntArray:
    turned = _areas(points, triangles) < 0
    return np.where(turned[:, None], triangles[:, ::-1], triangles)


class _Sides:
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


def _inside(sides: _Sides, edges: IntArray) -> BoolArray:
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


def _without_flat(points: PointArray, triangles: IntArray) -> IntArray:
    """Return the triangles, each flat one joined with that across its longest side and the two divided the other way.

    Nodes in a line far smaller than the whole lie, for Delaunay's triangulation, on one circle with points beyond; then
    it may lay a triangle along the line, of no height and either way round.
    """
    for _ in range(MOST_ROUNDS):
        lengths = _side_lengths(points, triangles)
        longest = lengths.argmax(axis=1)
        rows = np.arange(len(triangles))
        flat = np.flatnonzero(2 * np.abs(_areas(points, triangles)) < FLAT * lengths[rows, longest] ** 2)
        if len(flat) == 0:
            return triangles
        turned = _first_corner(triangles[flat], longest[flat])  # longest side from corner 0 to corner 1
        sides = _Sides(triangles, len(points))
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
        triangles = _counter_clockwise(points, triangles)
    return triangles


def _side_lengths(points: PointArray, triangles: IntArray) -> FloatArray:
    """Return (t, 3): the length of the side from each corner to the next."""
    corner = points[triangles]
    return np.stack([np.hypot(*(corner[:, (k + 1) % 3] - corner[:, k]).T) for k in range(3)], axis=1)


def _first_corner(triangles: IntArray, first: IntArray) -> IntArray:
    """Return the triangles turned to begin with the given corner."""
    return np.take_along_axis(triangles, (first[:, None] + np.arange(3)) % 3, axis=1)


def _tidy(points: PointArray, triangles: IntArray, edges: IntArray, ends: FloatArray, rings: Rings) -> Mesh:
    """Return the mesh without nodes no triangle uses."""
    used = np.zeros(len(points), dtype=bool)
    used[triangles.ravel()] = True
    number = np.cumsum(used) - 1
    return Mesh(points[used], number[triangles], number[edges], ends, rings)
