"""Figures: every computed quantity; the chosen one tells its formula, inputs and source."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.physics.figures import Figure
from layout_app.window.document import Document


class FiguresPanel(QWidget):
    """A table of figures over what the chosen one is made of."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._shown: tuple[Figure, ...] = ()
        self.table = QTableWidget(0, 3)
        self.table.setAccessibleName("Figures")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setShowGrid(False)
        self.table.setFrameShape(QAbstractItemView.Shape.NoFrame)
        self.table.verticalHeader().hide()
        self.table.horizontalHeader().hide()
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        header.sectionResized.connect(lambda column, *_: column == 0 and self.table.resizeRowsToContents())
        for column in (1, 2):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        self.details = QLabel("Choose a figure to see how it comes about.", wordWrap=True)
        self.details.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.details.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.details.setContentsMargins(8, 4, 8, 6)
        self.details.setMinimumHeight(3 * self.fontMetrics().lineSpacing())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.details)
        self.table.currentCellChanged.connect(lambda row, *_: self._tell(row))
        document.derived_changed.connect(self.show_figures)
        document.stale_changed.connect(self._show_age)
        self.show_figures()

    def show_figures(self) -> None:
        """Show the figures worked out last; rows keep their place."""
        figures = self._document.figures
        if figures is self._shown:
            return
        self._shown = figures
        self.table.setRowCount(len(figures))
        for row, figure in enumerate(figures):
            self._fill(row, figure)
        self.table.resizeRowsToContents()
        self._tell(self.table.currentRow())

    def _fill(self, row: int, figure: Figure) -> None:
        value, _, unit = figure.text.partition(" ")
        for column, text in enumerate((figure.label, value, unit)):
            item = QTableWidgetItem(text)
            item.setToolTip(f"{figure.formula}\n{_inputs(figure)}\n{figure.source}")
            if column == 1:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                font = QFont(self.font())
                font.setBold(True)
                item.setFont(font)
            self.table.setItem(row, column, item)

    def _tell(self, row: int) -> None:
        if not 0 <= row < len(self._shown):
            return
        figure = self._shown[row]
        self.details.setText(f"{figure.label} = {figure.formula}\n{_inputs(figure)}\nSource: {figure.source}")

    def _show_age(self) -> None:
        self.table.setEnabled(not self._document.is_stale)


def _inputs(figure: Figure) -> str:
    return ", ".join(f"{name} {value}" for name, value in figure.inputs)
