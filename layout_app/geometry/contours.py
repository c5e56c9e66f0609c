"""Contour: a closed loop of straight edges and circular arcs, exact until somebody asks for chords."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray, frozen_floats, rotation

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from shapely import Polygon

CHORD_TOLERANCE_MM = 0.001  # chords for boolean work: a fifth of the 0.005 mm a drawing may be off
STRAIGHT_BULGE = 1e-12  # below it an edge 100 m long rises 0.05 µm: straight, and its radius would only cost digits


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """A closed loop; edge k runs from vertex k to vertex k+1, the last one back to vertex 0.

    Attributes
    ----------
    vertices_mm : (n, 2) read-only float array, n >= 2, mm; the first vertex is not repeated at the end
    bulges : (n,) read-only float array; edge k's tan(included angle / 4), positive counter-clockwise, 0 straight
        (the meaning of DXF group 42); bulges that rise less than rounding (STRAIGHT_BULGE) are stored as 0
    """

    vertices_mm: PointArray
    bulges: FloatArray

    def __init__(self, vertices_mm: ArrayLike, bulges: ArrayLike | None = None) -> None:
        vertices = frozen_floats(vertices_mm, n_columns=2)
        object.__setattr__(self, "vertices_mm", vertices)
        turns = np.zeros(len(vertices)) if bulges is None else np.asarray(bulges, dtype=np.float64)
        if (straight := (np.abs(turns) < STRAIGHT_BULGE) & (turns != 0)).any():
            turns = np.where(straight, 0.0, turns)
        object.__setattr__(self, "bulges", frozen_floats(turns))
        if len(self.bulges) != len(vertices):
            raise ValueError(f"{len(vertices)} vertices need as many bulges, not {len(self.bulges)}")
        if len(vertices) < 2 or (len(vertices) == 2 and not self.bulges.any()):
            raise ValueError("a contour needs three straight edges, or two of which one is an arc")
        if not (np.isfinite(vertices).all() and np.isfinite(self.bulges).all()):
            raise ValueError("a contour's coordinates must be finite numbers")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Contour):
            return NotImplemented
        return np.array_equal(self.vertices_mm, other.vertices_mm) and np.array_equal(self.bulges, other.bulges)

    def __hash__(self) -> int:
        return hash((self.vertices_mm.tobytes(), self.bulges.tobytes()))

    # -- makers -------------------------------------------------------------------------------------------------

    @classmethod
    def circle(cls, x_mm: float, y_mm: float, radius_mm: float) -> Contour:
        """Return a counter-clockwise circle: two half arcs."""
        return cls([(x_mm - radius_mm, y_mm), (x_mm + radius_mm, y_mm)], [1.0, 1.0])

    @classmethod
    def rectangle(cls, width_mm: float, height_mm: float, corner_mm: float = 0.0) -> Contour:
        """Return a counter-clockwise rectangle with its lower left corner at the origin and round corners.

        >>> Contour.rectangle(4.0, 3.0).area_mm2
        12.0
        """
        w, h, r = width_mm, height_mm, corner_mm
        if r == 0:
            return cls([(0, 0), (w, 0), (w, h), (0, h)])
        quarter = math.tan(math.pi / 8)
        points = [(r, 0), (w - r, 0), (w, r), (w, h - r), (w - r, h), (r, h), (0, h - r), (0, r)]
        return cls(points, [0, quarter] * 4).without_null_edges()

    # -- what it is ---------------------------------------------------------------------------------------------

    @property
    def ends_mm(self) -> PointArray:
        """(n, 2): where each edge ends."""
        return np.concatenate([self.vertices_mm[1:], self.vertices_mm[:1]])  # np.roll takes ten times as long

    @property
    def is_arc(self) -> BoolArray:
        """(n,): which edges are arcs."""
        return np.not_equal(self.bulges, 0)

    @property
    def chords_mm(self) -> FloatArray:
        """(n,): distance from each edge's start to its end, mm."""
        return np.asarray(np.hypot(*(self.ends_mm - self.vertices_mm).T), dtype=np.float64)

    @property
    def arc_centres_mm(self) -> PointArray:
        """(n, 2): centre of each arc edge, NaN for straight ones."""
        start, end = self.vertices_mm, self.ends_mm
        bulges = np.where(self.is_arc, self.bulges, 1.0)
        ahead = ((1 / bulges - bulges) / 4)[:, None]
        normal = np.column_stack([start[:, 1] - end[:, 1], end[:, 0] - start[:, 0]])
        return np.where(self.is_arc[:, None], (start + end) / 2 + ahead * normal, np.nan)

    @property
    def arc_radii_mm(self) -> FloatArray:
        """(n,): radius of each arc edge, mm; infinite for straight ones."""
        size = np.abs(self.bulges)
        with np.errstate(divide="ignore", invalid="ignore"):  # invalid: an edge of no length
            return np.where(size > 0, self.chords_mm * (1 + size**2) / (4 * size), np.inf)

    @property
    def area_mm2(self) -> float:
        """Exact enclosed area, mm²; positive when the loop runs counter-clockwise."""
        origin = self.vertices_mm[0]  # drawings lie far from the origin: keep the products small
        (x0, y0), (x1, y1) = (self.vertices_mm - origin).T, (self.ends_mm - origin).T
        chords_mm2 = float((x0 * y1 - x1 * y0).sum() / 2)
        if not self.bulges.any():
            return chords_mm2
        return chords_mm2 + float((self.chords_mm**2 * bow_areas(self.bulges)).sum())

    @property
    def perimeter_mm(self) -> float:
        """Exact length of the loop, mm."""
        return float(self.lengths_mm.sum())

    @property
    def lengths_mm(self) -> FloatArray:
        """(n,): exact length of each edge, mm."""
        radii = np.where(self.is_arc, self.arc_radii_mm, 0.0)
        return np.where(self.is_arc, np.abs(4 * np.arctan(self.bulges)) * radii, self.chords_mm)

    @property
    def turns_rad(self) -> FloatArray:
        """(n,): how far the loop turns at each vertex, rad, positive to the left."""
        chord = self.ends_mm - self.vertices_mm
        heading = np.arctan2(chord[:, 1], chord[:, 0])
        half = 2 * np.arctan(self.bulges)  # an arc starts half its included angle to the right of its chord
        arriving = np.roll(heading + half, 1)
        return np.asarray(np.mod((heading - half) - arriving + np.pi, 2 * np.pi) - np.pi, dtype=np.float64)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """x min, y min, x max, y max of the exact loop, mm."""
        everything = np.vstack([self.vertices_mm, self._compass_points_mm()])
        (x_min, y_min), (x_max, y_max) = everything.min(axis=0), everything.max(axis=0)
        return float(x_min), float(y_min), float(x_max), float(y_max)

    def _compass_points_mm(self) -> PointArray:
        """(m, 2): where the arcs run furthest right, up, left or down."""
        arcs = np.flatnonzero(self.is_arc)
        centres, radii, included = self.arc_centres_mm[arcs], self.arc_radii_mm[arcs], 4 * np.arctan(self.bulges[arcs])
        spokes = self.vertices_mm[arcs] - centres
        compass = np.arange(4) * math.pi / 2
        turned = (
            (compass - np.arctan2(spokes[:, 1], spokes[:, 0])[:, None]) * np.sign(included)[:, None] % (2 * math.pi)
        )
        passes = turned <= np.abs(included)[:, None]
        ways = np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])
        return np.asarray((centres[:, None] + radii[:, None, None] * ways)[passes])

    @property
    def as_circle(self) -> tuple[float, float, float] | None:
        """(x, y, radius) in mm when every edge lies on one circle, else None."""
        if not self.is_arc.all() or abs(abs(np.arctan(self.bulges).sum()) - math.pi / 2) > 1e-9:
            return None  # a straight edge, or arcs that do not go round exactly once
        centres, radii = self.arc_centres_mm, self.arc_radii_mm
        size = max(1.0, float(np.abs(self.vertices_mm).max()))
        if np.ptp(centres, axis=0).max() > 1e-9 * size or np.ptp(radii) > 1e-9 * size:
            return None
        x, y = centres.mean(axis=0)
        return float(x), float(y), float(radii.mean())

    # -- other forms --------------------------------------------------------------------------------------------

    def flattened(self, tolerance_mm: float = CHORD_TOLERANCE_MM) -> PointArray:
        """Return (m, 2) vertices of the loop with arcs as chords; arc ends and chord ends lie on the exact loop."""
        if not self.is_arc.any():
            return self.vertices_mm
        radii, included = self.arc_radii_mm, 4 * np.arctan(self.bulges)
        step = 4 * np.arcsin(np.sqrt(np.minimum(tolerance_mm / (2 * radii), 0.5)))  # sagitta = r (1 - cos(step / 2))
        wanted = np.ceil(np.abs(included) / np.where(self.is_arc, step, 1.0))
        n_chords = np.where(self.is_arc, np.maximum(wanted, 2), 1).astype(int)
        edge = np.repeat(np.arange(len(n_chords)), n_chords)
        first = np.cumsum(n_chords) - n_chords
        points = self.points_along(edge, (np.arange(len(edge)) - first[edge]) / n_chords[edge])
        points[first] = self.vertices_mm
        return points

    def points_along(self, edges: IntArray, fractions: FloatArray) -> PointArray:
        """Return (m, 2) points on the given edges, each at a fraction 0…1 of its edge's length.

        Measured from the chord, not from the arc's centre, so that shallow arcs keep all their digits.
        """
        chords, half = (self.ends_mm - self.vertices_mm)[edges], 2 * np.arctan(self.bulges)[edges]
        sine = np.sin(half)
        reach = np.where(half == 0, fractions, np.sin(fractions * half) / np.where(half == 0, 1.0, sine))
        turn = (fractions - 1) * half
        cos, sin = reach * np.cos(turn), reach * np.sin(turn)
        across = np.column_stack([-chords[:, 1], chords[:, 0]])
        return np.asarray(self.vertices_mm[edges] + cos[:, None] * chords + sin[:, None] * across, dtype=np.float64)

    def polygon(self, tolerance_mm: float = CHORD_TOLERANCE_MM) -> Polygon:
        """Return the flattened loop as a shapely polygon."""
        from shapely import Polygon  # figures need no shapely: load it when a shape is wanted

        return Polygon(self.flattened(tolerance_mm))

    def reversed(self) -> Contour:
        """Return the same loop run the other way, starting from the same vertex."""
        return Contour(np.roll(self.vertices_mm[::-1], 1, axis=0), -self.bulges[::-1])

    def counter_clockwise(self) -> Contour:
        """Return this loop, turned round if it runs clockwise."""
        return self if self.area_mm2 >= 0 else self.reversed()

    def moved(self, dx_mm: float, dy_mm: float) -> Contour:
        """Return the loop shifted by (dx, dy)."""
        return Contour(self.vertices_mm + (dx_mm, dy_mm), self.bulges)

    def turned(self, angle_rad: float, about_mm: tuple[float, float] = (0.0, 0.0)) -> Contour:
        """Return the loop turned counter-clockwise about a point."""
        return Contour((self.vertices_mm - about_mm) @ rotation(angle_rad).T + about_mm, self.bulges)

    def mirrored(self, x_mm: float = 0.0) -> Contour:
        """Return the loop mirrored about the vertical line at `x_mm`, still running the same way round."""
        return Contour(self.vertices_mm * (-1, 1) + (2 * x_mm, 0), -self.bulges).reversed()

    def without_null_edges(self, shortest_mm: float = 1e-9) -> Contour:
        """Return the loop without edges shorter than `shortest_mm`; their start vertices go."""
        keep = self.chords_mm > shortest_mm
        return self if keep.all() else Contour(self.vertices_mm[keep], self.bulges[keep])


def bow_areas(bulges: FloatArray) -> FloatArray:
    """Return the area between each arc and its chord, over the chord squared; signed like the bulge.

    Source: derived. With the included angle u the circular segment has r² (u - sin u) / 2 and the chord is
    2 r sin(u / 2), so the ratio is (u - sin u) / (8 sin²(u / 2)). The difference loses its digits as u goes to 0;
    there the series u/12 (1 + u²/30 + u⁴/840) of the same ratio is used.
    """
    u = 4 * np.arctan(bulges)
    small = np.abs(u) < 0.01
    wide = np.where(small, 1.0, u)
    series = u / 12 * (1 + u**2 / 30 + u**4 / 840)
    return np.where(small, series, (wide - np.sin(wide)) / (8 * np.sin(wide / 2) ** 2))
