"""Menus and tool bar of the workbench: where each action is found."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSize, Qt
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QDockWidget, QMainWindow, QMenu, QMenuBar, QToolBar, QToolButton

from layout_app.window import appearance
from layout_app.window.actions import SIDES, TOOLS
from layout_app.window.edit_actions import EDIT_MENUS
from layout_app.window.finder import CHANGES
from layout_app.window.icons import icon
from layout_app.window.map_actions import MAP_MENUS
from layout_app.window.scene import LAYERS, OFF_AT_FIRST

BAR_GROUPS = (
    ("open", "save", "export"),
    ("undo", "redo"),
    TOOLS,
    ("top", "bottom", "through", "flip"),
    ("fit", "zoom_out", "zoom_in"),
)
# title -> names of actions in order; "-" is a line, "@name" a menu that is filled on its own
MENUS = {
    QT_TRANSLATE_NOOP("menus", "&File"): "new open @recent - save save_as export - close quit",
    QT_TRANSLATE_NOOP("menus", "&Edit"): "undo redo - next_group previous_group",
    **EDIT_MENUS,
    QT_TRANSLATE_NOOP("menus", "&Tools"): " ".join((*TOOLS, "-", "add_corner")),
    QT_TRANSLATE_NOOP(
        "menus", "&View"
    ): "top bottom through flip - fit zoom_in zoom_out - inches @layers @panels @appearance",
    **MAP_MENUS,
    QT_TRANSLATE_NOOP("menus", "C&ompare"): "keep compare - beside forget",
    QT_TRANSLATE_NOOP("menus", "&Help"): "help walk keys find news - about",
}
FIRST_MENUS = {  # before there is a layout
    QT_TRANSLATE_NOOP("menus", "&File"): "new open @recent - close quit",
    QT_TRANSLATE_NOOP("menus", "&View"): "@appearance",
    QT_TRANSLATE_NOOP("menus", "&Help"): "help walk keys find news - about",
}
translate = QCoreApplication.translate


class Menus:
    """Builds the menus of a window; `recent` is filled each time it opens, `layers` holds a check mark a layer."""

    def __init__(
        self,
        window: QMainWindow,
        actions: dict[str, QAction],
        docks: list[QDockWidget],
        menus: dict[str, str] = MENUS,
    ) -> None:
        self._window, self._actions, self._docks = window, actions, docks
        self.recent = QMenu(translate("menus", "Open &recent"), window)
        self.recent.setProperty(CHANGES, True)
        self._layers_menu = QMenu(translate("menus", "&Layers"), window)
        self._layers_menu.setIcon(icon("layers"))
        self.layers: dict[str, QAction] = {}
        for title, names in menus.items():
            menu = window.menuBar().addMenu(translate("menus", title))
            self._fill(menu, names)
            give_letters(menu)
        give_letters(window.menuBar())

    def _fill(self, menu: QMenu, names: str) -> None:
        for name in names.split():
            if name == "-":
                menu.addSeparator()
            elif name.startswith("@"):
                getattr(self, f"_add_{name[1:]}")(menu)
            else:
                menu.addAction(self._actions[name])

    def _add_recent(self, menu: QMenu) -> None:
        menu.addMenu(self.recent)

    def _add_layers(self, menu: QMenu) -> None:
        self.layers = {name: self._layer(number, name) for number, name in enumerate(LAYERS, 1)}
        menu.addMenu(self._layers_menu)

    def _add_panels(self, menu: QMenu) -> None:
        panels = menu.addMenu(translate("menus", "&Panels"))
        for dock in self._docks:
            action = dock.toggleViewAction()
            action.setToolTip(translate("menus", "Show or hide the panel"))
            panels.addAction(action)

    def _add_appearance(self, menu: QMenu) -> None:
        looks, group = menu.addMenu(translate("menus", "&Appearance")), QActionGroup(self._window)
        for choice, words in appearance.choices().items():
            action = looks.addAction(words)
            action.setCheckable(True)
            action.setToolTip(translate("menus", "Colours of all windows"))
            action.triggered.connect(lambda _=False, choice=choice: appearance.choose(choice))
            group.addAction(action)
        looks.aboutToShow.connect(
            lambda: group.actions()[list(appearance.choices()).index(appearance.chosen())].setChecked(True)
        )

    def _layer(self, number: int, name: str) -> QAction:
        action = self._layers_menu.addAction(translate("layers", LAYERS[name]))
        action.setCheckable(True)
        action.setChecked(name not in OFF_AT_FIRST)
        action.setShortcut(f"Alt+{number % 10}")
        action.setToolTip(
            translate("menus", "Show or hide: {lower} (Alt+{number})").format(
                lower=translate("layers", LAYERS[name]).lower(), number=number % 10
            )
        )
        self._window.addAction(action)
        return action

    def tool_bar(self) -> QToolBar:
        """Return the bar of tools and views, added to the window."""
        bar = QToolBar(translate("menus", "Main tools"))
        bar.setObjectName("main_tools")
        bar.setIconSize(QSize(22, 22))
        bar.setMovable(False)
        for names in BAR_GROUPS:
            for name in names:
                bar.addAction(self._actions[name])
            bar.addSeparator()
        button = QToolButton(
            text=translate("menus", "Layers"),
            toolTip=translate("menus", "Show or hide layers"),
            popupMode=QToolButton.InstantPopup,
        )
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


def give_letters(menu: QMenu | QMenuBar) -> None:
    """Let every entry of a menu be chosen by a letter of its own, as far as there are letters.

    Entries come from several modules, and translations change them, so that nobody can see that two share a letter.
    """
    taken: set[str] = set()
    entries = [action for action in menu.actions() if not action.isSeparator()]
    for action in sorted(entries, key=lambda action: "&" not in action.text()):  # chosen letters first
        text = action.text().replace("&", "")
        wanted = action.text().partition("&")[2][:1].lower()
        starts = [word[0] for word in text.lower().split()]
        letter = next((c for c in [wanted, *starts, *text.lower()] if c.isalnum() and c not in taken), "")
        if letter:
            taken.add(letter)
            place = _place(text, letter)
            action.setText(f"{text[:place]}&{text[place:]}")
        else:
            action.setText(text)


def _place(text: str, letter: str) -> int:
    """Return where a letter stands in a text, at the beginning of a word if it does."""
    low = text.lower()
    at_word = f" {low}".find(f" {letter}")
    return at_word if at_word >= 0 else low.index(letter)
