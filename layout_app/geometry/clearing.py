"""Clearing: what is left of a housing when a distance is kept from its wall and its keep-outs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray
from layout_app.geometry.contours import CHORD_TOLERANCE_MM, Contour

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

CLEARING_TOLERANCE_MM = CHORD_TOLERANCE_MM / 2
STAND_OUT_MM = 0.005  # what a drawing may be off


@dataclass(frozen=True, eq=False)
class Clearing:
    """The space at least a distance from wall and keep-outs.

    Attributes
    ----------
    shape : shapely polygon or multipolygon, arcs as chords; empty when nothing is left
    circles_mm : (m, 3) float array, x, y, radius of every circle its chords may come from
    kept_out : shapely shape, keep-outs and the distance around them; empty when there are none
    """

    shape: BaseGeometry
    circles_mm: FloatArray
    kept_out: BaseGeometry

    def holds(self, shape: BaseGeometry) -> bool:
        """Return whether a shape lies in the clearing; arcs as chords may stand out by STAND_OUT_MM."""
        import shapely

        return bool(shapely.covers(self._widened, shape))

    @cached_property
    def _widened(self) -> BaseGeometry:
        import shapely

        widened = shapely.buffer(self.shape, STAND_OUT_MM, join_style="mitre")
        shapely.prepare(widened)  # asked once for every segment
        return widened


def cleared(outline: Contour, keep_outs: Sequence[Contour], distance_mm: float) -> Clearing:
    """Return the space inside `outline` and outside `keep_outs`, `distance_mm` away from both.

    Parameters
    ----------
    outline, keep_outs : counter-clockwise contours
    distance_mm : 0 or more
    """
    import shapely

    quarter = quarter_chords(distance_mm)
    shape = outline.polygon(CLEARING_TOLERANCE_MM).buffer(-distance_mm, quad_segs=quarter)
    obstacles = shapely.union_all([loop.polygon(CLEARING_TOLERANCE_MM) for loop in keep_outs])
    kept_out = obstacles.buffer(distance_mm, quad_segs=quarter)
    if keep_outs:
        shape = shape.difference(kept_out)
    circles = [_parallel_circles(outline, -distance_mm)]
    circles += [_parallel_circles(loop, distance_mm) for loop in keep_outs]
    return Clearing(shape, np.concatenate(circles), kept_out)


def quarter_chords(radius_mm: float) -> int:
    """Return how many chords a quarter circle needs to stay within the clearing's tolerance, 4 or more."""
    if radius_mm <= CLEARING_TOLERANCE_MM:
        return 4
    return max(4, math.ceil(math.pi / 4 / math.acos(1 - CLEARING_TOLERANCE_MM / radius_mm)))


def _parallel_circles(loop: Contour, outward_mm: float) -> FloatArray:
    """Return (m, 3) circles of the curve parallel to a counter-clockwise loop: its arcs and its rounded corners."""
    arcs = loop.is_arc
    radii = loop.arc_radii_mm[arcs] + np.sign(loop.bulges[arcs]) * outward_mm
    shifted = np.column_stack([loop.arc_centres_mm[arcs], radii])[radii > 0]
    corners = np.sign(outward_mm) * loop.turns_rad > 0
    about_corners = np.column_stack([loop.vertices_mm[corners], np.full(int(corners.sum()), abs(outward_mm))])
    return np.unique(np.concatenate([shifted, about_corners]).round(9), axis=0)


def polygons_in(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a boolean result, leaving out stray lines and points."""
    import shapely

    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
