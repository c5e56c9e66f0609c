"""Ghosts: cells as they would stand when a gesture ends, with those that find no room crossed out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPixmap

from layout_app.edits.room import TOUCHING_MM
from layout_app.geometry.arrays import BoolArray, IntArray, PointArray
from layout_app.window.colours import NO_GROUP
from layout_app.window.overlays import overlay_font, ruler_px
from layout_app.window.sprites import can_drawer, in_view

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

OPACITY = 0.72
MANY = 400  # cells; fewer are stamped one by one as quickly


class Ghosts:
    """Cells on the move, each with the tint of its group; `others_mm` are the cells that stay where they are."""

    def __init__(self, canvas: Canvas, groups: IntArray, others_mm: PointArray) -> None:
        from scipy.spatial import cKDTree  # loaded with the first drag

        layout = canvas.scene.layout
        self.diameter_mm = layout.cell_type.diameter_mm
        self.others_mm = others_mm
        self._tints = np.array([canvas.scene.tints.get(int(group), NO_GROUP) for group in groups], dtype=np.int64)
        self._picture: tuple[object, QPixmap] | None = None
        self._tree = cKDTree(others_mm) if len(others_mm) else None

    def clashing(self, places_mm: PointArray) -> BoolArray:
        """(n,): which of the places overlap a cell that stays."""
        if self._tree is None:
            return np.zeros(len(places_mm), dtype=np.bool_)
        nearest_mm, _ = self._tree.query(places_mm, distance_upper_bound=self.diameter_mm - TOUCHING_MM)
        return np.isfinite(nearest_mm)

    def paint(self, painter: QPainter, canvas: Canvas, places_mm: PointArray, clashing: BoolArray) -> None:
        """Draw the cells at (n, 2) places."""
        view, sprites = canvas.view, canvas.sprites
        diameter_px = self.diameter_mm * view.px_per_mm
        seen = in_view(places_mm, view.visible_mm(), self.diameter_mm / 2)
        painter.setOpacity(OPACITY)
        if len(seen) > MANY and self._fits(canvas, places_mm):
            self._paint_at_once(painter, canvas, places_mm)
        else:
            self._stamp(painter, canvas, view.to_screen(places_mm[seen]), self._tints[seen])
        painter.setOpacity(1.0)
        bad, colour = view.to_screen(places_mm[clashing & np.isin(np.arange(len(clashing)), seen)]), canvas.theme.error
        sprites.stamp(
            painter, bad, diameter_px, (translate("moving", "no room"), colour), no_room_drawer(QColor(colour))
        )

    def _stamp(self, painter: QPainter, canvas: Canvas, places: PointArray, tints: IntArray) -> None:
        diameter_px = self.diameter_mm * canvas.view.px_per_mm
        for tint in np.unique(tints).tolist():
            draw = can_drawer(canvas.theme, canvas.theme.tint(tint), True)
            canvas.sprites.stamp(painter, places[tints == tint], diameter_px, ("ghost", tint), draw)

    def _fits(self, canvas: Canvas, places_mm: PointArray) -> bool:
        """Whether one picture of all of them is no larger than the screen."""
        width, height = np.ptp(places_mm, axis=0) + self.diameter_mm
        scale = canvas.view.px_per_mm
        return bool(width * scale <= canvas.view.width_px and height * scale <= canvas.view.height_px)

    def _paint_at_once(self, painter: QPainter, canvas: Canvas, places_mm: PointArray) -> None:
        """They keep their places to each other, so thousands are drawn once and then moved as one picture."""
        places = canvas.view.to_screen(places_mm)
        corner = np.floor(places.min(axis=0) - self.diameter_mm * canvas.view.px_per_mm / 2 - 3)
        key = (canvas.view.px_per_mm, canvas.view.is_mirrored, canvas.theme)
        if self._picture is None or self._picture[0] != key:
            size = (np.ptp(places, axis=0) + self.diameter_mm * canvas.view.px_per_mm + 8).astype(int).tolist()
            picture = QPixmap(*size)
            picture.fill(Qt.GlobalColor.transparent)
            inner = QPainter(picture)
            self._stamp(inner, canvas, places - corner, self._tints)
            inner.end()
            self._picture = (key, picture)
        painter.drawPixmap(QPointF(*corner.tolist()), self._picture[1])


def no_room_drawer(colour: QColor):
    """Return what draws a ring with a cross: there is no room."""

    def draw(painter: QPainter, x: float, y: float, size_px: float) -> None:
        radius, arm = size_px / 2 - 1.5, size_px * 0.22
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(colour, max(size_px / 16, 1.5)))
        painter.drawEllipse(QPointF(x, y), radius, radius)
        painter.drawLine(QPointF(x - arm, y - arm), QPointF(x + arm, y + arm))
        painter.drawLine(QPointF(x - arm, y + arm), QPointF(x + arm, y - arm))

    return draw


def paint_note(painter: QPainter, canvas: Canvas, at: QPointF, text: str, is_refusal: bool = False) -> None:
    """A word beside the pointer: how far, and why not; kept inside the canvas."""
    theme, ratio, ruler = canvas.theme, canvas.text_ratio, ruler_px(canvas)
    font = overlay_font(canvas, 12)
    lines = text.split("\n")
    metrics = QFontMetricsF(font)
    width = max(metrics.horizontalAdvance(line) for line in lines) + 16 * ratio
    height = metrics.height() * len(lines) + 8 * ratio
    x = min(max(at.x() + 18 * ratio, ruler), canvas.view.width_px - width - 4 * ratio)
    y = min(max(at.y() + 18 * ratio, ruler), canvas.view.height_px - height - 4 * ratio)
    box = QRectF(x, y, width, height)
    painter.setPen(QPen(theme.colour("error" if is_refusal else "faint"), 1.2 * ratio))
    painter.setBrush(theme.colour("ruler", 0.95))
    painter.drawRoundedRect(box, 5 * ratio, 5 * ratio)
    painter.setFont(font)
    painter.setPen(theme.colour("error" if is_refusal else "ink"))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
