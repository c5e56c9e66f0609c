"""Section: a heading that folds what is under it away."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QToolButton, QVBoxLayout, QWidget

translate = QCoreApplication.translate


class Section(QWidget):
    """A heading and a column of fields."""

    def __init__(self, title: str, fields: list[QWidget]) -> None:
        super().__init__()
        self._heading = QToolButton(text=title, checkable=True, checked=True, autoRaise=True)
        self._heading.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._heading.setArrowType(Qt.ArrowType.DownArrow)
        self._heading.setStyleSheet("QToolButton { font-weight: bold; border: 0; padding: 2px 0; }")
        self._heading.setToolTip(translate("fields", "Fold {lower} away or show it").format(lower=title.lower()))
        self._body = QWidget()
        inner = QVBoxLayout(self._body)
        inner.setContentsMargins(4, 2, 0, 8)
        inner.setSpacing(5)
        for field in fields:
            inner.addWidget(field)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self._heading)
        column.addWidget(self._body)
        self._heading.toggled.connect(self._fold)

    def _fold(self, is_open: bool) -> None:
        self._body.setVisible(is_open)
        self._heading.setArrowType(Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow)
