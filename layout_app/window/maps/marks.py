"""Marks over a map: the necks that carry most, and the ways of the worst-placed cells, with their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from layout_app.geometry.arrays import PointArray
from layout_app.physics.current_paths import CellPath, GroupPaths
from layout_app.physics.min_cuts import Cut
from layout_app.window.lengths import length_text
from layout_app.window.maps.kinds import translate
from layout_app.window.maps.readings import number_words
from layout_app.window.overlays import RULER_PX

if TYPE_CHECKING:
    from layout_app.window.colours import Theme
    from layout_app.window.drawing import Drawing
    from layout_app.window.view_transform import ViewTransform

N_NECKS = 3  # of those in view
MOST_WAYS = 24  # of the groups whose worst cell is in view
STEPS = ((0.0, -1.0), (0.0, 1.0), (1.0, 0.0), (-1.0, 0.0), (1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What is marked; `factor` is the current looked at over that solved for."""

    cuts: tuple[Cut, ...] = ()
    ways: tuple[GroupPaths, ...] = ()
    factor: float = 1.0


class MarkPainter:
    """Draws marks on a drawing; labels keep clear of each other and of the rulers."""

    def __init__(
        self,
        painter: QPainter,
        drawing: Drawing,
        view: ViewTransform,
        theme: Theme,
        ratio: float,
        taken: Sequence[QRectF] = (),
    ) -> None:
        self.painter, self.drawing, self.view, self.theme, self.ratio = painter, drawing, view, theme, ratio
        self.taken = list(taken)
        self.faces = drawing.scene.faces

    def paint(self, marks: Marks) -> None:
        """Draw lines first, then labels over all of them."""
        labels = self._ways(marks) + self._necks(marks)
        for place, text, colour in labels:
            self._label(place, text, colour)

    def _ways(self, marks: Marks) -> list[tuple[QPointF, str, QColor]]:
        labels, layout = [], self.drawing.scene.layout
        colour = self.theme.colour("accent")
        paths = [path for path in map(worst_of, marks.ways) if path.cell < len(layout.cells)]
        for path in [path for path in paths if self._is_seen(layout.cells.centres_mm[path.cell])][:MOST_WAYS]:
            shown = [way for way in path.ways if layout.face_of(way.segment) in self.faces]
            for way in shown:
                self._line(way.points_mm, colour, 3.2)
            if shown:
                x, y = self.view.to_screen(layout.cells.centres_mm[[path.cell]])[0].tolist()
                radius = layout.cell_type.diameter_mm / 2 * self.view.px_per_mm
                self._ring(x, y, radius, colour)
                labels.append((QPointF(x, y - radius), f"× {path.share:.3f}", colour))
        return labels

    def _necks(self, marks: Marks) -> list[tuple[QPointF, str, QColor]]:
        labels, layout = [], self.drawing.scene.layout
        colour = self.theme.colour("error")
        known = [cut for cut in marks.cuts if cut.segment < layout.n_segments and self._is_seen(cut.place_mm)]
        for cut in [cut for cut in known if layout.face_of(cut.segment) in self.faces][:N_NECKS]:
            for line in cut.lines_mm:
                self._line(line, colour, 3.2)
            x, y = self.view.to_screen(np.array([cut.place_mm]))[0].tolist()
            text = translate("Maps", "{width} · {current} A · {density} A/mm²").format(
                width=length_text(cut.width_mm, self.drawing.unit),
                current=number_words(abs(cut.current_a * marks.factor)),
                density=number_words(abs(cut.density_a_mm2 * marks.factor)),
            )
            labels.append((QPointF(x, y), text, colour))
        return labels

    def _is_seen(self, place_mm: Sequence[float] | None) -> bool:
        if place_mm is None:
            return False
        x0, y0, x1, y1 = self.view.visible_mm()
        return x0 < place_mm[0] < x1 and y0 < place_mm[1] < y1

    def _line(self, points_mm: PointArray, colour: QColor, width: float) -> None:
        points = self.view.to_screen(points_mm)
        line = QPolygonF([QPointF(x, y) for x, y in points.tolist()])
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen_colour, more in ((halo(self.theme), 3.0), (colour, 0.0)):
            pen = QPen(pen_colour, (width + more) * self.ratio)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            self.painter.setPen(pen)
            self.painter.drawPolyline(line)

    def _ring(self, x: float, y: float, radius: float, colour: QColor) -> None:
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen_colour, width in ((halo(self.theme), 5.5), (colour, 2.6)):
            self.painter.setPen(QPen(pen_colour, width * self.ratio))
            self.painter.drawEllipse(QPointF(x, y), radius, radius)

    def _label(self, place: QPointF, text: str, colour: QColor) -> None:
        view, theme = self.view, self.theme
        font = self.drawing.font()
        font.setPointSizeF(font.pointSizeF() * self.ratio) if font.pointSizeF() > 0 else font.setPixelSize(
            round(font.pixelSize() * self.ratio)
        )
        metrics = QFontMetricsF(font)
        size = metrics.horizontalAdvance(text) + metrics.height(), 1.35 * metrics.height()
        seen = QRectF(RULER_PX * self.ratio, RULER_PX * self.ratio, view.width_px, view.height_px)
        if not seen.contains(place):
            return
        box = free_box(place, size, self.taken, QRectF(seen.topLeft(), QPointF(view.width_px, view.height_px)))
        if box is None:
            return
        self.taken.append(box)
        self.painter.setFont(font)
        self.painter.setPen(QPen(colour, 1.2 * self.ratio))
        self.painter.drawLine(place, box.center())
        self.painter.setBrush(theme.colour("ruler"))
        self.painter.drawRoundedRect(box, 5 * self.ratio, 5 * self.ratio)
        self.painter.setPen(theme.colour("ink"))
        self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def worst_of(pair: GroupPaths) -> CellPath:
    """Return the path of the cell that is further from its group's mean."""
    return max((pair.lowest, pair.highest), key=lambda path: abs(path.share - 1))


def halo(theme: Theme) -> QColor:
    """Return the colour under lines that makes them read on any map."""
    return QColor(16, 22, 27, 220) if theme.is_dark else QColor(255, 255, 255, 230)


def free_box(place: QPointF, size: tuple[float, float], taken: Sequence[QRectF], inside: QRectF) -> QRectF | None:
    """Return a box beside a place that is clear of those taken and inside a rectangle; None when there is no room."""
    width, height = size
    for n in (1.0, 2.2, 3.4):
        for dx, dy in STEPS:
            middle = place + QPointF(dx * (width / 2 + n * height / 2), dy * n * height)
            box = QRectF(middle.x() - width / 2, middle.y() - height / 2, width, height)
            if inside.contains(box) and not any(box.intersects(other) for other in taken):
                return box
    return None
