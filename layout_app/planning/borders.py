"""Border: the exact edge of a footprint, as pieces of straight lines and circles.

A point of the border is as far from the nearest loop as a centre must be. So it lies on an edge moved inward by that
distance, or on a circle of that radius about a vertex; these curves are cut where they cross, and the pieces no centre
may reach are dropped.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.distances import arc_middles
from layout_app.planning.footprints import Footprint

SLACK_MM = 2e-7  # the border stands this far outside, so a cell that just touches is found; below footprints.TOUCH_MM
ROUNDING_MM = 2e-9  # error of a computed margin; coordinates are taken from the middle of the housing
TANGENT_MM2 = 1e-8  # a secant under 0.2 µm long is a tangent: its foot is within ROUNDING_MM of the circle
JOINT_MM = 1e-5  # crossings this far beyond a curve's end are its end: of nearly parallel curves they are that vague


@dataclass(frozen=True, eq=False)
class Border:
    """Pieces of curves, (n,) arrays and (n, 2) points; a straight piece has radius infinity.

    Attributes
    ----------
    start_mm, end_mm : where each piece begins and ends
    centre_mm, radius_mm : of the circle it lies on; NaN and infinity for a straight one
    start_rad, end_rad : directions of the ends from the centre, end > start; NaN for a straight one
    """

    start_mm: PointArray
    end_mm: PointArray
    centre_mm: PointArray
    radius_mm: FloatArray
    start_rad: FloatArray
    end_rad: FloatArray

    @classmethod
    def of(cls, footprint: Footprint) -> Border:
        """Return the border of a footprint, widened by SLACK_MM."""
        curves = _Curves.around(footprint)
        one, other, points = _crossings(curves)
        real = footprint.margins_mm(points) >= -SLACK_MM - ROUNDING_MM
        owner, points = np.concatenate([one[real], other[real]]), np.tile(points[real], (2, 1))
        curve, start, end = _between_cuts(curves, owner, curves.places(owner, points))
        kept = footprint.margins_mm(curves.at(curve, (start + end) / 2)) >= -SLACK_MM - ROUNDING_MM
        return curves.pieces(curve[kept], start[kept], end[kept])


@dataclass(frozen=True, eq=False)
class _Curves:
    """Straight lines and arcs. A place on a line runs from 0 to 1, on an arc from -half to half, rad, from its middle.

    `first` is a line's start or an arc's centre; `second` is a line's end less its start or the unit vector to the
    arc's middle; `half` is 0 for a line.
    """

    first: PointArray
    second: PointArray
    radius: FloatArray
    half: FloatArray

    @classmethod
    def around(cls, footprint: Footprint) -> _Curves:
        loops = [(footprint.outline, footprint.wall_mm, 1.0)]
        loops += [(loop, footprint.keep_out_mm, -1.0) for loop in footprint.keep_outs]
        parts = [part for loop, reach, side in loops for part in _moved_edges(loop, reach - SLACK_MM, side)]
        first, second, radius, half = (np.concatenate([part[k] for part in parts]) for k in range(4))
        return cls(first, second, radius, half)

    @cached_property
    def is_arc(self) -> BoolArray:
        return self.half > 0

    def at(self, curve: IntArray, place: FloatArray) -> PointArray:
        """Return the points at places on curves."""
        straight = self.first[curve] + place[:, None] * self.second[curve]
        x, y = self.second[curve].T
        cos, sin = np.cos(place), np.sin(place)
        spoke = np.column_stack([cos * x - sin * y, sin * x + cos * y])
        bent = self.first[curve] + np.where(self.is_arc, self.radius, 0.0)[curve, None] * spoke
        return np.where(self.is_arc[curve, None], bent, straight)

    def places(self, curve: IntArray, points: PointArray) -> FloatArray:
        """Return where on its curve each point lies."""
        (x, y), (dx, dy) = (points - self.first[curve]).T, self.second[curve].T
        ahead, across = x * dx + y * dy, dx * y - dy * x
        length_sq = np.where(self.is_arc[curve], 1.0, dx * dx + dy * dy)
        place = np.where(self.is_arc[curve], np.arctan2(across, ahead), ahead / length_sq)
        return np.asarray(place, dtype=np.float64)

    @cached_property
    def ends(self) -> tuple[FloatArray, FloatArray]:
        """The first and last place on each curve."""
        return np.where(self.is_arc, -self.half, 0.0), np.where(self.is_arc, self.half, 1.0)

    @cached_property
    def scale_mm(self) -> FloatArray:
        """Length of one unit of place on each curve."""
        return np.where(self.is_arc, self.radius, np.hypot(*self.second.T))

    def hold(self, curve: IntArray, points: PointArray) -> BoolArray:
        """Return which points of the whole lines and circles lie between the ends of the curves, ends included."""
        places, spare = self.places(curve, points), JOINT_MM / self.scale_mm[curve]
        low, high = (end[curve] for end in self.ends)
        return np.asarray((places >= low - spare) & (places <= high + spare))

    def neighbours(self) -> tuple[IntArray, IntArray]:
        """Return the pairs of curves whose boxes touch, the lower number first."""
        import shapely

        every = np.arange(len(self.half))
        ends = np.stack([self.at(every, place) for place in self.ends])
        bulge_mm = np.where(self.is_arc, self.radius * (1 - np.cos(np.minimum(self.half, np.pi / 2))), 0.0)
        bulge_mm = np.where(self.half > np.pi / 2, 2 * self.radius, bulge_mm)[:, None] + JOINT_MM
        boxes = shapely.box(*(ends.min(axis=0) - bulge_mm).T, *(ends.max(axis=0) + bulge_mm).T)
        i, j = shapely.STRtree(boxes).query(boxes)
        return i[i < j], j[i < j]

    def pieces(self, curve: IntArray, start: FloatArray, end: FloatArray) -> Border:
        arc = self.is_arc[curve]
        middle_rad = np.arctan2(self.second[curve, 1], self.second[curve, 0])
        return Border(
            start_mm=self.at(curve, start),
            end_mm=self.at(curve, end),
            centre_mm=np.where(arc[:, None], self.first[curve], np.nan),
            radius_mm=np.where(arc, self.radius[curve], np.inf),
            start_rad=np.where(arc, middle_rad + start, np.nan),
            end_rad=np.where(arc, middle_rad + end, np.nan),
        )


Part = tuple[PointArray, PointArray, FloatArray, FloatArray]
Crossings = tuple[IntArray, IntArray, PointArray]


def _moved_edges(loop: Contour, reach_mm: float, side: float) -> list[Part]:
    """Return a loop's edges moved to the left (side 1) or right (-1), and circles about its vertices."""
    start, end, arc = loop.vertices_mm, loop.ends_mm, loop.is_arc
    along = end[~arc] - start[~arc]
    length = np.maximum(np.hypot(*along.T), np.finfo(float).tiny)
    left = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
    none = np.zeros(len(along))
    lines = (start[~arc] + side * reach_mm * left, along, none, none)
    bulges = loop.bulges[arc]
    radii = loop.arc_radii_mm[arc] - side * np.sign(bulges) * reach_mm
    half = 2 * np.arctan(np.abs(bulges))
    left_over = radii > 0  # a bend tighter than the reach has nothing at that distance
    middles = arc_middles(start[arc], end[arc], bulges)
    arcs = (loop.arc_centres_mm[arc][left_over], middles[left_over], radii[left_over], half[left_over])
    return [lines, arcs, _corner_arcs(loop, reach_mm, side)]


