"""Differences drawn over a layout: told apart by shape, not by colour alone.

An arrow leads from where a cell stood to where it stands, a ring with + is around one added, × where one was removed,
a square with the former group around one regrouped, brackets beside one locked or unlocked, a dashed line around
segments that changed or, where there are many, hatching over them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen

from layout_app.comparing import Comparison
from layout_app.geometry.arrays import PointArray

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

MOST_FULL = 300  # marks in view: more are drawn as bare outlines, which a frame has time for
MOST_OUTLINED = 12  # segments
LABELS_FROM_PX = 26.0  # can diameter on the screen


def paint_differences(painter: QPainter, canvas: Canvas, comparison: Comparison) -> None:
    """Mark what differs, on a canvas that shows either of the two layouts."""
    marks = _Marks(painter, canvas)
    _paint_segments(painter, canvas, comparison)
    a, b, cells = comparison.a.layout.cells, comparison.b.layout.cells, comparison.cells
    regrouped = b.centres_mm[cells.regrouped[:, 1]]
    marks.squares(regrouped, a.groups[cells.regrouped[:, 0]])
    marks.arrows(a.centres_mm[cells.moved[:, 0]], b.centres_mm[cells.moved[:, 1]])
    marks.rings(b.centres_mm[cells.added])
    marks.crosses(a.centres_mm[cells.removed])
    for pairs, word in ((cells.locked, "locked"), (cells.unlocked, "unlocked")):
        marks.brackets(b.centres_mm[pairs[:, 1]], word, has_label=~np.isin(pairs[:, 1], cells.regrouped[:, 1]))


def _paint_segments(painter: QPainter, canvas: Canvas, comparison: Comparison) -> None:
    """Outline the segments that differ; where there are many, hatch them, which takes a tenth of the time."""
    changed = {change.number for change in comparison.segments}
    shown = [s for s in canvas.scene.segments if s.number in changed and s.face in canvas.scene.faces]
    to_screen = canvas.view.q_transform()
    view = QRectF(0, 0, canvas.view.width_px, canvas.view.height_px)
    paths = [path for path in canvas.metal_paths(shown) if to_screen.mapRect(path.bounds_mm).intersects(view)]
    painter.save()
    if len(paths) > MOST_OUTLINED:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        hatching = QBrush(canvas.theme.colour("accent", 0.6), Qt.BrushStyle.FDiagPattern)
        hatching.setTransform(to_screen.inverted()[0].scale(canvas.ratio, canvas.ratio))
        painter.setTransform(to_screen)
        for path in paths:
            painter.fillPath(path.solid, hatching)
    else:
        painter.setPen(QPen(canvas.theme.colour("accent"), 2 * canvas.ratio, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for path in paths:
            painter.drawPath(to_screen.map(path.solid))
    painter.restore()


class _Marks:
    """Draws marks of one kind after the other, each with a halo so that it reads on any tint."""

    def __init__(self, painter: QPainter, canvas: Canvas) -> None:
        self.painter, self.canvas, self.ratio = painter, canvas, canvas.ratio
        self.radius = canvas.scene.layout.cell_type.diameter_mm / 2 * canvas.view.px_per_mm
        self.painter.setBrush(Qt.BrushStyle.NoBrush)

    def pens(self, width: float = 2.4) -> tuple[QPen, ...]:
        """Halo and line; the line alone where there is no room for both."""
        line = QPen(self.canvas.theme.colour("accent"), width * self.ratio)
        if self.radius <= 6 * self.ratio:
            return (line,)
        halo = QColor(16, 22, 27, 200) if self.canvas.theme.is_dark else QColor(255, 255, 255, 215)
        return QPen(halo, (width + 2.6) * self.ratio), line

    def squares(self, places_mm: PointArray, groups: np.ndarray) -> None:
        places, shown = self._seen(places_mm)
        half = self.radius * 0.72
        boxes = [QRectF(x - half, y - half, 2 * half, 2 * half) for x, y in places.tolist()]
        for pen in self.pens():
            self.painter.setPen(pen)
            self.painter.drawRects(boxes)
        if len(places) <= MOST_FULL and 2 * self.radius >= LABELS_FROM_PX * self.canvas.text_ratio:
            for (x, y), group in zip(places.tolist(), groups[shown].tolist(), strict=True):
                self._label(
                    x,
                    y,
                    translate("canvas", "was {group}").format(group=group) if group else translate("canvas", "was –"),
                )

    def arrows(self, from_mm: PointArray, to_mm: PointArray) -> None:
        ends, shown = self._seen(to_mm)
        starts = self.canvas.view.to_screen(from_mm)[shown] if len(from_mm) else ends
        lines = []
        for (x0, y0), (x1, y1) in zip(starts.tolist(), ends.tolist(), strict=True):
            lines += _arrow(QPointF(x0, y0), QPointF(x1, y1), 8 * self.ratio)
        for pen in self.pens():
            self.painter.setPen(pen)
            self.painter.drawLines(lines)
        self.painter.setPen(QPen(self.canvas.theme.colour("accent"), 1.4 * self.ratio, Qt.PenStyle.DotLine))
        for x, y in starts[:MOST_FULL].tolist():
            self.painter.drawEllipse(QPointF(x, y), self.radius, self.radius)

    def rings(self, places_mm: PointArray) -> None:
        places, _ = self._seen(places_mm)
        for pen in self.pens():
            self.painter.setPen(pen)
            for x, y in places.tolist():
                self.painter.drawEllipse(QPointF(x, y), self.radius, self.radius)
        if len(places) <= MOST_FULL and 2 * self.radius >= LABELS_FROM_PX * self.canvas.text_ratio:
            for x, y in places.tolist():
                self._label(x, y, "+")

    def crosses(self, places_mm: PointArray) -> None:
        places, _ = self._seen(places_mm)
        arm = max(self.radius * 0.6, 2 * self.ratio)
        lines = []
        for x, y in places.tolist():
            lines += [QLineF(x - arm, y - arm, x + arm, y + arm), QLineF(x - arm, y + arm, x + arm, y - arm)]
        for pen in self.pens():
            self.painter.setPen(pen)
            self.painter.drawLines(lines)

    def brackets(self, places_mm: PointArray, word: str, has_label: np.ndarray) -> None:
        places, shown = self._seen(places_mm)
        half, foot = self.radius * 0.86, self.radius * 0.3
        lines = []
        for x, y in places.tolist():
            for side in (-1, 1):
                lines.append(QLineF(x + side * half, y - half, x + side * half, y + half))
                lines += [
                    QLineF(x + side * half, y + k * half, x + side * (half - foot), y + k * half) for k in (-1, 1)
                ]
        for pen in self.pens():
            self.painter.setPen(pen)
            self.painter.drawLines(lines)
        if len(places) <= MOST_FULL and 2 * self.radius >= LABELS_FROM_PX * self.canvas.text_ratio:
            for x, y in places[has_label[shown]].tolist():  # where a group is told, the lock itself says it
                self._label(x, y, word)

    def _seen(self, places_mm: PointArray) -> tuple[PointArray, np.ndarray]:
        """Return the pixels of the places in view, and which those are."""
        if not len(places_mm):
            return np.zeros((0, 2)), np.zeros(0, dtype=np.int64)
        view, places = self.canvas.view, self.canvas.view.to_screen(places_mm)
        inside = (places > -self.radius) & (places < np.array([view.width_px, view.height_px]) + self.radius)
        shown = np.flatnonzero(inside.all(axis=1))
        return places[shown], shown

    def _label(self, x: float, y: float, text: str) -> None:
        """A small plate at the lower right of a can."""
        font = QFont(self.canvas.font())
        font.setPixelSize(max(round(min(self.radius * 0.42, 13 * self.canvas.text_ratio)), 7))
        font.setBold(True)
        self.painter.setFont(font)
        width = self.painter.fontMetrics().horizontalAdvance(text) + 8 * self.ratio
        height = self.painter.fontMetrics().height() + 2 * self.ratio
        box = QRectF(0, 0, width, height)
        box.moveCenter(QPointF(x, y + self.radius * 0.8))
        self.painter.setPen(Qt.PenStyle.NoPen)
        self.painter.setBrush(self.canvas.theme.colour("accent"))
        self.painter.drawRoundedRect(box, 4 * self.ratio, 4 * self.ratio)
        self.painter.setPen(QColor("#10161b") if self.canvas.theme.is_dark else QColor("white"))
        self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)


def _arrow(start: QPointF, end: QPointF, head: float) -> list[QLineF]:
    """Return the shaft and the two strokes of the head."""
    shaft = QLineF(start, end)
    strokes = []
    for turn in (150, -150):
        stroke = QLineF(end, end + (end - start))
        stroke.setAngle(shaft.angle() + turn)
        stroke.setLength(min(head, max(shaft.length() * 0.6, 1.0)))
        strokes.append(stroke)
    return [shaft, *strokes]
