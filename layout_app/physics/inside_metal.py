"""Inside metal: lines found on a mesh, kept off the metal's true edge.

A mesh follows arcs by chords, which cut through the round windows. Where a line comes nearer to such an edge than the
chord lies from the arc, it gets points closer together, and each that is out of the metal or all but at its edge is
moved straight in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.line_walks import Walks, points_of, side_ends

if TYPE_CHECKING:
    from shapely import MultiPolygon
    from shapely.geometry.base import BaseGeometry

CLEAR_MM = 0.02  # lines keep this far from the edge; those that would be nearer, or out, half as far and more, in order
DEEPEST_MM = 1.0  # out of the metal a line of a mesh may be; beyond, order is lost
ON_EDGE_MM = 0.01  # an end of a line nearer than this lies on the metal's edge
SAME_MM = 1e-6
NO_WAY_MM = 1e-10  # on the edge itself no way leads straight in
STEP_MM = 0.1  # the shortest between points along an edge: flat enough for arcs of 0.2 mm radius
CHORDS_MM = 0.005  # what an edge of the mesh is off its arc at least: the mesh has seen it as chords


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

    shape_edge = metal.boundary
    shapely.prepare([metal, shape_edge])
    points = _ends_drawn_in(points_of(mesh, walks), walks.line, shape_edge)
    goes_on = np.append(walks.line[1:] == walks.line[:-1], False)
    step_mm = np.where(goes_on, _steps_wanted_mm(points, walks, mesh, edge), np.inf)
    placed, position = _followed_closely(points, step_mm, metal, shape_edge)
    line = walks.line[position.astype(np.int64)]
    lines = shapely.linestrings(placed, indices=line)
    out = np.flatnonzero(~shapely.covers(metal, lines))
    if len(out):  # an arc so tight that its chord cuts off more than one triangle: follow the line further off as well
        rows, kept = np.flatnonzero(np.isin(walks.line, out)), ~np.isin(line, out)
        is_near = shapely.dwithin(shape_edge, shapely.points(points[rows]), DEEPEST_MM)
        follows = goes_on[rows] & (is_near | np.roll(is_near, -1))
        again, at = _followed_closely(points[rows], np.where(follows, STEP_MM, np.inf), metal, shape_edge)
        position = np.concatenate([position[kept], rows[at.astype(np.int64)] + at % 1])
        order = np.argsort(position)
        placed, position = np.vstack([placed[kept], again])[order], position[order]
        line = walks.line[position.astype(np.int64)]
    return placed, line, position


def _followed_closely(
    points: PointArray, step_mm: FloatArray, metal: MultiPolygon, edge: BaseGeometry
) -> tuple[PointArray, FloatArray]:
    """Return the points, more of them along pieces that ask for steps, all of those moved in; and where each was."""
    near = np.flatnonzero(np.isfinite(step_mm))
    length = np.hypot(*(points[near + 1] - points[near]).T)
    n_steps = np.maximum(np.ceil(length / step_mm[near]), 1).astype(np.int64)
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
    placed[at] = _moved_in(placed[at], metal, edge)
    return placed, position


def _steps_wanted_mm(points: PointArray, walks: Walks, mesh: Mesh, edge: IntArray) -> FloatArray:
    """Return (p,) how closely pieces that come near the metal's edge off the contacts must follow it; else infinite.

    The true edge is bits straight to a certain measure; half a bit is four times as flat.
    """
    is_free = mesh.edge_marks < 0
    middle = mesh.rings.at(mesh.edge_ends_mm.mean(axis=1))
    begin, end = mesh.points_mm[mesh.edges[:, 0]], mesh.points_mm[mesh.edges[:, 1]]
    length = np.hypot(*(end - begin).T)
    along = (end - begin) / length[:, None]
    bulge_mm = np.maximum(_left_of(middle, begin, along), CHORDS_MM)
    step_mm = np.maximum(_shortest_bits_mm(mesh) / 2, STEP_MM)
    beside = np.where(is_free[edge] & (edge >= 0), edge, -1).max(axis=1)[walks.side // 3]
    far = bulge_mm[beside] + 2 * CLEAR_MM
    one, other = (_left_of(each, begin[beside], along[beside]) for each in (points, np.roll(points, -1, axis=0)))
    wanted = np.where((beside >= 0) & (np.minimum(one, other) < far), step_mm[beside], np.inf)
    at_node = _steps_at_nodes_mm(walks, mesh, mesh.edges[is_free], bulge_mm[is_free] + 2 * CLEAR_MM, step_mm[is_free])
    return np.minimum(wanted, np.minimum(at_node, np.roll(at_node, -1)))


def _shortest_bits_mm(mesh: Mesh) -> FloatArray:
    """Return (e,) the shortest straight bit of the true edge under each edge of the mesh."""
    rings = mesh.rings
    first = np.searchsorted(rings.positions_mm, mesh.edge_ends_mm[:, 0] + SAME_MM, side="right") - 1
    last = np.searchsorted(rings.positions_mm, mesh.edge_ends_mm[:, 1] - SAME_MM, side="right") - 1
    bits = np.append(np.where(rings.is_last, np.inf, rings.lengths_mm), np.inf)
    return np.asarray(np.minimum.reduceat(bits, np.column_stack([first, np.maximum(last, first) + 1]).ravel())[::2])


def _steps_at_nodes_mm(
    walks: Walks, mesh: Mesh, edges: IntArray, near_mm: FloatArray, step_mm: FloatArray
) -> FloatArray:
    """Return (p,) how closely to follow the metal's edge from points that come near an end of one of its edges.

    Each edge has its own measure of near, and its own step. Nodes lie on chords, not on arcs, and arcs reach beyond the
    triangles along them.
    """
    reach, wanted = np.zeros(len(mesh.points_mm)), np.full(len(mesh.points_mm), np.inf)
    for ends in edges.T:
        np.maximum.at(reach, ends, near_mm)
        np.minimum.at(wanted, ends, step_mm)
    begin, end = side_ends(mesh, walks.side)
    length = np.hypot(*(mesh.points_mm[end] - mesh.points_mm[begin]).T)
    at_begin = np.where(walks.share * length < reach[begin], wanted[begin], np.inf)
    return np.minimum(at_begin, np.where((1 - walks.share) * length < reach[end], wanted[end], np.inf))


def _left_of(points: PointArray, begin: PointArray, along: PointArray) -> FloatArray:
    return np.asarray(along[:, 0] * (points - begin)[:, 1] - along[:, 1] * (points - begin)[:, 0])


def _ends_drawn_in(points: PointArray, line: IntArray, edge: BaseGeometry) -> PointArray:
    """Return the points with those ends of lines that lie on the metal's edge drawn back along their line."""
    import shapely

    is_first, is_last = np.append(True, np.diff(line) != 0), np.append(np.diff(line) != 0, True)
    ends = np.concatenate([np.flatnonzero(is_first), np.flatnonzero(is_last)])
    beside = ends + np.where(is_first[ends], 1, -1)
    on_edge = shapely.dwithin(edge, shapely.points(points[ends]), ON_EDGE_MM)
    ends, beside = ends[on_edge], beside[on_edge]
    way = points[beside] - points[ends]
    share = np.minimum(CLEAR_MM / np.maximum(np.hypot(*way.T), 1e-12), 1.0)
    drawn = points.copy()
    drawn[ends] += share[:, None] * way
    return drawn


def _moved_in(points: PointArray, metal: MultiPolygon, edge: BaseGeometry) -> PointArray:
    """Return the points with those nearer to the edge than the clearance, or out of the metal, moved in.

    The further out a point was, the nearer to the edge it comes, so that lines side by side remain so.
    """
    import shapely

    if len(points) == 0:
        return points
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
