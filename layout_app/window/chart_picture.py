"""ChartPicture: a chart drawn beside the window, whose points can be pointed at, stepped through and chosen."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QCoreApplication, QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QImage, QPainter, QPen
from PySide6.QtWidgets import QToolTip, QWidget

from layout_app.charting.rendering import Picture
from layout_app.window.colours import theme_of

translate = QCoreApplication.translate

REACH_PX = 12.0  # how near the pointer must come to a point to mean it
RING_PX = 5.5
MOST_RINGS = 200  # around cells chosen elsewhere; more would hide the chart
STEPS = {Qt.Key.Key_Right: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1,
         Qt.Key.Key_PageDown: 10, Qt.Key.Key_PageUp: -10}  # fmt: skip


class ChartPicture(QWidget):
    """Shows a picture; holds no facts of its own."""

    pointed = Signal(str)  # what the point meant says; nothing when none is
    chosen = Signal(int, int)  # cell (index) and segment the point is about, -1 for none
    outdated = Signal()  # size, colours, font or screen changed: a new picture is wanted

    def __init__(self) -> None:
        super().__init__()
        self.picture: Picture | None = None
        self.is_stale = False
        self._image = QImage()
        self._spot, self._rings = -1, np.empty(0, np.int64)
        self._marked: frozenset[int] = frozenset()
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(translate("charts", "Chart"))

    def show_picture(self, picture: Picture, ratio: float, summary: str) -> None:
        """Show a picture of so many device pixels to one of the desktop's."""
        means = self._meaning()
        self.picture = picture
        self._image = QImage(
            picture.rgba, picture.width_px, picture.height_px, 4 * picture.width_px, QImage.Format.Format_RGBA8888
        )
        self._image.setDevicePixelRatio(ratio)
        self.setAccessibleName(summary)
        self._spot = self._spot_meaning(means)
        self.mark(self._marked)

    def mark(self, cells: frozenset[int]) -> None:
        """Ring the points of cells chosen elsewhere."""
        self._marked = cells
        few = 0 < len(cells) <= MOST_RINGS and self.picture is not None
        self._rings = np.flatnonzero(np.isin(self.picture.cells, list(cells))) if few else np.empty(0, np.int64)
        self.update()

    def set_stale(self, is_stale: bool) -> None:
        """Fade a chart of what was before."""
        if is_stale != self.is_stale:
            self.is_stale = is_stale
            self.update()

    @property
    def words(self) -> str:
        """What the point meant says."""
        return "" if self._spot < 0 or self.picture is None else self.picture.words[self._spot]

    def place_of(self, spot: int) -> QPointF:
        """Return where a point is in the widget."""
        x, y = self.picture.spots_px[spot] / self._image.devicePixelRatio()
        return QPointF(x * self._scale[0], y * self._scale[1])

    def sizeHint(self) -> QSize:
        """Whatever there is; the panel sets the least."""
        return QSize(600, 260)

    # -- painting -----------------------------------------------------------------------------------------------

    @property
    def _scale(self) -> tuple[float, float]:
        """How much the picture is stretched until one of the new size is drawn."""
        size = self._image.deviceIndependentSize()
        return self.width() / max(size.width(), 1.0), self.height() / max(size.height(), 1.0)

    def paintEvent(self, event) -> None:
        painter = QPainter(self)
        if self.picture is None:
            return
        painter.setOpacity(0.45 if self.is_stale else 1.0)
        fits = self._image.size() == self.size() * self.devicePixelRatioF()
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, not fits)
        painter.drawImage(QRectF(self.rect()), self._image)
        painter.setOpacity(1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = theme_of(self.palette())
        painter.setPen(QPen(theme.colour("ink"), 1.4))
        for spot in self._rings.tolist():
            painter.drawEllipse(self.place_of(spot), RING_PX, RING_PX)
        if self._spot >= 0:
            painter.setPen(QPen(theme.colour("accent"), 2.2))
            painter.drawEllipse(self.place_of(self._spot), RING_PX + 2, RING_PX + 2)
        if self.hasFocus():
            painter.setPen(QPen(theme.colour("accent"), 1.4, Qt.PenStyle.DotLine))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))

    # -- pointing -----------------------------------------------------------------------------------------------

    def spot_at(self, at: QPointF) -> int:
        """Return the point nearest to a place, -1 when none is within reach."""
        if self.picture is None or not len(self.picture.spots_px):
            return -1
        ratio, (across, down) = self._image.devicePixelRatio(), self._scale
        away = np.hypot(*(self.picture.spots_px / ratio * [across, down] - [at.x(), at.y()]).T)
        nearest = int(away.argmin())
        return nearest if away[nearest] <= REACH_PX else -1

    def _mean(self, spot: int) -> None:
        if spot == self._spot:
            return
        self._spot = spot
        self.setCursor(Qt.CursorShape.PointingHandCursor if self._is_about_something() else Qt.CursorShape.ArrowCursor)
        self.pointed.emit(self.words)
        self.update()

    def _is_about_something(self) -> bool:
        cell, segment = self._meaning()
        return cell >= 0 or segment >= 0

    def _meaning(self) -> tuple[int, int]:
        if self.picture is None or self._spot < 0:
            return -1, -1
        return int(self.picture.cells[self._spot]), int(self.picture.segments[self._spot])

    def _spot_meaning(self, means: tuple[int, int]) -> int:
        """Return the point of a new picture that is about the same as the one meant before."""
        cell, segment = means
        if cell < 0 and segment < 0:
            return -1
        same = np.flatnonzero((self.picture.cells == cell) & (self.picture.segments == segment))
        return int(same[0]) if len(same) else -1

    def mouseMoveEvent(self, event) -> None:
        spot = self.spot_at(event.position())
        self._mean(spot)
        if spot >= 0:
            QToolTip.showText(event.globalPosition().toPoint(), self.words, self)
        else:
            QToolTip.hideText()

    def mousePressEvent(self, event) -> None:
        self._mean(self.spot_at(event.position()))
        if event.button() == Qt.MouseButton.LeftButton:
            self._choose()

    def leaveEvent(self, event) -> None:
        if not self.hasFocus():
            self._mean(-1)
        super().leaveEvent(event)

    def _choose(self) -> None:
        if self._is_about_something():
            self.chosen.emit(*self._meaning())

    # -- keys ---------------------------------------------------------------------------------------------------

    def keyPressEvent(self, event) -> None:
        n_spots = 0 if self.picture is None else len(self.picture.words)
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._choose()
        elif n_spots and key in STEPS:
            self._step_to(max(0, min(n_spots - 1, self._spot + STEPS[key])))
        elif n_spots and key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self._step_to(0 if key == Qt.Key.Key_Home else n_spots - 1)
        else:
            super().keyPressEvent(event)

    def _step_to(self, spot: int) -> None:
        self._mean(spot)
        self.setAccessibleDescription(self.words)
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.DescriptionChanged))

    def focusOutEvent(self, event) -> None:
        self._mean(-1)
        super().focusOutEvent(event)

    # -- what makes a picture old -------------------------------------------------------------------------------

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self.outdated.emit()

    def changeEvent(self, event) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self.outdated.emit()

    def event(self, event) -> bool:
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self.outdated.emit()
        return super().event(event)
