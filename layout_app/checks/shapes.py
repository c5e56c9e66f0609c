"""The shapes metal checks measure, made once for each segment or housing and kept for the next rule."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.overrides import SegmentOverride
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SLACK_MM = 0.005  # what a drawn vertex may be off the exact contour; no distance is measured finer than that
KEPT = 256  # shapes kept: the faces of a large module, twice


@lru_cache(maxsize=KEPT)
def solid(segment: Segment) -> BaseGeometry:
    """Return the segment's outline with the holes that keep-outs make, windows not taken out; prepared."""
    shape = shapely.union_all([piece.polygon() for piece in segment.pieces])
    shapely.prepare(shape)
    return shape


@lru_cache(maxsize=KEPT)
def edge(segment: Segment) -> BaseGeometry:
    """Return the lines that bound the segment's solid; prepared."""
    lines = shapely.boundary(solid(segment))
    shapely.prepare(lines)
    return lines


@lru_cache(maxsize=8)
def wall(housing: Housing) -> BaseGeometry:
    """Return the housing's inner wall as a prepared line."""
    line = shapely.boundary(housing.outline.polygon())
    shapely.prepare(line)
    return line


@lru_cache(maxsize=8)
def interior(housing: Housing) -> BaseGeometry:
    """Return the area inside the housing's wall, keep-outs included; prepared."""
    shape = housing.outline.polygon()
    shapely.prepare(shape)
    return shape


@lru_cache(maxsize=8)
def obstacles(housing: Housing) -> BaseGeometry:
    """Return the keep-outs as one prepared shape; empty when there are none."""
    return _together(housing.keep_outs)


@lru_cache(maxsize=KEPT)
def own_obstacles(override: SegmentOverride) -> BaseGeometry:
    """Return the keep-outs of one segment as one prepared shape; empty when it has none."""
    return _together(override.keep_outs)


def _together(loops: tuple[Contour, ...]) -> BaseGeometry:
    shape = shapely.union_all([loop.polygon() for loop in loops])
    shapely.prepare(shape)
    return shape


def holds(segment: Segment, points_mm: PointArray) -> BoolArray:
    """Return (n,) whether each point lies in the segment's solid."""
    return np.asarray(shapely.contains_xy(solid(segment), points_mm), dtype=np.bool_)


def to_edge_mm(segment: Segment, points_mm: PointArray) -> FloatArray:
    """Return (n,) distance from each point to the segment's edge, mm; negative outside the metal."""
    distance_mm = shapely.distance(edge(segment), shapely.points(points_mm))
    return np.asarray(np.where(holds(segment, points_mm), distance_mm, -distance_mm), dtype=np.float64)


def nearest_places(one: BaseGeometry, other: BaseGeometry, within_mm: float) -> PointArray:
    """Return (n, 2) places, one for each stretch along which two shapes are nearer than `within_mm`.

    A place is the middle of the shortest bridge between `other` and the stretch of `one` that is too near.
    """
    near = shapely.intersection(one, shapely.buffer(other, within_mm, quad_segs=16))
    stretches = [part for part in shapely.get_parts(near) if not part.is_empty]
    if not stretches:  # nearer by less than the buffer's own chords: the nearest points tell
        stretches = [one]
    bridges = shapely.get_coordinates(shapely.shortest_line(stretches, other))
    return np.asarray(bridges.reshape(-1, 2, 2).mean(axis=1), dtype=np.float64)
