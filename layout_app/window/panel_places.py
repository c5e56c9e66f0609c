"""Panel places: where the panels of a workbench stand, how they share the room, and where they stood the last time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QCoreApplication, Qt, QTimer
from PySide6.QtWidgets import QDockWidget, QSplitter, QTabWidget, QWidget

from layout_app.window import memory

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

translate = QCoreApplication.translate

PANELS_VERSION = 2  # raise when docks or tool bars get other names
MOST_FINDINGS = 0.64  # of the height that figures and findings share
LEAST_SHARE = 0.42  # of the window's width, for the module


class PanelPlaces:
    """Puts the panels of a workbench into docks; `docks` holds them by name."""

    def __init__(self, bench: Workbench) -> None:
        self._bench, self._window = bench, bench.window
        self.docks = self._make()

    def restore(self) -> None:
        """Put the panels where they stood the last time, or give each the room it wants."""
        if not self._restored():
            QTimer.singleShot(0, self._window, self._share_height)  # once the docks have their places
            self._bench.document.derived_changed.connect(self._share_height_once)

    def _make(self) -> dict[str, QDockWidget]:
        bench = self._bench
        left, right = Qt.DockWidgetArea.LeftDockWidgetArea, Qt.DockWidgetArea.RightDockWidgetArea
        docks = {
            "settings": self._dock("settings", translate("window", "Settings"), bench.settings, left),
            "groups": self._dock("groups", translate("window", "Groups"), bench.groups, left),
            "steps": self._dock("steps", translate("window", "Steps"), bench.steps, left),
            "figures": self._dock("figures", translate("window", "Figures"), bench.figures, right),
            "facts": self._dock("facts", translate("window", "Chosen"), self._make_chosen(), right),
            "findings": self._dock("findings", translate("window", "Findings"), bench.findings, right),
        }
        self._window.setTabPosition(right, QTabWidget.TabPosition.North)
        self._window.setTabPosition(left, QTabWidget.TabPosition.North)
        self._window.tabifyDockWidget(docks["settings"], docks["steps"])
        docks["settings"].raise_()
        self._window.tabifyDockWidget(docks["figures"], docks["facts"])
        docks["figures"].raise_()
        self._window.setTabPosition(left, QTabWidget.TabPosition.North)
        self._window.tabifyDockWidget(docks["settings"], docks["groups"])
        docks["settings"].raise_()
        self._share_width(docks)
        self._window.resizeDocks([docks["figures"], docks["findings"]], [420, 300], Qt.Orientation.Vertical)
        return docks

    def _make_chosen(self) -> QWidget:
        """Facts of what is chosen, and under them the numbers that can be changed."""
        chosen = QSplitter(Qt.Orientation.Vertical)
        chosen.setChildrenCollapsible(False)
        chosen.addWidget(self._bench.facts)
        chosen.addWidget(self._bench.exact)
        chosen.setSizes([220, 300])
        return chosen

    def _dock(self, name: str, title: str, widget: QWidget, area: Qt.DockWidgetArea) -> QDockWidget:
        dock = QDockWidget(title, self._window)
        dock.setObjectName(f"dock_{name}")
        dock.setWidget(widget)
        self._window.addDockWidget(area, dock)
        return dock

    def remember(self) -> None:
        """Keep where the panels stand for the next window."""
        kept = memory.settings()
        screen = self._window.screen()
        kept.setValue(memory.of_screen("panels", screen), self._window.saveState(PANELS_VERSION))
        kept.setValue(memory.of_screen("geometry", screen), self._window.saveGeometry())

    def _share_width(self, docks: dict[str, QDockWidget]) -> None:
        """Give panels their usual width, in a narrow window less, so that the module keeps the larger part."""
        width = self._window.width()
        widths = [min(310, round(0.28 * width)), min(350, round(0.27 * width))]
        self._window.resizeDocks([docks["settings"], docks["figures"]], widths, Qt.Orientation.Horizontal)

    def make_room(self) -> None:
        """Make panels narrower when the window has become so narrow that they leave the module too little."""
        if self._bench.canvas.width() < LEAST_SHARE * self._window.width():
            self._share_width(self.docks)

    def _share_height(self) -> None:
        """Give findings the room they want, if they are there yet, yet leave figures a third."""
        docks = [self.docks["figures"], self.docks["findings"]]
        whole = sum(dock.height() for dock in docks)
        wanted = min(max(self._bench.findings.wanted_height(), whole // 2), round(MOST_FINDINGS * whole))
        self._window.resizeDocks(docks, [whole - wanted, wanted], Qt.Orientation.Vertical)

    def _share_height_once(self) -> None:
        if self._bench.document.is_settled:
            self._bench.document.derived_changed.disconnect(self._share_height_once)
            self._share_height()

    def _restored(self) -> bool:
        kept = memory.settings()
        keys = (memory.of_screen(name, self._window.screen()) for name in ("geometry", "panels"))
        geometry, state = map(kept.value, keys)
        if isinstance(geometry, QByteArray) and len(self._window.program.windows) <= 1:
            self._window.restoreGeometry(geometry)
        if isinstance(state, QByteArray):
            return self._window.restoreState(state, PANELS_VERSION)
        return False