def _corner_arcs(loop: Contour, reach_mm: float, side: float) -> Part:
    """Return arcs about the vertices that stick out to the given side, each from one edge's normal to the next one's.

    Where the tangent turns away from the side, the vertex is the nearest point of the loop to that whole sector.
    """
    chord = loop.ends_mm - loop.vertices_mm
    chord_rad = np.arctan2(chord[:, 1], chord[:, 0])
    swing_rad = 2 * np.arctan(
        loop.bulges
    )  # the tangent starts this much clockwise of the chord, and ends as much after
    arriving_rad, leaving_rad = np.roll(chord_rad + swing_rad, 1), chord_rad - swing_rad
    turn_rad = (leaving_rad - arriving_rad + np.pi) % (2 * np.pi) - np.pi
    sticks_out = side * turn_rad < -1e-12
    half = np.abs(turn_rad[sticks_out]) / 2
    middle_rad = arriving_rad[sticks_out] + turn_rad[sticks_out] / 2 + side * np.pi / 2
    middle = np.column_stack([np.cos(middle_rad), np.sin(middle_rad)])
    return loop.vertices_mm[sticks_out], middle, np.full(len(half), reach_mm), half


def _crossings(curves: _Curves) -> Crossings:
    """Return where curves cross: the numbers of both curves, and the points."""
    i, j = curves.neighbours()
    swap = curves.is_arc[i] & ~curves.is_arc[j]
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    n_arcs = curves.is_arc[i].astype(int) + curves.is_arc[j]
    pairs = [(i[n_arcs == n], j[n_arcs == n]) for n in range(3)]
    found = [meet(curves, *pair) for meet, pair in zip((_line_line, _line_circle, _circle_circle), pairs, strict=True)]
    one, other, points = (np.concatenate([some[k] for some in found]) for k in range(3))
    on_both = curves.hold(one, points) & curves.hold(other, points)
    return one[on_both], other[on_both], points[on_both]


