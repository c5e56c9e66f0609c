"""Currents dock: the panel of currents in a workbench, joined to its actions, canvas and message line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QActionGroup
from PySide6.QtWidgets import QDockWidget, QFileDialog

from layout_app.model.errors import LayoutError
from layout_app.window.actions import allow
from layout_app.window.map_actions import MAPS
from layout_app.window.maps.desk import MapDesk
from layout_app.window.maps.kinds import translate
from layout_app.window.panels.currents import CurrentsPanel

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

SWITCHES = {"map_lines": "shows_lines", "map_ways": "shows_ways", "map_necks": "shows_necks"}


class CurrentsDock(QDockWidget):
    """A tab beside the figures."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(translate("Maps", "Currents"), bench.window)
        self._bench, self._actions = bench, bench.actions
        self.desk = MapDesk(bench.document, bench.canvas, bench.desk.bar)
        self.panel = CurrentsPanel(self.desk, bench.actions)
        self.setObjectName("dock_currents")
        self.setWidget(self.panel)
        bench.window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self)
        bench.window.tabifyDockWidget(bench.docks["facts"], self)
        bench.docks["figures"].raise_()
        self._connect()

    def _connect(self) -> None:
        act, desk, group = self._actions, self.desk, QActionGroup(self)
        for name in MAPS:
            group.addAction(act[name])
            act[name].triggered.connect(lambda _=False, name=name: self._choose(name.removeprefix("map_")))
        for name, field in SWITCHES.items():
            act[name].triggered.connect(lambda on, field=field: desk.choose(**{field: on}))
        act["map_sheet"].triggered.connect(lambda on: desk.choose(model="sheet" if on else "network"))
        act["work_sheet"].triggered.connect(desk.work_out)
        act["currents"].triggered.connect(self._show)
        act["picture"].triggered.connect(self._save_picture)
        desk.changed.connect(self._show_desk)
        self._show_desk()

    def _choose(self, name: str) -> None:
        """Show a map; where no current can flow there is none, and the panel that says so may not be in sight."""
        self.desk.choose(map=name)
        if name != "none" and self.desk.network is None and self.desk.document.no_currents:
            self._bench.tool_line.explain(self.desk.document.no_currents)

    def _show_desk(self) -> None:
        choice, act = self.desk.choice, self._actions
        act[f"map_{choice.map}"].setChecked(True)
        act["map_sheet"].setChecked(choice.model == "sheet")
        for name, field in SWITCHES.items():
            act[name].setChecked(getattr(choice, field))
        why_not = self.desk.document.no_currents if self.desk.network is None else ""
        if not why_not and self.desk.is_current:
            why_not = translate("Maps", "The sheet model is of the layout shown.")
        allow(act["work_sheet"], why_not)

    def _show(self) -> None:
        self.show()
        self.raise_()
        self.panel.map.editor.setFocus()

    def _save_picture(self) -> None:
        from layout_app.window.maps.canvas_picture import save_picture

        window, document = self._bench.window, self._bench.document
        start = Path(window._folder()) / f"{document.current.name}.png"
        kinds = translate("Maps", "Pictures (*.png);;Vector drawings (*.svg);;Documents (*.pdf)")
        name, kind = QFileDialog.getSaveFileName(window, translate("Maps", "Save picture"), str(start), kinds)
        if not name:
            return
        path = Path(name) if Path(name).suffix else Path(name + kind[kind.index("*.") + 1 : -1])
        try:
            save_picture(self._bench.canvas, path, self.desk.marks)
        except LayoutError as error:
            self._bench.message.tell(str(error))
        else:
            self._bench.message.tell(translate("Maps", "Saved {path}").format(path=path), is_error=False)
