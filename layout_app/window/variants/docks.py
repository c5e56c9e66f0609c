"""Docks of variants: what if and the adviser, hidden until asked for; what is kept goes through the history."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QDockWidget, QWidget

from layout_app.window.variants.advice import AdvicePanel
from layout_app.window.variants.what_if import WhatIfPanel

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

translate = QCoreApplication.translate


def variant_docks(bench: Workbench) -> dict[str, QDockWidget]:
    """Return both docks, added to the workbench's window and joined to their actions."""
    what_if, advice = WhatIfPanel(bench.canvas), AdvicePanel(bench.document)
    titles = {"what_if": translate("window", "What if"), "advice": translate("window", "Adviser")}
    docks = {}
    for name, panel, first in (("what_if", what_if, what_if.form.kind), ("advice", advice, advice.begin)):
        docks[name] = _dock(bench, name, titles[name], panel)
        bench.actions[name].triggered.connect(lambda _=False, d=docks[name], w=first: _show(bench, d, w))
        panel.wanted.connect(bench.document.request)
        panel.crashed.connect(bench.window.program.crash)
    return docks


def _dock(bench: Workbench, name: str, title: str, panel: QWidget) -> QDockWidget:
    dock = QDockWidget(title, bench.window)
    dock.setObjectName(f"dock_{name}")
    dock.setWidget(panel)
    bench.window.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, dock)
    bench.window.tabifyDockWidget(bench.docks["charts"], dock)
    dock.hide()
    return dock


def _show(bench: Workbench, dock: QDockWidget, first: QWidget) -> None:
    if dock.isHidden():
        dock.show()
        height = min(dock.widget().sizeHint().height(), bench.window.height() * 2 // 5)
        bench.window.resizeDocks([dock], [height], Qt.Orientation.Vertical)
    dock.raise_()
    first.setFocus()
