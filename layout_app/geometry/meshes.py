"""Meshes: triangles over a piece of metal, small where asked, larger between.

The nodes are points on the metal's edge and points of a triangular lattice inside, halved again and again where a
smaller size is wanted; Delaunay's triangulation of them, less the triangles outside, is the mesh. That is many times
quicker than general mesh generators and gives the same mesh every time. A refined mesh quarters every triangle and
puts the new nodes of the edge on the true edge, so that two meshes of one family tell how far both are off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.mesh_nodes import Sizes, lattice_points
from layout_app.geometry.mesh_rings import Rings
from layout_app.geometry.triangles import (
    Sides,
    areas,
    counter_clockwise,
    inside_edges,
    parted_at_points,
    side_lengths,
    without_flat,
)

if TYPE_CHECKING:
    from shapely import Polygon

MOST_ROUNDS = 30  # of splitting edges the triangulation has lost; each round halves them
MOST_SPLITS = 8.0  # nodes on the edge over those asked for: with more, rounding loses edges quicker than they divide


class MeshError(ValueError):
    """A shape no mesh can be made of: empty, or with edges closer together than rounding."""


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
        return areas(self.points_mm, self.triangles)

    @property
    def smallest_angles_rad(self) -> FloatArray:
        """(t,): the smallest angle of each triangle."""
        sides = np.sort(side_lengths(self.points_mm, self.triangles), axis=1)
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
    shape : polygon, mm; valid, with any number of holes. Metal that touches in a point only does not hang together
        there: the point becomes a node for either side.
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
    """Return the sizes, made smaller where two edges face each other closely with metal between them."""
    from scipy.spatial import cKDTree

    positions = rings.nodes_mm(sizes)
    points = rings.at(positions)
    wanted = sizes(points)
    bit = np.clip(np.searchsorted(rings.positions_mm, positions, side="right") - 1, 0, len(rings.ring_of) - 1)
    ring = rings.ring_of[bit]
    near, other = cKDTree(points).query(
        points, k=min(12, len(points)), distance_upper_bound=sizes.largest_mm * sizes.across
    )
    found = np.isfinite(near)
    other = np.where(found, other, 0)
    along = np.abs(positions[other] - positions[:, None])
    perimeter = rings.perimeters_mm[ring][:, None]
    along = np.where(ring[other] == ring[:, None], np.minimum(along, perimeter - along), np.inf)
    is_facing = found & (along > 3 * near) & (near > 0) & _is_left(rings, bit, points, points[other])
    apart = np.where(is_facing, near, np.inf).min(axis=1, initial=np.inf)
    narrow = apart / sizes.across < wanted
    if not narrow.any():
        return sizes
    least = sizes.largest_mm * sizes.least_share
    return sizes.and_at(points[narrow], np.maximum(apart[narrow] / sizes.across, least))


def _is_left(rings: Rings, bit: IntArray, points: PointArray, others: PointArray) -> BoolArray:
    """Return (n, k): which of the (n, k, 2) others lie to the left of the ring at the points, or of the bit before: on
    the metal's side."""
    before = np.where(rings.is_first[bit], bit, bit - 1)
    steps = np.diff(rings.vertices_mm, axis=0, append=rings.vertices_mm[-1:])
    to = others - points[:, None, :]
    left = np.zeros(others.shape[:2], dtype=bool)
    for step in (steps[bit], steps[before]):
        left |= step[:, :1] * to[..., 1] - step[:, 1:] * to[..., 0] > 0
    return left


def _conforming(rings: Rings, positions: FloatArray, sizes: Sizes) -> Mesh:
    """Return the mesh; edges of the metal that Delaunay's triangulation passes over are split until it keeps them."""
    from scipy.spatial import Delaunay, QhullError

    inner: PointArray | None = None
    most = int(MOST_SPLITS * len(positions))
    for _ in range(MOST_ROUNDS):
        if len(positions) > most:
            break
        points, edges, ends = _edge_nodes(rings, positions)
        if inner is None:
            inner = lattice_points(points, edges, sizes)
        everything = np.vstack([points, inner, _helpers(points)])
        try:
            net = Delaunay(everything)
        except (QhullError, ValueError) as error:
            raise MeshError("This shape has no area to mesh.") from error
        triangles = without_flat(everything, counter_clockwise(everything, net.simplices.astype(np.int64)))
        sides = Sides(triangles, len(everything))
        lost = sides.triangle_at(edges) < 0
        if not lost.any():
            metal = triangles[inside_edges(sides, edges)]
            everything, metal, edges = parted_at_points(everything, metal, edges)
            return _tidy(everything, metal, edges, ends, rings)
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


def _tidy(points: PointArray, triangles: IntArray, edges: IntArray, ends: FloatArray, rings: Rings) -> Mesh:
    """Return the mesh without nodes no triangle uses."""
    used = np.zeros(len(points), dtype=bool)
    used[triangles.ravel()] = True
    number = np.cumsum(used) - 1
    return Mesh(points[used], number[triangles], number[edges], ends, rings)
