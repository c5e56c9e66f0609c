"""Face view: all that is drawn of one face, mirrored where seen from below, with a clear place for every label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.exchange.hole_table import HoleTable
from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

DIGIT_WIDTH = 0.8  # of its height: wider than the digits of the usual drawing fonts, so that boxes err on the safe side
ROUGH_MM = 0.2  # chords for finding a clear place: a label needs no more
# Where a group number may stand in its cell: first choice first, so that all stand alike where nothing is in the way
_DIRECTIONS = np.array([(0, 1), (0, -1), (1, 0), (-1, 0), (0.6, 0.8), (-0.6, 0.8), (0.6, -0.8), (-0.6, -0.8)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceView:
    """One face as drawn. All coordinates are already those of the view.

    Attributes
    ----------
    mirror_x_mm : the vertical line the view is mirrored about when seen from below, else None
    centres_mm : (n, 2) cell centres
    segments : the segments of this face that have metal
    holes : the face's round holes, numbered
    group_labels_mm : (n, 3) x, y, height of the group number in each cell
    segment_labels_mm : (k, 3) x, y, height of the number on each segment
    """

    layout: Layout
    face: Face
    mirror_x_mm: float | None
    outline: Contour
    keep_outs: tuple[Contour, ...]
    centres_mm: PointArray
    segments: tuple[Segment, ...]
    holes: HoleTable
    group_labels_mm: FloatArray
    segment_labels_mm: FloatArray

    @classmethod
    def of(cls, layout: Layout, segments: Sequence[Segment], face: Face, *, from_below: bool = False) -> FaceView:
        """Return the view of one face, from above or from below."""
        mirror_x_mm = mirror_line_mm(layout) if from_below else None
        mine = tuple(segment for segment in segments if segment.face == face and segment.pieces)
        outline, keep_outs, centres_mm = layout.housing.outline, layout.housing.keep_outs, layout.cells.centres_mm
        if mirror_x_mm is not None:
            mine = tuple(mirrored_segment(segment, mirror_x_mm) for segment in mine)
            outline = outline.mirrored(mirror_x_mm)
            keep_outs = tuple(loop.mirrored(mirror_x_mm) for loop in keep_outs)
            centres_mm = mirrored_points_mm(centres_mm, mirror_x_mm)
        holes = HoleTable.of(mine)
        group_labels_mm = _group_labels_mm(layout, centres_mm, holes)
        return cls(
            layout=layout,
            face=face,
            mirror_x_mm=mirror_x_mm,
            outline=outline,
            keep_outs=keep_outs,
            centres_mm=centres_mm,
            segments=mine,
            holes=holes,
            group_labels_mm=group_labels_mm,
            segment_labels_mm=_segment_labels_mm(mine, group_labels_mm, layout.cell_type.diameter_mm),
        )

    @property
    def from_below(self) -> bool:
        """Whether the view is mirrored."""
        return self.mirror_x_mm is not None

    @property
    def seen(self) -> str:
        """How the face is looked at, in words."""
        return "seen from below" if self.from_below else "seen from above"

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """x min, y min, x max, y max of everything drawn to scale."""
        radius_mm = self.layout.cell_type.diameter_mm / 2
        boxes = [self.outline.bounds_mm]
        if len(self.centres_mm):
            boxes.append((*self.centres_mm.min(axis=0) - radius_mm, *self.centres_mm.max(axis=0) + radius_mm))
        boxes += [piece.outline.bounds_mm for segment in self.segments for piece in segment.pieces]
        low, high = np.array(boxes)[:, :2].min(axis=0).tolist(), np.array(boxes)[:, 2:].max(axis=0).tolist()
        return low[0], low[1], high[0], high[1]


def mirror_line_mm(layout: Layout) -> float:
    """Return x of the vertical line views from below are mirrored about: the middle of the housing."""
    x_min, _, x_max, _ = layout.housing.outline.bounds_mm
    return (x_min + x_max) / 2


def mirrored_points_mm(points_mm: FloatArray, x_mm: float) -> FloatArray:
    """Return (n, 2 or more) points with their x mirrored about the vertical line at `x_mm`."""
    mirrored = np.array(points_mm)
    mirrored[:, 0] = 2 * x_mm - mirrored[:, 0]
    return mirrored


def mirrored_segment(segment: Segment, x_mm: float) -> Segment:
    """Return the segment mirrored about the vertical line at `x_mm`."""
    holes = tuple((2 * x_mm - x, y, radius) for x, y, radius in segment.bolt_holes_mm)
    return replace(
        segment,
        pieces=tuple(
            Region(piece.outline.mirrored(x_mm), tuple(hole.mirrored(x_mm) for hole in piece.holes))
            for piece in segment.pieces
        ),
        windows_mm=mirrored_points_mm(segment.windows_mm, x_mm),
        bolt_hole_mm=holes[0] if holes else None,
        more_bolt_holes_mm=holes[1:],
    )


def label_height_mm(clear_mm: FloatArray, n_digits: FloatArray, most_mm: float) -> FloatArray:
    """Return the height of numbers whose box fits a circle of radius `clear_mm`, at most `most_mm`."""
    return np.asarray(np.clip(2 * clear_mm / np.hypot(1, DIGIT_WIDTH * n_digits), 0, most_mm), dtype=np.float64)


def _group_labels_mm(layout: Layout, centres_mm: PointArray, holes: HoleTable) -> FloatArray:
    """Place each cell's group number where it is farthest from the can's edge and the windows over the cell."""
    radius_mm = layout.cell_type.diameter_mm / 2
    distances_mm = radius_mm * np.linspace(0.2, 0.95, 16)
    offsets_mm = (_DIRECTIONS[:, None] * distances_mm[None, :, None]).reshape(-1, 2)
    clear_mm = np.tile(radius_mm - np.hypot(*offsets_mm.T), (len(centres_mm), 1))
    is_window = holes.cells >= 0
    cells, circles_mm = holes.cells[is_window], holes.circles_mm[is_window]
    np.minimum.at(clear_mm, cells, _clear_of_mm(centres_mm[cells, None] + offsets_mm, circles_mm[:, None]))
    for bolt_mm in holes.circles_mm[~is_window]:
        clear_mm = np.minimum(clear_mm, _clear_of_mm(centres_mm[:, None] + offsets_mm, bolt_mm))
    best = clear_mm.round(6).argmax(axis=1)  # rounded: equal places must not be told apart by the last digit
    n_digits = np.char.str_len(layout.cells.groups.astype(str)).astype(np.float64)
    height_mm = label_height_mm(clear_mm.max(axis=1, initial=0), n_digits, 0.26 * radius_mm)
    return np.column_stack([centres_mm + offsets_mm[best], height_mm])


def _clear_of_mm(points_mm: FloatArray, circles_mm: FloatArray) -> FloatArray:
    """Return how far (…, 2) points lie outside (…, 3) circles x, y, radius."""
    away = points_mm - circles_mm[..., :2]
    return np.asarray(np.hypot(away[..., 0], away[..., 1]) - circles_mm[..., 2], dtype=np.float64)


def _segment_labels_mm(segments: Sequence[Segment], taken_mm: FloatArray, diameter_mm: float) -> FloatArray:
    """Place each segment's number in the largest clear circle of its metal near its middle."""
    labels = [_segment_label_mm(segment, taken_mm, diameter_mm) for segment in segments]
    return np.array(labels).reshape(-1, 3)