def _line_line(curves: _Curves, i: IntArray, j: IntArray) -> Crossings:
    gap, d, e = curves.first[j] - curves.first[i], curves.second[i], curves.second[j]
    cross = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
    steep = np.abs(cross) > 1e-12 * np.hypot(*d.T) * np.hypot(*e.T)
    i, j, gap, d, e, cross = (column[steep] for column in (i, j, gap, d, e, cross))
    place = (gap[:, 0] * e[:, 1] - gap[:, 1] * e[:, 0]) / cross
    return i, j, curves.first[i] + place[:, None] * d


def _line_circle(curves: _Curves, i: IntArray, j: IntArray) -> Crossings:
    direction = curves.second[i] / np.hypot(*curves.second[i].T)[:, None]
    to_centre = curves.first[j] - curves.first[i]
    ahead = (to_centre * direction).sum(axis=1)
    aside = to_centre[:, 0] * direction[:, 1] - to_centre[:, 1] * direction[:, 0]
    return _both_sides(i, j, curves.first[i] + ahead[:, None] * direction, direction, curves.radius[j] ** 2 - aside**2)


def _circle_circle(curves: _Curves, i: IntArray, j: IntArray) -> Crossings:
    gap = curves.first[j] - curves.first[i]
    distance = np.hypot(*gap.T)
    apart = distance > ROUNDING_MM
    i, j, gap, distance = i[apart], j[apart], gap[apart], distance[apart]
    direction = gap / distance[:, None]
    ahead = (distance**2 + curves.radius[i] ** 2 - curves.radius[j] ** 2) / (2 * distance)
    across = np.column_stack([-direction[:, 1], direction[:, 0]])
    foot = curves.first[i] + ahead[:, None] * direction
    return _both_sides(i, j, foot, across, curves.radius[i] ** 2 - ahead**2)


def _both_sides(i: IntArray, j: IntArray, foot: PointArray, direction: PointArray, half_sq: FloatArray) -> Crossings:
    """Return the points half a secant to either side of its foot, where there is a secant; a tangent's foot itself."""
    met = half_sq >= -TANGENT_MM2
    half = np.sqrt(np.where(half_sq[met] > TANGENT_MM2, half_sq[met], 0.0))
    step = half[:, None] * direction[met]
    points = np.vstack([foot[met] - step, foot[met] + step])
    return np.tile(i[met], 2), np.tile(j[met], 2), points


def _between_cuts(curves: _Curves, owner: IntArray, place: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return all stretches of all curves between cuts and ends: curve, start, end."""
    ends = np.arange(len(curves.half))
    low, high = curves.ends
    on_curve = (place > low[owner]) & (place < high[owner])
    curve = np.concatenate([owner[on_curve], ends, ends])
    place = np.concatenate([place[on_curve], low, high])
    order = np.lexsort([place, curve])
    curve, place = curve[order], place[order]
    follows = (curve[1:] == curve[:-1]) & ((place[1:] - place[:-1]) * curves.scale_mm[curve[1:]] > ROUNDING_MM)
    return curve[1:][follows], place[:-1][follows], place[1:][follows]
