"""Workbench: canvas, tools, panels and menus around one document."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import (
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.checks.findings import Finding
from layout_app.edits.groups import groups_of
from layout_app.model.layouts import Layout
from layout_app.window.actions import allow, make_actions
from layout_app.window.canvas import Canvas
from layout_app.window.charts_dock import charts_dock
from layout_app.window.compare_desk import CompareDesk
from layout_app.window.document import Document
from layout_app.window.editing import Editing
from layout_app.window.filing import Filing
from layout_app.window.maps.dock import CurrentsDock
from layout_app.window.menus import Menus
from layout_app.window.message_bar import MessageBar
from layout_app.window.panel_places import PanelPlaces
from layout_app.window.panels.exact import ExactPanel
from layout_app.window.panels.facts import FactsPanel
from layout_app.window.panels.figures import FiguresPanel
from layout_app.window.panels.findings import FindingsPanel
from layout_app.window.panels.groups import GroupsPanel
from layout_app.window.panels.settings import SettingsPanel
from layout_app.window.panels.steps import StepsPanel
from layout_app.window.recovery import Slot
from layout_app.window.status_line import StatusLine
from layout_app.window.tool_line import ToolLine
from layout_app.window.tools import ChooseTool, EraseTool, HandTool, PaintTool, PlaceTool
from layout_app.window.variants.docks import variant_docks

if TYPE_CHECKING:
    from layout_app.window.main_window import MainWindow

translate = QCoreApplication.translate

ZOOM_STEP = 1.3


class Workbench:
    """What a main window holds once it has a layout."""

    def __init__(
        self, window: MainWindow, layout: Layout, path: Path | None, slot: Slot | None = None, digest: str | None = None
    ) -> None:
        self.window = window
        self.document = Document(layout, path, parent=window)
        self.document.file_digest = digest
        self.canvas = Canvas(self.document)
        self.message = MessageBar()
        self.filing = Filing(window, self.document, self.message, slot)
        self.actions = make_actions(window)
        self.tools = {
            "choose": ChooseTool(), "hand": HandTool(), "paint": PaintTool(), "place": PlaceTool(),
            "erase": EraseTool(),
        }  # fmt: skip
        self.group, self.n_brush, self.tool_name = 1, 1, "choose"
        self._picked_with: frozenset[int] = frozenset()  # the cells chosen when the active group was picked
        self._last_face, self.n_exports = "top", 0
        self._is_going = False  # to a finding: what it is about is chosen, yet the figures stay in sight
        self.walk: QWidget | None = None  # the bar that leads a newcomer
        self.tool_line = ToolLine(self.document)
        self.desk = CompareDesk(self)
        self.editing = Editing(self)
        self.tools |= self.editing.tools
        self.page = self._make_page()
        self.groups = GroupsPanel(self.canvas, self.actions, self.editing.choose_groups, self.editing.do)
        self.exact = ExactPanel(self.canvas, self.editing)
        self.settings = SettingsPanel(self.document)
        self.figures = FiguresPanel(self.document, self.desk.reference)
        self.facts = FactsPanel(self.canvas)
        self.findings = FindingsPanel(self.document)
        self.steps = StepsPanel(self.document)
        self.places = PanelPlaces(self)
        self.docks = self.places.docks
        self.docks["charts"] = charts_dock(self)
        self.docks["currents"] = CurrentsDock(self)
        self.docks |= variant_docks(self)
        self.status = StatusLine(window.statusBar(), self.canvas)
        self.readout = self.status.readout
        self.menus = Menus(window, self.actions, list(self.docks.values()))
        self.bar = self.menus.tool_bar()
        self.tool_line.setMovable(False)
        window.addToolBarBreak()
        window.addToolBar(self.tool_line)
        self._connect()

    def start(self) -> None:
        """Show the layout for the first time."""
        self.places.restore()
        self.actions["choose"].trigger()
        self.actions["top"].trigger()
        self.document.start()
        self.canvas.fit()
        self.canvas.setFocus()

    # -- building -----------------------------------------------------------------------------------------------

    def _make_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.message)
        column.addWidget(self.desk.halves, 1)
        return page

    def _connect(self) -> None:
        act, document, canvas = self.actions, self.document, self.canvas
        plain = {
            "new": lambda: self.window.program.new_window(), "open": self.window.ask_open, "save": self.save,
            "save_as": self.save_as, "export": self.export, "close": self.window.close,
            "quit": self.window.program.quit, "undo": document.undo, "redo": document.redo, "flip": self.flip,
            "fit": canvas.fit, "zoom_in": lambda: canvas.zoom_by(ZOOM_STEP),
            "zoom_out": lambda: canvas.zoom_by(1 / ZOOM_STEP), "next_group": lambda: self.pick_group(self.group + 1),
            "previous_group": lambda: self.pick_group(self.group - 1), **self.desk.todo(),
        } | self.window.common_todo()  # fmt: skip
        for name, do in plain.items():
            act[name].triggered.connect(lambda _=False, do=do: do())
        self.menus.one_at_a_time(self._use_tool, self._look_from)
        self.menus.recent.aboutToShow.connect(lambda: self.window.fill_recent(self.menus.recent))
        for action in self.menus.layers.values():
            action.toggled.connect(self._show_layers)
        document.history_changed.connect(self._show_history)
        document.refused.connect(self.message.tell)
        document.noted.connect(lambda message: self.message.tell(message, is_error=False))
        document.crashed.connect(self.window.program.crash)
        document.derived_changed.connect(self._show_tool)
        canvas.choice_changed.connect(self._show_choice)
        self.findings.chosen.connect(self._go_to)
        self.desk.connect_actions()
        self.tool_line.group_chosen.connect(self.pick_group)
        self.tool_line.brush_chosen.connect(self.set_brush)
        self.tool_line.shape_chosen.connect(self.editing.set_shape)
        self.tool_line.snapping_chosen.connect(self.editing.set_snapping)

    # -- tools and views ----------------------------------------------------------------------------------------

    def _use_tool(self, name: str) -> None:
        self.tool_name = name
        if name in ("paint", "place", "fill"):
            self._take_up_group()
        self.canvas.set_tool(self.tools[name])
        self.exact.show_chosen()
        self._show_tool()

    def _show_tool(self) -> None:
        for name in ("paint", "place", "fill"):
            self.tools[name].group = self.group
        for name in ("paint", "place", "erase"):
            self.tools[name].n_cells = self.n_brush
        self.tool_line.show_tool(self.tool_name, self.group, self.n_brush)

    def _take_up_group(self) -> None:
        """Go on with the group of the chosen cells, unless another was picked since they were chosen."""
        chosen = self.canvas.chosen_cells
        groups = groups_of(self.document.current, chosen)
        if len(groups) == 1 and chosen != self._picked_with:
            self.group = groups[0]

    def pick_group(self, group: int) -> None:
        """Make a group the active one because the user says so."""
        self._picked_with = self.canvas.chosen_cells
        self.set_group(group)

    def set_group(self, group: int) -> None:
        """Make a group the active one; 0 is no group."""
        self.group = max(0, min(group, self.document.current.n_series))
        self._show_tool()

    def set_brush(self, n_cells: int) -> None:
        """Set how many cells the brush covers."""
        self.n_brush = n_cells
        self._show_tool()
        self.canvas.setFocus()

    def _look_from(self, side: str) -> None:
        if side != "through":
            self._last_face = side
        self.canvas.set_side(side)

    def flip(self) -> None:
        """Look at the other face."""
        self.actions["bottom" if self._last_face == "top" else "top"].trigger()

    def _show_layers(self) -> None:
        self.canvas.set_layers(frozenset(n for n, action in self.menus.layers.items() if action.isChecked()))

    def _go_to(self, finding: Finding) -> None:
        places = list(finding.places_mm)
        if not places and finding.cells:
            places = [tuple(p) for p in self.document.current.cells.centres_mm[list(finding.cells)].tolist()]
        faces = {self.document.current.face_of(number) for number in finding.segments}
        if len(faces) == 1 and self.canvas.scene.side != "through":
            self.actions[faces.pop()].trigger()
        self._is_going = True
        if finding.cells:
            self.canvas.choose(frozenset(finding.cells))
        elif finding.segments:
            self.canvas.choose(segment=finding.segments[0])
        self._is_going = False
        self.canvas.go_to(places)

    # -- showing ------------------------------------------------------------------------------------------------

    def _show_history(self) -> None:
        document = self.document
        for name, label in (("undo", document.undo_label), ("redo", document.redo_label)):
            word = name.capitalize()
            reasons = {
                "undo": translate("window", "Nothing has been done yet."),
                "redo": translate("window", "Nothing was taken back."),
            }
            allow(self.actions[name], "" if label else reasons[name])
            self.actions[name].setText(f"&{word} {label[:1].lower()}{label[1:]}" if label else f"&{word}")
        place = document.path.name if document.path else translate("window", "not saved yet")
        self.window.setWindowTitle(f"{document.current.name} ({place})[*]")
        self.window.setWindowModified(document.is_modified)
        self.set_group(self.group)

    def _show_choice(self) -> None:
        picked = self.tools["paint"].group
        if picked != self.group and self.tool_name == "paint":
            self.set_group(picked)
        if not self._is_going and (self.canvas.chosen_cells or self.canvas.chosen_segment is not None):
            self.docks["facts"].raise_()

    # -- files --------------------------------------------------------------------------------------------------

    def save(self) -> bool:
        """Save to the document's file, asking for one if there is none; return whether it was saved."""
        return self.filing.save()

    def save_as(self) -> bool:
        """Ask for a file and save to it."""
        return self.filing.save_as()

    def export(self) -> None:
        """Ask what to export where, and do it."""
        from layout_app.window.export_dialog import ExportDialog

        dialog = ExportDialog(self.window, self.document)
        self.window.program.help.attend(dialog)
        dialog.exec()
        if dialog.told:
            self.n_exports += 1
            self.message.tell(dialog.told, is_error=False)
