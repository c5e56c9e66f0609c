"""ColourBar: the colours of the map beside the drawing, with ticks, unit, and marks for what lies outside."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QImage, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from layout_app.window.colours import Theme, theme_of
from layout_app.window.maps.colour_maps import Range
from layout_app.window.maps.scene_map import FADED, SceneMap

translate = QCoreApplication.translate
STEPS = (1.0, 2.0, 5.0, 10.0)
MOST_TICKS = 12


def ticks(span: Range, n_most: int) -> list[float]:
    """Return round numbers inside a range, as many as there is room for.

    >>> ticks(Range(0.0, 8.0), 5)
    [0.0, 2.0, 4.0, 6.0, 8.0]
    """
    width = span.high - span.low
    least = width / max(n_most - 1, 1)
    power = 10.0 ** math.floor(math.log10(least))
    step = next(step * power for step in STEPS if step * power >= least * (1 - 1e-9))
    first, last = math.ceil(span.low / step - 1e-9), math.floor(span.high / step + 1e-9)
    return [round(k * step, 12) + 0.0 for k in range(first, last + 1)]


def tick_texts(values: list[float]) -> list[str]:
    """Return ticks in words, all with as many places as the one that needs most."""
    places = next((n for n in range(10) if all(abs(v - round(v, n)) <= 1e-9 * abs(v) + 1e-13 for v in values)), 9)
    return [f"{value:.{places}f}".replace("-", "−") for value in values]


class BarPainter:
    """Draws the bar of a map into a strip; `size` is one line of text, in the painter's units."""

    def __init__(self, scene_map: SceneMap, theme: Theme, font: QFont) -> None:
        self.map, self.theme, self.font = scene_map, theme, font
        self.metrics = QFontMetricsF(font)
        self.line = self.metrics.height()

    @property
    def width(self) -> float:
        """How wide the strip has to be."""
        values = ticks(self.map.span, MOST_TICKS)
        ends = [self.map.span.low, self.map.span.high]
        widest = max(self.metrics.horizontalAdvance(text) for text in tick_texts(values) or tick_texts(ends))
        return 3.4 * self.line + widest

    def paint(self, painter: QPainter, strip: QRectF) -> None:
        """Draw colours, ticks, marks and title into a strip of the width wanted."""
        painter.setFont(self.font)
        line = self.line
        bar = QRectF(strip.left() + 0.5 * line, strip.top() + 2.2 * line, line, strip.height() - 3.4 * line)
        if bar.height() <= line:
            return
        unit = self.map.kind.unit if self.map.kind is not None else ""
        painter.setPen(self.theme.colour("ink"))
        flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(QRectF(bar.left(), strip.top() + 0.1 * line, strip.width(), line), flags, unit)
        self._colours(painter, bar)
        self._ticks(painter, bar)
        self._marks(painter, bar)
        self._title(painter, strip, bar)

    def _colours(self, painter: QPainter, bar: QRectF) -> None:
        colours = self.map.colours
        values = np.linspace(self.map.span.high, self.map.span.low, colours.n_levels)[:, None]
        pixels = np.ascontiguousarray(colours.pixels(values, self.map.span))
        image = QImage(pixels.data, 1, len(pixels), 4, QImage.Format.Format_ARGB32_Premultiplied)
        painter.fillRect(bar, self.theme.colour("floor"))
        painter.setOpacity(FADED if self.map.is_before else 1.0)
        painter.drawImage(bar, image.copy())
        painter.setOpacity(1.0)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self.theme.colour("ink"), self.line / 16))
        painter.drawRect(bar)

    def _ticks(self, painter: QPainter, bar: QRectF) -> None:
        line, span = self.line, self.map.span
        values = ticks(span, int(min(max(bar.height() / (1.8 * line), 2), MOST_TICKS)))
        painter.setPen(QPen(self.theme.colour("ink"), line / 16))
        for value, text in zip(values, tick_texts(values), strict=True):
            y = bar.bottom() - float(span.shares(np.array([value]))[0]) * bar.height()
            painter.drawLine(QPointF(bar.right(), y), QPointF(bar.right() + 0.3 * line, y))
            box = QRectF(bar.right() + 0.45 * line, y - line / 2, 20 * line, line)
            painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)

    def _marks(self, painter: QPainter, bar: QRectF) -> None:
        """A point at either end says that values lie beyond it, in the colour these have."""
        line, colours = self.line, self.map.colours
        middle = bar.center().x()
        ends = (
            (self.map.has_above, bar.top(), -1, colours.above),
            (self.map.has_below, bar.bottom(), 1, colours.below),
        )
        for has_some, y, way, code in ends:
            if not has_some:
                continue
            y += way * line / 8
            corners = [(bar.left(), y), (bar.right(), y), (middle, y + way * 0.8 * line)]
            painter.setPen(QPen(self.theme.colour("ink"), line / 16))
            painter.setBrush(type(self.theme.colour("ink"))(code))
            painter.drawPolygon(QPolygonF([QPointF(*corner) for corner in corners]))

    def _title(self, painter: QPainter, strip: QRectF, bar: QRectF) -> None:
        """Along the right edge, read from below upwards."""
        room = strip.height() - 0.8 * self.line
        text = self.metrics.elidedText(self.map.title, Qt.TextElideMode.ElideRight, room)
        painter.save()
        painter.setPen(self.theme.colour("ink"))
        painter.translate(strip.right() - 0.7 * self.line, strip.center().y())
        painter.rotate(-90)
        box = QRectF(-room / 2, -self.line / 2, room, self.line)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        painter.restore()


class ColourBar(QWidget):
    """Stands beside the drawing, as wide as its words need, while a map is shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._map: SceneMap | None = None
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(translate("Maps", "Colour bar"))
        self.hide()

    def show_map(self, scene_map: SceneMap | None) -> None:
        """Show the colours of a map; none hides the bar."""
        self._map = scene_map if scene_map is not None and scene_map.kind is not None else None
        if self._map is not None:
            self.setAccessibleDescription(self.words())
            self.setToolTip(self.words())
            self.updateGeometry()
            self.update()
        self.setVisible(self._map is not None)

    def words(self) -> str:
        """Say what the bar shows."""
        if self._map is None or self._map.kind is None:
            return ""
        low, high = tick_texts([self._map.span.low, self._map.span.high])
        told = translate("Maps", "{title}: from {low} to {high} {unit}")
        return told.format(title=self._map.title, low=low, high=high, unit=self._map.kind.unit)

    def sizeHint(self) -> QSize:
        if self._map is None:
            return QSize(0, 0)
        return QSize(math.ceil(BarPainter(self._map, theme_of(self.palette()), self.font()).width), 100)

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = theme_of(self.palette())
        painter.fillRect(self.rect(), theme.colour("ruler"))
        if self._map is not None:
            BarPainter(self._map, theme, self.font()).paint(painter, QRectF(self.rect()))
        painter.end()

    def changeEvent(self, event) -> None:
        self.updateGeometry()
        super().changeEvent(event)
