"""Small pictures of cells, windows and signs, made once for each look and size, then stamped.

Stamping a picture at a whole pixel is several times quicker than drawing a smooth circle, so positions are rounded to
whole pixels and the rest, in quarters of a pixel, is drawn into the picture.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen, QPixmap

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.window.colours import Theme

PHASES = 4  # a stamp is off by at most an eighth of a pixel
LARGEST_PX = 160.0  # larger pictures are drawn directly: few fit on the screen
# directions of the lines that go with each tint: neighbouring groups never share a tint, so never a pattern
RISING, FALLING, LEVEL, UPRIGHT = -math.pi / 4, math.pi / 4, 0.0, math.pi / 2
HATCHES = ((RISING,), (FALLING,), (LEVEL,), (UPRIGHT,), (LEVEL, UPRIGHT), (RISING, FALLING))
Draw = Callable[[QPainter, float, float, float], None]  # painter, x, y, diameter


class Sprites:
    """Stamps looks; a look is a hashable name that goes with what its draw function paints."""

    def __init__(self, most: int = 3000) -> None:
        self._made: dict[tuple, QPixmap] = {}
        self._most = most

    def stamp(self, painter: QPainter, centres_px: PointArray, diameter_px: float, look: object, draw: Draw) -> None:
        """Paint a look at every (n, 2) centre, device pixels."""
        if not len(centres_px):
            return
        if diameter_px > LARGEST_PX:
            for x, y in centres_px.tolist():
                draw(painter, x, y, diameter_px)
            return
        half = int(diameter_px / 2) + 2
        steps = np.floor(centres_px * PHASES + 0.5).astype(np.int64)
        whole, phase = steps // PHASES - half, steps % PHASES
        phases = phase[:, 0] * PHASES + phase[:, 1]
        pictures = {k: self._picture(look, diameter_px, half, k, draw) for k in np.unique(phases).tolist()}
        for (x, y), k in zip(whole.tolist(), phases.tolist(), strict=True):
            painter.drawPixmap(x, y, pictures[k])

    def _picture(self, look: object, diameter_px: float, half: int, phase: int, draw: Draw) -> QPixmap:
        key = (look, round(diameter_px * 8), phase)
        picture = self._made.get(key)
        if picture is None:
            if len(self._made) >= self._most:
                self._made.clear()
            picture = QPixmap(2 * half + 1, 2 * half + 1)
            picture.fill(Qt.GlobalColor.transparent)
            painter = QPainter(picture)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            draw(painter, half + (phase // PHASES) / PHASES, half + (phase % PHASES) / PHASES, diameter_px)
            painter.end()
            self._made[key] = picture
        return picture

    def clear(self) -> None:
        """Forget every picture, e.g. because the colours changed."""
        self._made.clear()


class DirectSprites(Sprites):
    """Draws every look in its place: for vector drawings, where a stamp would be a small picture."""

    def stamp(self, painter: QPainter, centres_px: PointArray, diameter_px: float, look: object, draw: Draw) -> None:
        for x, y in centres_px.tolist():
            painter.save()
            draw(painter, x, y, diameter_px)
            painter.restore()


def can_drawer(theme: Theme, tint: QColor, is_assigned: bool) -> Draw:
    """Return what draws a can: a disc in the group's tint with a darker rim; dashed when it is in no group."""

    def draw(painter: QPainter, x: float, y: float, diameter_px: float) -> None:
        width = min(max(diameter_px / 28, 0.6), 2.5)
        rim = QColor(tint.darker(150) if not theme.is_dark else tint.darker(190))
        style = Qt.PenStyle.SolidLine if is_assigned else Qt.PenStyle.DashLine
        painter.setPen(QPen(rim, width, style) if diameter_px >= 7 else Qt.PenStyle.NoPen)
        painter.setBrush(tint)
        painter.drawEllipse(QPointF(x, y), (diameter_px - width) / 2, (diameter_px - width) / 2)

    return draw


