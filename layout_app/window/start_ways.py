"""Start ways: the wide buttons of the start page, each with a mark, a title, and what it is about."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPalette, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout

from layout_app.window.colours import theme_of

MARK = QSize(26, 26)


class _Way(QPushButton):
    """A flat button that shows when the keyboard is on it."""

    def paintEvent(self, event) -> None:
        super().paintEvent(event)
        if self.hasFocus():
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(theme_of(self.palette()).colour("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5), 5, 5)
            painter.end()


def way(picture: QIcon, title: str, words: str, go: Callable[[], None], room: QSize = MARK) -> QPushButton:
    """A wide flat button with a title and what it is about."""
    button = _Way(flat=True)
    button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
    button.setAccessibleName(title)
    button.setAccessibleDescription(words)
    button.setToolTip(words)
    button.setMinimumHeight(52)
    mark, name, about = QLabel(), QLabel(title), QLabel(words)
    font = about.font()
    font.setPointSizeF(0.86 * font.pointSizeF())
    about.setFont(font)
    about.setForegroundRole(QPalette.ColorRole.PlaceholderText)
    texts = QVBoxLayout()
    texts.setSpacing(0)
    texts.addWidget(name)
    texts.addWidget(about)
    mark.setObjectName("mark")
    mark.setFixedWidth(room.width())
    mark.setAlignment(Qt.AlignmentFlag.AlignCenter)
    mark.setPixmap(picture.pixmap(MARK, button.devicePixelRatioF()))
    row = QHBoxLayout(button)
    row.setContentsMargins(10, 4, 10, 4)
    row.setSpacing(14)
    row.addWidget(mark)
    row.addLayout(texts, 1)
    for label in (mark, name, about):
        label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    button.clicked.connect(lambda *_: go())
    return button
