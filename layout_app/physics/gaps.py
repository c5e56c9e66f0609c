"""Gaps: the metal of a segment as patches between windows and edges, and how wide the way is from each to the next.

Delaunay's triangles over the windows' centres and points along the metal's edge are the patches. Two that share a side
are joined through the metal on it: from rim to rim, so that a side to a window's centre counts from the window's rim.

A line that cuts metal in two runs from edge to edge, and may jump over windows, for there it has nothing to cut. The
shortest one between two stretches of edge is made of straight gaps from window to window or edge, and such a gap with
nothing else in the circle over it is a side of the triangles (Gabriel's graph is part of Delaunay's). So the least cut
between patches, found by the theorem of maximum flow and minimum cut, is the narrowest line in the true geometry, all
but what the steps along the edge leave out; the tests hold it to a maximum flow on fine triangles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray

if TYPE_CHECKING:
    from scipy.spatial import Delaunay
    from shapely.geometry.base import BaseGeometry

STEP_MM = 0.7  # between points along the edge: a gap of two millimetres comes out right to 0.03 mm


@dataclass(frozen=True, eq=False)
class Gaps:
    """Patches of metal and the gaps between them.

    Attributes
    ----------
    triangulation : over the centres of the round windows, and after them points along the edge
    radius_mm : (n,) float array of the points; 0 along the edge
    number : (t,) int array, the patch each triangle is; -1 for one outside the metal
    """

    triangulation: Delaunay
    radius_mm: FloatArray
    number: IntArray

    @property
    def n_patches(self) -> int:
        """How many patches there are."""
        return int(self.number.max(initial=-1)) + 1

    @cached_property
    def links(self) -> tuple[IntArray, IntArray]:
        """(m, 2) the patches on both sides of each gap, and (m, 2) the points it lies between."""
        beyond = self.triangulation.neighbors
        one, k = np.nonzero((self.number[:, None] >= 0) & (beyond > np.arange(len(beyond))[:, None]))
        other = beyond[one, k]
        is_metal = self.number[other] >= 0
        rows, k = one[is_metal], k[is_metal]
        corners = self.triangulation.simplices
        ends = np.column_stack([corners[rows, (k + 1) % 3], corners[rows, (k + 2) % 3]])
        return np.column_stack([self.number[rows], self.number[other[is_metal]]]), ends.astype(np.int64)

    @cached_property
    def lines_mm(self) -> FloatArray:
        """(m, 2, 2): each gap as a line from rim to rim."""
        begin, end = self.triangulation.points[self.links[1]].transpose(1, 0, 2)
        r = self.radius_mm[self.links[1]]
        apart = np.maximum(np.hypot(*(end - begin).T), 1e-12)
        clear = np.maximum(apart - r.sum(axis=1), 0.0)
        way = (end - begin) / apart[:, None]
        first = begin + np.minimum(r[:, 0], apart)[:, None] * way
        return np.stack([first, first + clear[:, None] * way], axis=1)

    @cached_property
    def widths_mm(self) -> FloatArray:
        """(m,): how wide each gap is."""
        return np.asarray(np.hypot(*(self.lines_mm[:, 1] - self.lines_mm[:, 0]).T))

    def patches_beside(self, windows: IntArray, points_mm: PointArray) -> IntArray:
        """Return (k,) the patch, of those at each window, that a point lies in, or comes nearest to lying in."""
        corners = self.triangulation.simplices
        triangle, k = np.nonzero((self.number[:, None] >= 0) & np.isin(corners, windows))
        which = np.full(len(self.radius_mm), -1, dtype=np.int64)
        which[windows] = np.arange(len(windows))
        point = which[corners[triangle, k]]
        a, b, c = self.triangulation.points[corners[triangle]].transpose(1, 0, 2)
        p = points_mm[point]
        parts = np.stack([_cross(b - p, c - p), _cross(c - p, a - p), _cross(a - p, b - p)]) / _cross(b - a, c - a)
        order = np.lexsort((-parts.min(axis=0), point))
        owner, first = np.unique(point[order], return_index=True)
        patch = np.full(len(windows), -1, dtype=np.int64)
        patch[owner] = self.number[triangle[order[first]]]
        return patch

    def patches_along(self, line: BaseGeometry) -> IntArray:
        """Return the patches whose side on the metal's edge lies along a line."""
        import shapely

        on_line = shapely.dwithin(line, shapely.points(self.triangulation.points), STEP_MM / 4)
        corners = on_line[self.triangulation.simplices]
        return np.unique(self.number[(corners.sum(axis=1) >= 2) & (self.number >= 0)])


def gaps_of(solid: BaseGeometry, circles_mm: FloatArray) -> Gaps:
    """Return the gaps of metal.

    Parameters
    ----------
    solid : shapely polygon or several, the metal before round windows are taken out
    circles_mm : (w, 3) float array, x, y and radius of the windows
    """
    import shapely
    from scipy.spatial import Delaunay

    rings = shapely.get_rings(shapely.segmentize(shapely.get_parts(solid), STEP_MM))
    edge = np.unique(shapely.get_coordinates(rings), axis=0)
    points = np.vstack([circles_mm[:, :2], edge])
    net = Delaunay(points)
    shapely.prepare(solid)
    middles = points[net.simplices].mean(axis=1)
    is_metal = np.asarray(shapely.contains_xy(solid, middles[:, 0], middles[:, 1]))
    return Gaps(net, np.append(circles_mm[:, 2], np.zeros(len(edge))), _numbered(is_metal))


def _numbered(is_metal: BoolArray) -> IntArray:
    return np.where(is_metal, np.cumsum(is_metal) - 1, -1)


def joined(gaps: Gaps, patches: Sequence[IntArray]) -> tuple[IntArray, int]:
    """Return (patches,) the node of each patch when each given lot of patches is one node, and the number of nodes."""
    node = np.arange(gaps.n_patches)
    for lot in patches:
        if len(lot):
            node[lot] = node[lot[0]]
    _, node = np.unique(node, return_inverse=True)
    return node.astype(np.int64), int(node.max(initial=-1)) + 1


def _cross(u: PointArray, v: PointArray) -> FloatArray:
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
