"""Menus and tool bar of the workbench: where each action is found."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QDockWidget, QMainWindow, QMenu, QToolBar, QToolButton

from layout_app.window.actions import SIDES, TOOLS
from layout_app.window.icons import icon
from layout_app.window.scene import LAYERS

BAR_GROUPS = (
    ("open", "save", "export"),
    ("undo", "redo"),
    TOOLS,
    ("top", "bottom", "through", "flip"),
    ("fit", "zoom_out", "zoom_in"),
)


class Menus:
    """Builds the menus of a window; `recent` is filled each time it opens, `layers` holds a check mark a layer."""

    def __init__(self, window: QMainWindow, actions: dict[str, QAction], docks: list[QDockWidget]) -> None:
        self._window, self._actions = window, actions
        bar = window.menuBar()
        file = bar.addMenu("&File")
        self._fill(file, "new open")
        self.recent = file.addMenu("Open &recent")
        self._fill(file, "- save save_as export - close quit")
        self._fill(bar.addMenu("&Edit"), "undo redo - next_group previous_group")
        self._fill(bar.addMenu("&Tools"), " ".join(TOOLS))
        view = bar.addMenu("&View")
        self._fill(view, "top bottom through flip - fit zoom_in zoom_out -")
        self._layers_menu = view.addMenu(icon("layers"), "&Layers")
        self.layers = {name: self._layer(number, name) for number, name in enumerate(LAYERS, 1)}
        panels = view.addMenu("&Panels")
        for dock in docks:
            panels.addAction(dock.toggleViewAction())
        self._fill(bar.addMenu("&Help"), "about")

    def _fill(self, menu: QMenu, names: str) -> None:
        for name in names.split():
            if name == "-":
                menu.addSeparator()
            else:
                menu.addAction(self._actions[name])

    def _layer(self, number: int, name: str) -> QAction:
        action = self._layers_menu.addAction(LAYERS[name])
        action.setCheckable(True)
        action.setChecked(True)
        action.setShortcut(f"Alt+{number}")
        action.setToolTip(f"Show or hide: {LAYERS[name].lower()} (Alt+{number})")
        self._window.addAction(action)
        return action

    def tool_bar(self) -> QToolBar:
        """Return the bar of tools and views, added to the window."""
        bar = QToolBar("Main tools")
        bar.setObjectName("main_tools")
        bar.setIconSize(QSize(22, 22))
        bar.setMovable(False)
        for names in BAR_GROUPS:
            for name in names:
                bar.addAction(self._actions[name])
            bar.addSeparator()
        button = QToolButton(text="Layers", toolTip="Show or hide layers", popupMode=QToolButton.InstantPopup)
        button.setMenu(self._layers_menu)
        button.setIcon(icon("layers"))
        button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        bar.addWidget(button)
        self._window.addToolBar(bar)
        return bar

    def one_at_a_time(self, use_tool: Callable[[str], None], look_from: Callable[[str], None]) -> None:
        """Let one tool and one view be checked at a time, and tell when another is."""
        for names, use in ((TOOLS, use_tool), (SIDES, look_from)):
            group = QActionGroup(self._window)
            for name in names:
                group.addAction(self._actions[name])
                self._actions[name].triggered.connect(lambda _, name=name, use=use: use(name))
