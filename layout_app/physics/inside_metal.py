"""Inside metal: lines found on a mesh, kept off the metal's true edge.

A mesh follows arcs by chords, which cut through the round windows. Where a line comes nearer to such an edge than the
chord lies from the arc, it gets points closer together, and each that is out of the metal or all but at its edge is
moved straight in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.line_walks import Walks, points_of, side_ends

if TYPE_CHECKING:
    from shapely import MultiPolygon

CLEAR_MM = 0.02  # lines keep this far from the edge; those that would be nearer, or out, half as far and more, in order
DEEPEST_MM = 1.0  # out of the metal a line of a mesh may be; beyond, order is lost, but not the clearance
ON_EDGE_MM = 1e-6
NO_WAY_MM = 1e-10  # on the edge itself no way leads straight in
STEP_MM = 0.1  # between points along an edge: flatter than half the clearance down to arcs of 0.2 mm radius


def kept_inside(
    walks: Walks, mesh: Mesh, edge: IntArray, metal: MultiPolygon
) -> tuple[PointArray, IntArray, FloatArray]:
    """Return lines with what is too near the metal's edge moved in.

    Parameters
    ----------
    edge : (t, 3) int array, the edge of the mesh at each side, as `EdgeFlows.edge`
    metal : arcs as chords no further off than a tenth of the clearance

    Returns
    -------
    points_mm : (q, 2) float array, line after line
    line : (q,) int array
    position : (q,) float array, where each point was among the points walked: 3.25 is a quarter past the fourth
    """
    import shapely

    points = _ends_drawn_in(points_of(mesh, walks), walks.line, metal)
    goes_on = np.append(walks.line[1:] == walks.line[:-1], False)
    is_near = goes_on & _is_near_edge(points, walks, mesh, edge)
    placed, position = _followed_closely(points, is_near, metal)
    line = walks.line[position.astype(np.int64)]
    out = np.flatnonzero(~shapely.covers(metal, shapely.linestrings(placed, indices=line)))
    if len(out):  # an arc so tight that its chord cuts off more than one triangle
        placed, position = _followed_closely(points, is_near | (goes_on & np.isin(walks.line, out)), metal)
        line = walks.line[position.astype(np.int64)]
    return placed, line, position


def _followed_closely(points: PointArray, is_near: BoolArray, metal: MultiPolygon) -> tuple[PointArray, FloatArray]:
    """Return the points with more of them along the near pieces, all of those moved in; and where each was."""
    near = np.flatnonzero(is_near)
    length = np.hypot(*(points[near + 1] - points[near]).T)
    n_steps = np.maximum(np.ceil(length / STEP_MM), 1).astype(np.int64)
    piece = np.repeat(near, n_steps + 1)
    first = np.cumsum(n_steps + 1) - (n_steps + 1)
    step = (np.arange(len(piece)) - np.repeat(first, n_steps + 1)) / np.repeat(n_steps, n_steps + 1)
    looked_at = np.unique(piece + step)
    position = np.unique(np.concatenate([np.arange(len(points)), looked_at]))
    before = position.astype(np.int64)
    after = np.minimum(before + 1, len(points) - 1)
    rest = (position - before)[:, None]
    placed = points[before] * (1 - rest) + points[after] * rest
    at = np.searchsorted(position, looked_at)
    placed[at] = _moved_in(placed[at], metal)
    return placed, position


def _is_near_edge(points: PointArray, walks: Walks, mesh: Mesh, edge: IntArray) -> BoolArray:
    """Return (p,) which pieces come near an edge of the metal off the contacts."""
    is_free = mesh.edge_marks < 0
    middle = mesh.rings.at(mesh.edge_ends_mm.mean(axis=1))
    begin, end = mesh.points_mm[mesh.edges[:, 0]], mesh.points_mm[mesh.edges[:, 1]]
    along = (end - begin) / np.hypot(*(end - begin).T)[:, None]
    bulge_mm = np.maximum(_left_of(middle, begin, along), 0.0)
    beside = np.where(is_free[edge] & (edge >= 0), edge, -1).max(axis=1)[walks.side // 3]
    far = bulge_mm[beside] + 2 * CLEAR_MM
    one, other = (_left_of(each, begin[beside], along[beside]) for each in (points, np.roll(points, -1, axis=0)))
    is_at_node = _is_at_node(walks, mesh, mesh.edges[is_free])
    return np.asarray((beside >= 0) & (np.minimum(one, other) < far) | is_at_node | np.roll(is_at_node, -1))


def _is_at_node(walks: Walks, mesh: Mesh, edges: IntArray) -> BoolArray:
    """Return (p,) which points come near an end of one of the edges: nodes lie on chords, not on arcs."""
    on_edge = np.zeros(len(mesh.points_mm), dtype=bool)
    on_edge[edges.ravel()] = True
    begin, end = side_ends(mesh, walks.side)
    length = np.hypot(*(mesh.points_mm[end] - mesh.points_mm[begin]).T)
    from_begin, from_end = walks.share * length, (1 - walks.share) * length
    return np.asarray((on_edge[begin] & (from_begin < 2 * CLEAR_MM)) | (on_edge[end] & (from_end < 2 * CLEAR_MM)))


def _left_of(points: PointArray, begin: PointArray, along: PointArray) -> FloatArray:
    return np.asarray(along[:, 0] * (points - begin)[:, 1] - along[:, 1] * (points - begin)[:, 0])


def _ends_drawn_in(points: PointArray, line: IntArray, metal: MultiPolygon) -> PointArray:
    """Return the points with those ends of lines that lie on the metal's edge drawn back along their line."""
    import shapely

    shapely.prepare([metal, metal.boundary])
    is_first, is_last = np.append(True, np.diff(line) != 0), np.append(np.diff(line) != 0, True)
    ends = np.concatenate([np.flatnonzero(is_first), np.flatnonzero(is_last)])
    beside = ends + np.where(is_first[ends], 1, -1)
    on_edge = shapely.dwithin(metal.boundary, shapely.points(points[ends]), ON_EDGE_MM)
    ends, beside = ends[on_edge], beside[on_edge]
    way = points[beside] - points[ends]
    share = np.minimum(CLEAR_MM / np.maximum(np.hypot(*way.T), 1e-12), 1.0)
    drawn = points.copy()
    drawn[ends] += share[:, None] * way
    return drawn


def _moved_in(points: PointArray, metal: MultiPolygon) -> PointArray:
    """Return the points with those nearer to the edge than the clearance, or out of the metal, moved in.

    The further out a point was, the nearer to the edge it comes, so that lines side by side remain so.
    """
    import shapely

    if len(points) == 0:
        return points
    edge = metal.boundary
    shapely.prepare([metal, edge])
    is_inside = shapely.contains_xy(metal, points[:, 0], points[:, 1])
    here = shapely.points(points)
    close = np.flatnonzero(~is_inside | shapely.dwithin(edge, here, CLEAR_MM))
    foot = shapely.get_coordinates(shapely.shortest_line(edge, here[close])).reshape(-1, 2, 2)[:, 0]
    sign = np.where(is_inside[close], 1.0, -1.0)[:, None]
    inward = sign * (points[close] - foot)
    length = np.hypot(*inward.T)[:, None]
    depth = np.maximum(sign * length, -DEEPEST_MM)
    off = CLEAR_MM / 2 * (1 + (depth + DEEPEST_MM) / (CLEAR_MM + DEEPEST_MM))
    moved = points.copy()
    moved[close] = np.where(length > NO_WAY_MM, foot + off * inward / np.maximum(length, NO_WAY_MM), points[close])
    return moved
