"""Marks of the loop that is edited: its line, squares on its corners, dots amid its edges that pull a corner out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.window.metal_paths import path_of

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

MOST_CORNERS = 400  # drawn: a spline in fine chords has thousands
LEAST_EDGE_PX = 40  # desktop pixels; on a shorter edge a handle would cover the corners
CIRCLE_EDGES = 2  # a circle as it is drawn and stored: two halves, whose ends are no corners


def has_corners(loop: Contour) -> bool:
    """Whether a loop has corners to be dragged: a plain circle has none until one is put there."""
    return len(loop.bulges) > CIRCLE_EDGES or loop.as_circle is None


def middles(canvas: Canvas, loop: Contour) -> tuple[IntArray, PointArray]:
    """Return the edges long enough on the screen for a handle, (m,), and the points amid them, (m, 2), mm."""
    edges = np.flatnonzero(loop.lengths_mm * canvas.view.px_per_mm >= LEAST_EDGE_PX * canvas.ratio)
    if len(loop.bulges) > MOST_CORNERS:
        edges = edges[:0]
    return edges, loop.points_along(edges, np.full(len(edges), 0.5))


def paint_loop(painter: QPainter, canvas: Canvas, loop: Contour, corner: int | None, *, is_preview: bool) -> None:
    """Draw a loop with its handles; the chosen corner is filled."""
    accent = canvas.theme.colour("accent")
    painter.setBrush(Qt.BrushStyle.NoBrush)
    style = Qt.PenStyle.DashLine if is_preview else Qt.PenStyle.SolidLine
    painter.setPen(QPen(accent, 2.5 * canvas.ratio, style))
    painter.drawPath(canvas.view.q_transform().map(path_of([loop])))
    if not has_corners(loop) or len(loop.bulges) > MOST_CORNERS:
        return
    painter.setPen(QPen(accent, 1.5 * canvas.ratio))
    if not is_preview:
        _dots(painter, canvas, middles(canvas, loop)[1])
    half = 4 * canvas.ratio
    for number, (x, y) in enumerate(canvas.view.to_screen(loop.vertices_mm).tolist()):
        painter.setBrush(canvas.theme.colour("accent" if number == corner else "floor"))
        painter.drawRect(QRectF(x - half, y - half, 2 * half, 2 * half))


def _dots(painter: QPainter, canvas: Canvas, places_mm: PointArray) -> None:
    """Round and with a plus, so that they are not taken for corners."""
    radius, arm = 4.5 * canvas.ratio, 2.5 * canvas.ratio
    painter.setBrush(canvas.theme.colour("floor"))
    for x, y in canvas.view.to_screen(places_mm).tolist():
        painter.drawEllipse(QPointF(x, y), radius, radius)
        painter.drawLine(QPointF(x - arm, y), QPointF(x + arm, y))
        painter.drawLine(QPointF(x, y - arm), QPointF(x, y + arm))
