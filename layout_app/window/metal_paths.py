"""Painter paths of contours and segments, true arcs kept; made once for each Segment and reused."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath

from layout_app.geometry.contours import Contour
from layout_app.plates.segments import Segment


def add_contour(path: QPainterPath, contour: Contour) -> None:
    """Add a closed loop in layout millimetres. Qt turns angles the other way round, because its y points down."""
    starts, ends = contour.vertices_mm.tolist(), contour.ends_mm.tolist()
    path.moveTo(*starts[0])
    if not contour.is_arc.any():
        for x, y in ends[:-1]:
            path.lineTo(x, y)
        path.closeSubpath()
        return
    edges = zip(
        starts, ends, contour.bulges.tolist(), contour.arc_centres_mm.tolist(), contour.arc_radii_mm.tolist(),
        strict=True,
    )  # fmt: skip
    for (x0, y0), (x1, y1), bulge, (cx, cy), radius in edges:
        if bulge == 0:
            path.lineTo(x1, y1)
            continue
        box = QRectF(cx - radius, cy - radius, 2 * radius, 2 * radius)
        first = -math.degrees(math.atan2(y0 - cy, x0 - cx))
        path.arcTo(box, first, -math.degrees(4 * math.atan(bulge)))
    path.closeSubpath()


def path_of(contours: Iterable[Contour]) -> QPainterPath:
    """Return one path of several loops; loops inside loops are holes."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for contour in contours:
        add_contour(path, contour)
    return path


@dataclass(frozen=True, slots=True)
class MetalPath:
    """A segment ready to be drawn: with its windows, and without for views from far away."""

    segment: Segment
    solid: QPainterPath
    cut: QPainterPath
    bounds_mm: QRectF

    @classmethod
    def of(cls, segment: Segment) -> MetalPath:
        """Return the paths of a segment."""
        solid = path_of(segment.contours())
        cut = QPainterPath(solid)
        for x, y, radius in segment.circles_mm.tolist():
            cut.addEllipse(QPointF(x, y), radius, radius)
        return cls(segment, solid, cut, cut.boundingRect())


class MetalPaths:
    """The paths of the segments shown last, kept while the Segment is the same object."""

    def __init__(self) -> None:
        self._kept: dict[int, MetalPath] = {}

    def of(self, segments: Iterable[Segment]) -> tuple[MetalPath, ...]:
        """Return a path for each segment and forget those of segments that are gone."""
        paths = tuple(self._kept.get(id(segment)) or MetalPath.of(segment) for segment in segments)
        self._kept = {id(path.segment): path for path in paths}
        return paths
