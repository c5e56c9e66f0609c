"""Charts dock: the panel of charts in a workbench, hidden until asked for; what is chosen there goes to the canvas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QDockWidget

from layout_app.window.charts import ChartsPanel

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

translate = QCoreApplication.translate


def charts_dock(bench: Workbench) -> QDockWidget:
    """Return the dock, added to the workbench's window and joined to its action, canvas and message line."""
    panel = ChartsPanel(bench.document)
    dock = QDockWidget(translate("window", "Charts"), bench.window)
    dock.setObjectName("dock_charts")
    dock.setWidget(panel)
    bench.window.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, dock)
    dock.hide()
    bench.actions["charts"].triggered.connect(lambda: _show(dock, panel))
    bench.canvas.choice_changed.connect(lambda: panel.mark(bench.canvas.chosen_cells))
    panel.chosen.connect(lambda cell, segment: _choose(bench, cell, segment))
    panel.told.connect(lambda message, is_error: bench.message.tell(message, is_error=is_error))
    return dock


def _show(dock: QDockWidget, panel: ChartsPanel) -> None:
    dock.show()
    dock.raise_()
    panel.choice.setFocus()


def _choose(bench: Workbench, cell: int, segment: int) -> None:
    """Choose a cell or segment on the canvas and bring it into view."""
    layout = bench.document.current
    if 0 <= cell < len(layout.cells):  # of a layout before, there may have been more
        bench.canvas.choose(frozenset({cell}))
        bench.canvas.go_to([tuple(layout.cells.centres_mm[cell].tolist())])
    elif 0 <= segment < layout.n_segments:
        if bench.canvas.scene.side != "through":
            bench.actions[layout.face_of(segment)].trigger()
        bench.canvas.choose(segment=segment)