def _segment_label_mm(segment: Segment, taken_mm: FloatArray, diameter_mm: float) -> tuple[float, float, float]:
    import shapely

    pieces = [piece.polygon(ROUGH_MM) for piece in segment.pieces]
    metal = max(shapely.make_valid(pieces), key=shapely.area)  # a faulty outline is drawn too, so that it can be seen
    x_mm, y_mm = _middle_mm(segment, metal)
    reach_mm = 2.5 * diameter_mm  # looking at the whole of a long segment costs time and gains little
    part = shapely.clip_by_rect(metal, x_mm - reach_mm, y_mm - reach_mm, x_mm + reach_mm, y_mm + reach_mm)
    groups = taken_mm[segment.window_cells] * (1, 1, 1.35)  # heights to radii: room for three digits
    circles = np.vstack([segment.circles_mm, groups])
    near = np.abs(circles[:, :2] - (x_mm, y_mm)).max(axis=1) < reach_mm + diameter_mm
    taken = shapely.buffer(shapely.points(circles[near, :2]), circles[near, 2], quad_segs=4)
    free = shapely.difference(part, shapely.union_all(taken))
    if not shapely.area(free) > 0:
        return x_mm, y_mm, 0.0
    radius = shapely.maximum_inscribed_circle(free, tolerance=ROUGH_MM)
    (x_mm, y_mm), _ = shapely.get_coordinates(radius).tolist()
    digits = np.array([len(str(segment.number))])
    height = label_height_mm(np.array([0.9 * radius.length]), digits, 0.4 * diameter_mm)
    return x_mm, y_mm, float(height[0])


def _middle_mm(segment: Segment, metal: BaseGeometry) -> tuple[float, float]:
    """Return the window centre nearest the mean of them all; a mean alone may lie off a curved segment."""
    centres = segment.window_centres_mm
    if not len(centres):
        inside = metal.representative_point()
        return float(inside.x), float(inside.y)
    x_mm, y_mm = centres[np.hypot(*(centres - centres.mean(axis=0)).T).round(6).argmin()].tolist()
    return x_mm, y_mm
