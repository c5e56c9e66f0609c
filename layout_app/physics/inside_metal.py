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
from layout_app.geometry.triangles import Sides
from layout_app.physics.line_walks import Walks, points_of, side_ends

if TYPE_CHECKING:
    from shapely import MultiPolygon

CLEAR_MM = 0.02  # lines keep this far from the edge: more than chords of ours lie off their arcs
STEP_MM = 0.1  # between points along an edge: over an arc of 0.3 mm radius still flatter than the clearance


def kept_inside(walks: Walks, mesh: Mesh, metal: MultiPolygon) -> tuple[PointArray, IntArray, FloatArray]:
    """Return lines with what is too near the metal's edge moved in.

    Parameters
    ----------
    metal : arcs as chords no further off than a tenth of the clearance

    Returns
    -------
    points_mm : (q, 2) float array, line after line
    line : (q,) int array
    position : (q,) float array, where each point was among the points walked: 3.25 is a quarter past the fourth
    """
    points = points_of(mesh, walks)
    near = np.flatnonzero(_is_near_edge(points, walks, mesh))
    length = np.hypot(*(points[near + 1] - points[near]).T)
    n_steps = np.maximum(np.ceil(length / STEP_MM), 1).astype(np.int64)
    piece = np.repeat(near, n_steps + 1)
    first = np.cumsum(n_steps + 1) - (n_steps + 1)
    step = (np.arange(len(piece)) - np.repeat(first, n_steps + 1)) / np.repeat(n_steps, n_steps + 1)
    is_end = np.append(True, np.diff(walks.line) != 0) | np.append(np.diff(walks.line) != 0, True)
    looked_at = np.unique(np.concatenate([piece + step, np.flatnonzero(is_end)]))
    position = np.unique(np.concatenate([np.arange(len(points)), looked_at]))
    before = position.astype(np.int64)
    after = np.minimum(before + 1, len(points) - 1)
    rest = (position - before)[:, None]
    placed = points[before] * (1 - rest) + points[after] * rest
    at = np.searchsorted(position, looked_at)
    placed[at] = _moved_in(placed[at], metal)
    return placed, walks.line[before], position


def _is_near_edge(points: PointArray, walks: Walks, mesh: Mesh) -> BoolArray:
    """Return (p,) which pieces come near an edge of the metal; False for the last point of a line."""
    free = np.flatnonzero(mesh.edge_marks < 0)
    middle = mesh.rings.at(mesh.edge_ends_mm.mean(axis=1))
    begin, end = mesh.points_mm[mesh.edges[:, 0]], mesh.points_mm[mesh.edges[:, 1]]
    along = (end - begin) / np.hypot(*(end - begin).T)[:, None]
    bulge_mm = np.maximum(_left_of(middle, begin, along), 0.0)
    edge = _edge_of_triangles(mesh, free)[walks.side // 3]
    far = bulge_mm[edge] + 2 * CLEAR_MM
    one, other = (_left_of(each, begin[edge], along[edge]) for each in (points, np.roll(points, -1, axis=0)))
    is_near = (edge >= 0) & (np.minimum(one, other) < far)
    is_at_node = _is_at_node(walks, mesh, free)
    goes_on = np.append(walks.line[1:] == walks.line[:-1], False)
    return np.asarray(goes_on & (is_near | is_at_node | np.roll(is_at_node, -1)))


def _is_at_node(walks: Walks, mesh: Mesh, edges: IntArray) -> BoolArray:
    """Return (p,) which points come near an end of one of the edges: nodes lie on chords, not on the arcs themselves."""
    on_edge = np.zeros(len(mesh.points_mm), dtype=bool)
    on_edge[mesh.edges[edges].ravel()] = True
    begin, end = side_ends(mesh, walks.side)
    length = np.hypot(*(mesh.points_mm[end] - mesh.points_mm[begin]).T)
    from_begin, from_end = walks.share * length, (1 - walks.share) * length
    return np.asarray((on_edge[begin] & (from_begin < 2 * CLEAR_MM)) | (on_edge[end] & (from_end < 2 * CLEAR_MM)))


def _left_of(points: PointArray, begin: PointArray, along: PointArray) -> FloatArray:
    return np.asarray(along[:, 0] * (points - begin)[:, 1] - along[:, 1] * (points - begin)[:, 0])


def _edge_of_triangles(mesh: Mesh, edges: IntArray) -> IntArray:
    """Return (t,) which of the given edges each triangle has; -1 for none."""
    edge_of = np.full(len(mesh.triangles), -1, dtype=np.int64)
    edge_of[Sides(mesh.triangles, len(mesh.points_mm)).triangle_at(mesh.edges[edges])] = edges
    return edge_of


def _moved_in(points: PointArray, metal: MultiPolygon) -> PointArray:
    import shapely

    if len(points) == 0:
        return points
    edge = metal.boundary
    shapely.prepare([metal, edge])
    here = shapely.points(points)
    is_inside = shapely.contains_xy(metal, points[:, 0], points[:, 1])
    close = np.flatnonzero(~is_inside | shapely.dwithin(edge, here, CLEAR_MM))
    foot = shapely.get_coordinates(shapely.shortest_line(edge, here[close])).reshape(-1, 2, 2)[:, 0]
    inward = np.where(is_inside[close, None], points[close] - foot, foot - points[close])
    length = np.hypot(*inward.T)[:, None]
    moved = points.copy()
    moved[close] = np.where(length > 1e-9, foot + CLEAR_MM * inward / np.maximum(length, 1e-9), points[close])
    return moved
