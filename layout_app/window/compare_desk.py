"""CompareDesk: what belongs to comparing in a workbench: the reference, its view beside the canvas, the actions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, Qt
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QSplitter, QVBoxLayout, QWidget

from layout_app.window.actions import allow
from layout_app.window.beside import BesideView
from layout_app.window.maps.colour_bar import ColourBar
from layout_app.window.reference import Reference

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

translate = QCoreApplication.translate

NO_REFERENCE = QT_TRANSLATE_NOOP(
    "comparing", "There is nothing to compare with yet: keep the layout as it is now, or choose a file."
)


class CompareDesk:
    """`halves` holds the canvas and, when wanted, the reference beside it."""

    def __init__(self, workbench: Workbench) -> None:
        self._workbench = workbench
        self.reference = Reference(workbench.document)
        self.beside = BesideView(self.reference, workbench.canvas)
        self.halves = QSplitter(Qt.Orientation.Horizontal)
        self.halves.setChildrenCollapsible(False)
        self.title = QLabel(translate("comparing", "<b>Now</b>"), visible=False)
        self.title.setContentsMargins(10, 4, 4, 4)
        now = QWidget()
        column = QVBoxLayout(now)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.title)
        self.bar = ColourBar()
        row = QHBoxLayout()
        row.setSpacing(0)
        row.addWidget(workbench.canvas, 1)
        row.addWidget(self.bar)
        column.addLayout(row, 1)
        for half in (now, self.beside):
            self.halves.addWidget(half)
            self.halves.setStretchFactor(self.halves.count() - 1, 1)

    def todo(self) -> dict[str, Callable[[], None]]:
        """Return what each of the actions does."""
        return {
            "keep": self.reference.keep,
            "compare": self.ask_file,
            "beside": self._show_beside,
            "forget": self.reference.drop,
        }

    def connect_actions(self) -> None:
        """Connect to the rest of the workbench, once that has its actions."""
        self.reference.refused.connect(self._workbench.message.tell)
        self.reference.crashed.connect(self._workbench.window.program.crash)
        self.reference.replaced.connect(self._allow)
        self.beside.closed.connect(lambda: self._workbench.actions["beside"].trigger())
        self._allow()

    def ask_file(self) -> None:
        """Ask for a layout to compare with."""
        window = self._workbench.window
        name, _ = QFileDialog.getOpenFileName(
            window,
            translate("comparing", "Compare with"),
            window._folder(),
            translate("comparing", "Layouts (*.busweave)"),
        )
        if name:
            self.reference.load(Path(name))

    def close(self) -> None:
        """End the work beside the window."""
        self.reference.close()

    def _allow(self) -> None:
        actions, has_one = self._workbench.actions, self.reference.kept is not None
        for name in ("beside", "forget"):
            allow(actions[name], "" if has_one else translate("comparing", NO_REFERENCE))
        if not has_one:
            actions["beside"].setChecked(False)
            self._show_beside()

    def _show_beside(self) -> None:
        is_wanted = self._workbench.actions["beside"].isChecked()
        self.title.setVisible(is_wanted)
        self.beside.setVisible(is_wanted)
        if is_wanted:
            self.title.setFixedHeight(self.beside.head_height)  # so that both drawings stand at the same height
            half = self.halves.width() // 2
            self.halves.setSizes([half, half])
