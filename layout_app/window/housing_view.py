"""HousingView: a housing's loops, fitted into whatever room there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QWidget

from layout_app.geometry.arrays import PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.layouts import Layout
from layout_app.window.colours import theme_of
from layout_app.window.metal_paths import path_of
from layout_app.window.painting import ScenePainter
from layout_app.window.scene import Scene
from layout_app.window.sizes import text_scale
from layout_app.window.view_transform import ViewTransform

translate = QCoreApplication.translate

MARGIN = 44  # around the housing, for its sizes
EDGE = 5  # of the frame, whose corners are round


class HousingView(QWidget):
    """Draws the outline and numbered keep-outs, ignored lines in grey, and cells when there are any."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(translate("housing", "Housing"))
        self.setMinimumSize(320, 260)
        self._outline: Contour | None = None
        self._keep_outs: tuple[Contour, ...] = ()
        self._ignored = QPainterPath()
        self._centres_mm: PointArray = np.zeros((0, 2))
        self._diameter_mm = 0.0
        self._layout: Layout | None = None
        self._left_out: frozenset[int] = frozenset()  # numbers of keep-outs that will not be used
        self._chosen = 0  # number of the keep-out pointed at
        self._gap_mm: tuple[tuple[float, float], tuple[float, float]] | None = None  # ends of an open outline

    def show_housing(
        self, outline: Contour | None, keep_outs: Sequence[Contour] = (), ignored: QPainterPath | None = None
    ) -> None:
        """Show loops; None shows nothing."""
        self._outline, self._keep_outs, self._layout = outline, tuple(keep_outs), None
        self._ignored = ignored or QPainterPath()
        self._left_out, self._chosen = frozenset(), 0
        self._gap_mm = None
        self._centres_mm = np.zeros((0, 2))
        self.update()

    def show_open(self, drawn: QPainterPath, gap_mm: tuple[tuple[float, float], tuple[float, float]] | None) -> None:
        """Show what is drawn though it makes no housing, and where its outline is open."""
        self.show_housing(None, (), drawn)
        self._gap_mm = gap_mm
        self.update()

    def mark_keep_outs(self, left_out: frozenset[int], chosen: int) -> None:
        """Show keep-outs, by number, as left out, and one as pointed at (0: none)."""
        self._left_out, self._chosen = left_out, chosen
        self.update()

    def show_cells(self, centres_mm: PointArray, diameter_mm: float) -> None:
        """Show where cells would stand."""
        self._centres_mm, self._diameter_mm, self._layout = centres_mm, diameter_mm, None
        self.update()

    def show_groups(self, layout: Layout) -> None:
        """Show the cells of a layout in the tints and with the numbers of their groups."""
        self._layout = layout
        self.update()

    def paintEvent(self, event) -> None:
        painter, theme = QPainter(self), theme_of(self.palette())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(theme.colour("faint", 0.6))
        painter.setBrush(theme.colour("page"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6)
        if self._outline is None and not self._ignored.isEmpty():
            self._paint_open(painter)
            return
        if self._outline is None:
            painter.setPen(theme.colour("ink", 0.6))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, translate("housing", "No housing yet"))
            return
        margin = MARGIN * text_scale(self.font())
        view = ViewTransform().resized(self.width(), self.height()).fitted(self._outline.bounds_mm, margin)
        to_screen = view.q_transform()
        if self._layout is not None:
            self._paint_groups(painter, view, self._layout)
            self._paint_sizes(painter, view)
            return
        painter.setPen(QPen(theme.colour("accent"), 2.2))
        painter.setBrush(theme.colour("floor"))
        painter.drawPath(to_screen.map(path_of([self._outline])))
        self._paint_cells(painter, view)
        painter.setPen(QPen(theme.colour("faint"), 1, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.save()
        painter.setClipRect(to_screen.mapRect(path_of([self._outline]).boundingRect()).adjusted(-12, -12, 12, 12))
        painter.drawPath(to_screen.map(self._ignored))  # only hinted at: not to run into sizes and frame
        painter.restore()
        self._paint_keep_outs(painter, view)
        self._paint_sizes(painter, view)

    def _paint_open(self, painter: QPainter) -> None:
        """Lines as drawn, and a ring around the gap with its width."""
        theme, box = theme_of(self.palette()), self._ignored.boundingRect()
        bounds_mm = (box.left(), box.top(), box.right(), box.bottom())
        view = ViewTransform().resized(self.width(), self.height()).fitted(bounds_mm, 60.0)
        painter.setPen(QPen(theme.colour("wall"), 2))
        painter.drawPath(view.q_transform().map(self._ignored))
        if self._gap_mm is None:
            return
        (x0, y0), (x1, y1) = view.to_screen(np.array(self._gap_mm)).tolist()
        middle, radius = QPointF((x0 + x1) / 2, (y0 + y1) / 2), max(float(np.hypot(x1 - x0, y1 - y0)) / 2, 4.0) + 9
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(theme.colour("error"), 2.5))
        painter.drawEllipse(middle, radius, radius)
        gap_mm = float(np.hypot(*np.subtract(*self._gap_mm)))
        painter.drawText(
            QPointF(middle.x() + radius + 2, middle.y() - radius),
            translate("housing", "open, {gap_mm:.3g} mm").format(gap_mm=gap_mm),
        )

    def _paint_cells(self, painter: QPainter, view: ViewTransform) -> None:
        radius = self._diameter_mm / 2 * view.px_per_mm
        tint = theme_of(self.palette()).tint(0)
        painter.setPen(QPen(tint.darker(150), 1) if radius > 3 else Qt.PenStyle.NoPen)
        painter.setBrush(tint)
        for x, y in view.to_screen(self._centres_mm).tolist():
            painter.drawEllipse(QPointF(x, y), radius, radius)

    def _paint_groups(self, painter: QPainter, view: ViewTransform, layout: Layout) -> None:
        """Painted in device pixels, as the canvas does, so that numbers are sharp."""
        ratio = self.devicePixelRatioF()
        width, height = round(self.width() * ratio), round(self.height() * ratio)
        fine = replace(view, px_per_mm=view.px_per_mm * ratio).resized(width, height)
        inside = QRectF(0, 0, width, height).adjusted(*(EDGE * ratio * k for k in (1, 1, -1, -1)))
        painter.save()
        painter.scale(1 / ratio, 1 / ratio)
        spare_mm = _spare_mm(self._centres_mm, layout.cells.centres_mm)
        layers = frozenset({"housing", "sites", "cells", "numbers", "signs"})
        scene = Scene(layout=layout, free_sites_mm=spare_mm, layers=layers)
        paints = ScenePainter(theme_of(self.palette()), ratio, text_scale=text_scale(self.font()))
        paints.paint(painter, fine, scene, inside)
        painter.restore()

    def _paint_keep_outs(self, painter: QPainter, view: ViewTransform) -> None:
        theme = theme_of(self.palette())
        for number, loop in enumerate(self._keep_outs, 1):
            path = view.q_transform().map(path_of([loop]))
            is_used, is_chosen = number not in self._left_out, number == self._chosen
            line = Qt.PenStyle.SolidLine if is_used else Qt.PenStyle.DashLine
            painter.setPen(QPen(theme.colour("accent" if is_chosen else "wall"), 3 if is_chosen else 1.6, line))
            painter.fillPath(path, theme.colour("page" if is_used else "floor"))
            hatching = QBrush(theme.colour("faint"), Qt.BrushStyle.BDiagPattern)
            painter.setBrush(hatching if is_used else Qt.BrushStyle.NoBrush)
            painter.drawPath(path)
            if len(self._centres_mm):
                continue  # numbers would cover cells, and no longer matter
            box = QRectF(0, 0, *(size * text_scale(self.font()) for size in (22, 20)))
            box.moveCenter(_label_place(path.boundingRect(), self.rect().center().x(), text_scale(self.font())))
            painter.setBrush(theme.colour("ruler"))
            painter.drawRoundedRect(box, 6, 6)
            painter.setPen(theme.colour("ink"))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(number))

    def _paint_sizes(self, painter: QPainter, view: ViewTransform) -> None:
        x0, y0, x1, y1 = self._outline.bounds_mm
        (left, bottom), (right, top) = view.to_screen(np.array([(x0, y0), (x1, y1)])).tolist()
        painter.setPen(theme_of(self.palette()).colour("ink"))
        scale = text_scale(self.font())
        across = QRectF((left + right) / 2 - 150 * scale, bottom + 8, 300 * scale, 24 * scale)
        painter.drawText(across, Qt.AlignmentFlag.AlignCenter, f"{x1 - x0:.6g} mm")
        painter.save()
        painter.translate(left - 8 - 14 * scale, (top + bottom) / 2)
        painter.rotate(-90)
        painter.drawText(
            QRectF(-150 * scale, -12 * scale, 300 * scale, 24 * scale),
            Qt.AlignmentFlag.AlignCenter,
            f"{y1 - y0:.6g} mm",
        )
        painter.restore()


def _spare_mm(sites_mm: PointArray, taken_mm: PointArray) -> PointArray:
    """Return the sites on which no cell stands; cells stand on sites exactly."""
    taken = set(map(tuple, taken_mm.tolist()))
    return np.array([site for site in sites_mm.tolist() if tuple(site) not in taken]).reshape(-1, 2)


def _label_place(loop: QRectF, middle_px: float, scale: float = 1.0) -> QPointF:
    """Return where a loop's number stands: in its middle or, when it is too small, beside it, away from the wall."""
    if min(loop.width(), loop.height()) >= 40 * scale:
        return loop.center()
    is_right = loop.center().x() > middle_px
    return QPointF(loop.left() - 14 * scale if is_right else loop.right() + 14 * scale, loop.center().y())