def hatched(draw: Draw, ink: QColor, pattern: int, inset: float = 0.94) -> Draw:
    """Return what draws a disc and lines across it, in one of as many patterns as there are tints."""
    angles = HATCHES[pattern]

    def draw_hatched(painter: QPainter, x: float, y: float, diameter_px: float) -> None:
        draw(painter, x, y, diameter_px)
        radius, step = diameter_px / 2 * inset, max(diameter_px / 7, 2.5)
        painter.setPen(QPen(ink, max(diameter_px / 40, 0.8)))
        for angle in angles:
            along = (math.cos(angle), math.sin(angle))
            for k in range(-int(radius / step), int(radius / step) + 1):
                half = math.sqrt(max(radius**2 - (k * step) ** 2, 0.0))
                mx, my = x - k * step * along[1], y + k * step * along[0]
                dx, dy = half * along[0], half * along[1]
                painter.drawLine(QPointF(mx - dx, my - dy), QPointF(mx + dx, my + dy))

    return draw_hatched


def sign_drawer(ink: QColor, is_plus: bool) -> Draw:
    """Return what draws a + or − with strokes, crisp at any size."""

    def draw(painter: QPainter, x: float, y: float, size_px: float) -> None:
        arm, width = size_px * 0.36, max(size_px * 0.13, 1.1)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        painter.drawRoundedRect(QRectF(x - arm, y - width / 2, 2 * arm, width), width / 4, width / 4)
        if is_plus:
            painter.drawRoundedRect(QRectF(x - width / 2, y - arm, width, 2 * arm), width / 4, width / 4)

    return draw


def lock_drawer(ink: QColor, patch: QColor) -> Draw:
    """Return what draws a closed lock: a body with a bow over it, on a patch of its own so that it reads on metal."""

    def draw(painter: QPainter, x: float, y: float, size_px: float) -> None:
        painter.setPen(QPen(ink, max(size_px * 0.04, 0.8)))
        painter.setBrush(patch)
        painter.drawEllipse(QPointF(x, y), size_px / 2, size_px / 2)
        wide, high, bow = size_px * 0.46, size_px * 0.32, size_px * 0.15
        top = y - size_px * 0.04
        painter.setPen(QPen(ink, max(size_px * 0.085, 1.0)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawArc(QRectF(x - bow, top - 1.75 * bow, 2 * bow, 2 * bow), 0, 180 * 16)
        for side in (-bow, bow):
            painter.drawLine(QPointF(x + side, top - 0.75 * bow), QPointF(x + side, top))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        painter.drawRoundedRect(QRectF(x - wide / 2, top, wide, high), size_px * 0.06, size_px * 0.06)

    return draw


def disc_drawer(fill: QColor, edge: QColor | None) -> Draw:
    """Return what draws a plain disc, for windows seen from far away."""

    def draw(painter: QPainter, x: float, y: float, diameter_px: float) -> None:
        painter.setPen(QPen(edge, 1) if edge is not None and diameter_px >= 6 else Qt.PenStyle.NoPen)
        painter.setBrush(QBrush(fill))
        painter.drawEllipse(QPointF(x, y), diameter_px / 2, diameter_px / 2)

    return draw


def site_drawer(faint: QColor) -> Draw:
    """Return what draws an empty site: a dotted ring with a small cross."""

    def draw(painter: QPainter, x: float, y: float, diameter_px: float) -> None:
        painter.setPen(QPen(faint, 1, Qt.PenStyle.DotLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QPointF(x, y), diameter_px / 2 - 1, diameter_px / 2 - 1)
        if diameter_px >= 12:
            arm = diameter_px * 0.09
            painter.setPen(QPen(faint, 1))
            painter.drawLine(QPointF(x - arm, y), QPointF(x + arm, y))
            painter.drawLine(QPointF(x, y - arm), QPointF(x, y + arm))

    return draw


def text_drawer(text: str, font: QFont, ink: QColor) -> Draw:
    """Return what draws a short text, centred; the size is the font's."""

    def draw(painter: QPainter, x: float, y: float, _size_px: float) -> None:
        painter.setFont(font)
        painter.setPen(ink)
        painter.drawText(QRectF(x - 100, y - 50, 200, 100), Qt.AlignmentFlag.AlignCenter, text)

    return draw


def in_view(centres_mm: PointArray, bounds_mm: tuple[float, float, float, float], margin_mm: float) -> FloatArray:
    """Return the indices of the points inside a rectangle widened by a margin."""
    x0, y0, x1, y1 = bounds_mm
    x, y = centres_mm[:, 0], centres_mm[:, 1]
    inside = (x > x0 - margin_mm) & (x < x1 + margin_mm) & (y > y0 - margin_mm) & (y < y1 + margin_mm)
    return np.flatnonzero(inside)
