"""Painter paths of contours and segments, true arcs kept; made once for each Segment and reused."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

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


@dataclass(frozen=True)
class MetalPath:
    """A segment ready to be drawn: with its windows, and without for views from far away."""

    segment: Segment
    solid: QPainterPath
    bounds_mm: QRectF

    @classmethod
    def of(cls, segment: Segment) -> MetalPath:
        """Return the paths of a segment."""
        solid = path_of(segment.contours())
        return cls(segment, solid, solid.boundingRect())

    @cached_property
    def cut(self) -> QPainterPath:
        """The outline with every round hole cut out."""
        cut = QPainterPath(self.solid)
        for x, y, radius in self.segment.circles_mm.tolist():
            cut.addEllipse(QPointF(x, y), radius, radius)
        return cut


class MetalPaths:
    """The paths of the segments asked for last and before, kept while the Segment is the same object.

    Two sets, because the next metal is made ready in another thread while the old one is still on the screen.
    """

    def __init__(self) -> None:
        self._kept: tuple[dict[int, MetalPath], dict[int, MetalPath]] = ({}, {})

    def of(self, segments: Iterable[Segment]) -> tuple[MetalPath, ...]:
        """Return a path for each segment and forget those asked for longer ago."""
        last, before = self._kept
        paths = tuple(last.get(id(s)) or before.get(id(s)) or MetalPath.of(s) for s in segments)
        fresh = {id(path.segment): path for path in paths}
        if fresh.keys() != last.keys():
            self._kept = (fresh, last)
        return paths
