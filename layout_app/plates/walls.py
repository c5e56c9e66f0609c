"""Walls: the housing's outline in steps of a millimetre, to look along for a place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing

SAMPLE_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wall:
    """Points along a housing's outline, counter-clockwise.

    Attributes
    ----------
    points_mm, outward : (n, 2) float arrays, the points and the unit vectors out of the housing there
    to_end_mm : (n,) float array, along the wall to the nearer end of the edge the point is on
    radius_mm : (n,) float array, of the edge the point is on; infinite where it is straight
    beside : (n,) int array, the nearest of the points that stand along it
    """

    points_mm: PointArray
    outward: PointArray
    to_end_mm: FloatArray
    radius_mm: FloatArray
    beside: IntArray

    @classmethod
    def of(cls, outline: Contour, standing_mm: PointArray) -> Wall:
        """Return the wall along an outline with the points that stand along it."""
        from scipy.spatial import KDTree

        lengths = outline.lengths_mm
        n_steps = np.maximum(1, np.ceil(lengths / SAMPLE_MM)).astype(int)
        edge = np.repeat(np.arange(len(n_steps)), n_steps)
        first = np.cumsum(n_steps) - n_steps
        fraction = (np.arange(len(edge)) - first[edge] + 0.5) / n_steps[edge]
        chord = (outline.ends_mm - outline.vertices_mm)[edge]
        heading = np.arctan2(chord[:, 1], chord[:, 0]) + 4 * np.arctan(outline.bulges)[edge] * (fraction - 0.5)
        points = outline.points_along(edge, fraction)
        return cls(
            points_mm=points,
            outward=np.column_stack([np.sin(heading), -np.cos(heading)]),
            to_end_mm=np.minimum(fraction, 1 - fraction) * lengths[edge],
            radius_mm=outline.arc_radii_mm[edge],
            beside=np.asarray(KDTree(standing_mm).query(points)[1]),
        )

    def whole_width(self, is_ours: BoolArray, width_mm: float) -> BoolArray:
        """Return (n,) at which points a strip that wide has nothing but our own stretch of wall under it."""
        half = math.ceil(width_mm / 2 / SAMPLE_MM)
        if 2 * half >= len(is_ours):  # as wide as the wall is long
            return np.full(len(is_ours), is_ours.all())
        window = np.concatenate([is_ours[-half:], is_ours, is_ours[:half]]).astype(int)
        sums = np.concatenate([[0], np.cumsum(window)])
        return np.asarray(sums[2 * half + 1 :] - sums[: -2 * half - 1] == 2 * half + 1)

    def clear_of_keep_outs(self, housing: Housing, width_mm: float, depth_mm: float, setback_mm: float) -> BoolArray:
        """Return (n,) whether a strip that wide, from each point inward, keeps the setback to all keep-outs."""
        import shapely

        if not housing.keep_outs:
            return np.ones(len(self.points_mm), dtype=bool)
        side = np.column_stack([-self.outward[:, 1], self.outward[:, 0]]) * width_mm / 2
        outer, inner = self.points_mm, self.points_mm - depth_mm * self.outward
        strips = shapely.linestrings(np.stack([outer - side, outer + side, inner + side, inner - side], axis=1))
        obstacles = shapely.union_all([loop.polygon(0.01) for loop in housing.keep_outs])
        return np.asarray(shapely.distance(strips, obstacles) >= setback_mm)


def longest_stretch(is_ours: BoolArray) -> IntArray:
    """Return the indices of the longest run of True on a closed loop, in order.

    >>> longest_stretch(np.array([True, False, True, True, False, True])).tolist()
    [2, 3]
    """
    if is_ours.all():
        return np.arange(len(is_ours))
    begin = int(np.flatnonzero(~is_ours)[0])  # starting with a False no run crosses the seam
    turned = np.roll(is_ours, -begin)
    changes = np.flatnonzero(np.diff(np.concatenate([[0], turned.astype(int), [0]])))
    starts, stops = changes[::2], changes[1::2]
    longest = int(np.argmax(stops - starts))
    return np.asarray((np.arange(starts[longest], stops[longest]) + begin) % len(is_ours))
