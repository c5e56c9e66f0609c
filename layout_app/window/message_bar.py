"""MessageBar: one line over the canvas that says what could not be done; it goes when read or when no longer so."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QWidget

from layout_app.window.colours import theme_of

LONG_ENOUGH_MS = 12_000


class MessageBar(QFrame):
    """Hidden until `tell` is called."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Message")
        self._mark, self._text = QLabel("!"), QLabel(wordWrap=True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        close = QToolButton(text="×", autoRaise=True, toolTip="Close this message")
        close.setAccessibleName("Close message")
        close.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 6, 6)
        row.setSpacing(10)
        for widget in (self._mark, self._text, close):
            row.addWidget(widget)
        row.setStretch(1, 1)
        self._timer = QTimer(self, singleShot=True, interval=LONG_ENOUGH_MS)
        self._timer.timeout.connect(self.hide)
        self.hide()

    @property
    def text(self) -> str:
        """The message shown last."""
        return self._text.text()

    def tell(self, message: str, *, is_error: bool = True) -> None:
        """Show a message."""
        theme = theme_of(self.palette())
        edge = theme.error if is_error else theme.accent
        self._mark.setText("Not done:" if is_error else "Done:")
        self._mark.setStyleSheet(f"color: {edge}; font-weight: bold")
        self.setStyleSheet(f"MessageBar {{ border: 0; border-left: 4px solid {edge}; background: {theme.ruler}; }}")
        self._text.setText(message)
        self.setAccessibleDescription(message)
        self.show()
        self._timer.start(max(LONG_ENOUGH_MS, 60 * len(message)))

    def sizeHint(self):
        hint = super().sizeHint()
        hint.setHeight(max(hint.height(), QFontMetrics(self.font()).height() + 16))
        return hint
