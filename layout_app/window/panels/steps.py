"""Steps: everything done so far by name; a click on one goes back, or forward, to just after it."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QSignalBlocker
from PySide6.QtGui import QFont, QPalette
from PySide6.QtWidgets import QAbstractItemView, QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from layout_app.window.document import Document

translate = QCoreApplication.translate


class StepsPanel(QWidget):
    """Row k shows the layout after k steps; those taken back stand below, in italics."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._labels: tuple[str, ...] = ()
        self._step = -1
        self.summary = QLabel()
        self.summary.setContentsMargins(10, 6, 10, 4)
        self.list = QListWidget(uniformItemSizes=True)
        self.list.setAccessibleName(translate("steps", "Steps"))
        self.list.setSpacing(2)
        self.list.setFrameShape(QAbstractItemView.Shape.NoFrame)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.summary)
        column.addWidget(self.list, 1)
        self.list.itemClicked.connect(self._go)
        self.list.itemActivated.connect(self._go)
        document.history_changed.connect(self.show_steps)
        self.show_steps()

    def show_steps(self) -> None:
        """Show the steps of the document."""
        labels, step = self._document.labels, self._document.step
        if (labels, step) == (self._labels, self._step):
            return
        with QSignalBlocker(self.list):
            self._fill(labels)
            for row in range(min(step, self._step) + 1, self.list.count()):
                self._set_look(self.list.item(row), is_undone=row > step)
            self.list.setCurrentRow(step)
        self._step = step
        told = (
            translate("steps", "{done} of {all} steps done")
            if step < len(labels)
            else translate("steps", "{done} steps")
        )
        self.summary.setText(told.format(done=step, all=len(labels)))
        self.list.scrollToItem(self.list.item(step))

    def _fill(self, labels: tuple[str, ...]) -> None:
        """Bring the rows up to date, leaving those that are right: a stroke adds one row to a thousand."""
        if not self.list.count():
            self.list.addItem(translate("steps", "As opened"))
        old, self._labels = self._labels, labels
        n_same = next(
            (k for k, (a, b) in enumerate(zip(old, labels, strict=False)) if a != b), min(len(old), len(labels))
        )
        while self.list.count() > n_same + 1:
            self.list.takeItem(self.list.count() - 1)
        self.list.addItems(list(labels[n_same:]))
        self._step = min(self._step, n_same)

    def _set_look(self, item: QListWidgetItem, *, is_undone: bool) -> None:
        font = QFont(self.list.font())
        font.setItalic(is_undone)
        item.setFont(font)
        group = QPalette.ColorGroup.Disabled if is_undone else QPalette.ColorGroup.Active
        item.setForeground(self.palette().color(group, QPalette.ColorRole.Text))
        item.setToolTip(translate("steps", "Taken back; click to do it again") if is_undone else "")

    def _go(self, item: QListWidgetItem) -> None:
        self._document.go_to(self.list.row(item))
