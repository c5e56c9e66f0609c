"""Icons drawn from our own line pictures in the colour of the text around them, at any size."""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QGuiApplication, QIcon, QIconEngine, QPainter, QPalette, QPixmap
from PySide6.QtSvg import QSvgRenderer

from layout_app.model.resources import resource


@cache
def _picture(name: str) -> str:
    return resource(f"icons/{name}.svg").read_text(encoding="utf-8")


class _LineIcon(QIconEngine):
    """Paints a picture with the palette's text colour, so that it reads in light and dark."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._name = name

    def paint(self, painter: QPainter, rect, mode: QIcon.Mode, state: QIcon.State) -> None:
        palette = QGuiApplication.palette()
        is_off = mode == QIcon.Mode.Disabled
        group = QPalette.ColorGroup.Disabled if is_off else QPalette.ColorGroup.Active
        colour = palette.color(group, QPalette.ColorRole.WindowText)
        svg = _picture(self._name).replace("currentColor", colour.name())
        painter.save()
        if is_off:
            painter.setOpacity(0.45)
        QSvgRenderer(QByteArray(svg.encode())).render(painter, QRectF(rect))
        painter.restore()

    def pixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State) -> QPixmap:
        pixmap = QPixmap(size)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        self.paint(painter, pixmap.rect(), mode, state)
        painter.end()
        return pixmap

    def clone(self) -> QIconEngine:
        return _LineIcon(self._name)


@cache
def icon(name: str) -> QIcon:
    """Return one of our line icons, e.g. icon("save")."""
    return QIcon(_LineIcon(name))


def app_icon() -> QIcon:
    """Return the program's own icon."""
    return QIcon(str(resource("icons/busweave.svg")))
