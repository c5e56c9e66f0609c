"""Elided labels and choices: their text ends in … where there is no room for all of it."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QComboBox, QLabel, QStyle, QStyleOptionComboBox, QStylePainter

from layout_app.window.sizes import characters

LEAST_CHARACTERS = 8


class ElidedLabel(QLabel):
    """One line, the whole in its tip; never wider than it is given room for: what stands beside it keeps its place."""

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self._whole = ""
        self.setText(text)

    def text(self) -> str:
        """Return the whole text."""
        return self._whole

    def setText(self, text: str) -> None:
        """Show a text, as much of it as there is room for."""
        self._whole = text
        self.setToolTip(text)
        self._fit()

    def minimumSizeHint(self) -> QSize:
        return QSize(characters(self, LEAST_CHARACTERS), super().minimumSizeHint().height())

    def sizeHint(self) -> QSize:
        margins = self.contentsMargins()
        wide = self.fontMetrics().horizontalAdvance(self._whole) + margins.left() + margins.right() + 2
        return QSize(wide, super().sizeHint().height())

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        room = self.contentsRect().width()
        super().setText(self.fontMetrics().elidedText(self._whole, Qt.TextElideMode.ElideRight, room))


class ElidedCombo(QComboBox):
    """A choice whose words end in … where there is no room for them; the list shows them whole."""

    def paintEvent(self, event) -> None:
        painter, option = QStylePainter(self), QStyleOptionComboBox()
        self.initStyleOption(option)
        whole, part = QStyle.ComplexControl.CC_ComboBox, QStyle.SubControl.SC_ComboBoxEditField
        room = self.style().subControlRect(whole, option, part, self).width() - 4
        option.currentText = self.fontMetrics().elidedText(option.currentText, Qt.TextElideMode.ElideRight, room)
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
