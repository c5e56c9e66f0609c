"""Actions: everything that can be asked of the window, each with its words, key, icon and tip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

from layout_app.window.edit_actions import EDIT_ENTRIES, EDIT_TOOLS
from layout_app.window.icons import icon
from layout_app.window.map_actions import MAP_ENTRIES


@dataclass(frozen=True, slots=True)
class Entry:
    """One action as the menus show it."""

    text: str
    tip: str
    keys: tuple[str, ...] = ()
    picture: str = ""
    is_checkable: bool = False


ENTRIES: dict[str, Entry] = {
    "new": Entry(
        QT_TRANSLATE_NOOP("actions", "&New…"),
        QT_TRANSLATE_NOOP("actions", "Begin a layout from a drawing or from numbers"),
        ("Ctrl+N",),
        "new",
    ),
    "open": Entry(
        QT_TRANSLATE_NOOP("actions", "&Open…"),
        QT_TRANSLATE_NOOP("actions", "Open a layout or a housing drawing"),
        ("Ctrl+O",),
        "open",
    ),
    "save": Entry(
        QT_TRANSLATE_NOOP("actions", "&Save"),
        QT_TRANSLATE_NOOP("actions", "Save the layout to its file"),
        ("Ctrl+S",),
        "save",
    ),
    "save_as": Entry(
        QT_TRANSLATE_NOOP("actions", "Save &as…"),
        QT_TRANSLATE_NOOP("actions", "Save the layout to another file"),
        ("Ctrl+Shift+S",),
    ),
    "export": Entry(
        QT_TRANSLATE_NOOP("actions", "&Export…"),
        QT_TRANSLATE_NOOP("actions", "Write drawings, tables and the report to a folder"),
        ("Ctrl+E",),
        "export",
    ),
    "close": Entry(
        QT_TRANSLATE_NOOP("actions", "&Close window"), QT_TRANSLATE_NOOP("actions", "Close this window"), ("Ctrl+W",)
    ),
    "quit": Entry(
        QT_TRANSLATE_NOOP("actions", "&Quit"), QT_TRANSLATE_NOOP("actions", "Close all windows"), ("Ctrl+Q",)
    ),
    "undo": Entry(
        QT_TRANSLATE_NOOP("actions", "&Undo"),
        QT_TRANSLATE_NOOP("actions", "Take the last step back"),
        ("Ctrl+Z",),
        "undo",
    ),
    "redo": Entry(
        QT_TRANSLATE_NOOP("actions", "&Redo"),
        QT_TRANSLATE_NOOP("actions", "Do the step taken back again"),
        ("Ctrl+Shift+Z", "Ctrl+Y"),
        "redo",
    ),
    "choose": Entry(
        QT_TRANSLATE_NOOP("actions", "&Choose"),
        QT_TRANSLATE_NOOP("actions", "Click a cell or segment to see its facts; drag a terminal to move it"),
        ("C",),
        "choose",
        True,
    ),
    "hand": Entry(
        QT_TRANSLATE_NOOP("actions", "&Move the view"),
        QT_TRANSLATE_NOOP("actions", "Drag the view; also with the middle button or space held"),
        ("H",),
        "hand",
        True,
    ),
    "paint": Entry(
        QT_TRANSLATE_NOOP("actions", "&Paint into group"),
        QT_TRANSLATE_NOOP("actions", "Drag over cells to put them into the active group"),
        ("P",),
        "paint",
        True,
    ),
    "place": Entry(
        QT_TRANSLATE_NOOP("actions", "P&lace cells"),
        QT_TRANSLATE_NOOP("actions", "Drag over empty sites to place cells"),
        ("L",),
        "place",
        True,
    ),
    "erase": Entry(
        QT_TRANSLATE_NOOP("actions", "&Erase cells"),
        QT_TRANSLATE_NOOP("actions", "Drag over cells to take them away"),
        ("E",),
        "erase",
        True,
    ),
    "top": Entry(
        QT_TRANSLATE_NOOP("actions", "&Top face"),
        QT_TRANSLATE_NOOP("actions", "Look at the top face from above"),
        ("1",),
        "top",
        True,
    ),
    "bottom": Entry(
        QT_TRANSLATE_NOOP("actions", "&Bottom face"),
        QT_TRANSLATE_NOOP("actions", "Look at the bottom face from below, mirrored"),
        ("2",),
        "bottom",
        True,
    ),
    "through": Entry(
        QT_TRANSLATE_NOOP("actions", "&Both faces"),
        QT_TRANSLATE_NOOP("actions", "Look through the module from above"),
        ("3",),
        "through",
        True,
    ),
    "flip": Entry(
        QT_TRANSLATE_NOOP("actions", "&Flip over"),
        QT_TRANSLATE_NOOP("actions", "Change between top and bottom"),
        ("F",),
        "flip",
    ),
    "fit": Entry(
        QT_TRANSLATE_NOOP("actions", "Show &all"),
        QT_TRANSLATE_NOOP("actions", "Fit the whole module into the view"),
        ("Ctrl+0",),
        "fit",
    ),
    "zoom_in": Entry(
        QT_TRANSLATE_NOOP("actions", "Zoom &in"),
        QT_TRANSLATE_NOOP("actions", "Enlarge the drawing"),
        ("Ctrl++", "Ctrl+="),
        "zoom_in",
    ),
    "zoom_out": Entry(
        QT_TRANSLATE_NOOP("actions", "Zoom &out"),
        QT_TRANSLATE_NOOP("actions", "Make the drawing smaller"),
        ("Ctrl+-",),
        "zoom_out",
    ),
    "keep": Entry(
        QT_TRANSLATE_NOOP("actions", "Compare with the layout as it is &now"),
        QT_TRANSLATE_NOOP("actions", "Keep it as it is now and show what comes to differ from it"),
        ("Ctrl+K",),
    ),
    "compare": Entry(
        QT_TRANSLATE_NOOP("actions", "Compare with a &file…"),
        QT_TRANSLATE_NOOP("actions", "Show what differs from another layout"),
        ("Ctrl+Shift+K",),
    ),
    "beside": Entry(
        QT_TRANSLATE_NOOP("actions", "&Side by side"),
        QT_TRANSLATE_NOOP("actions", "Show the reference beside the layout"),
        ("Ctrl+B",),
        "",
        True,
    ),
    "forget": Entry(
        QT_TRANSLATE_NOOP("actions", "Compare with n&othing"), QT_TRANSLATE_NOOP("actions", "Forget the reference")
    ),
    "charts": Entry(
        QT_TRANSLATE_NOOP("actions", "Cha&rts"),
        QT_TRANSLATE_NOOP("actions", "Show charts of cell currents, losses, voltage drop and opening times"),
        ("Ctrl+D",),
    ),
    "what_if": Entry(
        QT_TRANSLATE_NOOP("actions", "W&hat if…"),
        QT_TRANSLATE_NOOP("actions", "Look at a change or a fault beside the layout as it is"),
        ("Ctrl+Shift+U",),
    ),
    "advice": Entry(
        QT_TRANSLATE_NOOP("actions", "Ad&viser…"),
        QT_TRANSLATE_NOOP("actions", "Look for terminal places, borders and sheets that serve better"),
        ("Ctrl+Shift+Y",),
    ),
    "next_group": Entry(
        QT_TRANSLATE_NOOP("actions", "Next group"),
        QT_TRANSLATE_NOOP("actions", "Make the next group the active one"),
        ("]",),
    ),
    "previous_group": Entry(
        QT_TRANSLATE_NOOP("actions", "Previous group"),
        QT_TRANSLATE_NOOP("actions", "Make the previous group the active one"),
        ("[",),
    ),
    "help": Entry(
        QT_TRANSLATE_NOOP("actions", "&Help on this"),
        QT_TRANSLATE_NOOP("actions", "Explain what is in front of you"),
        ("F1",),
    ),
    "walk": Entry(
        QT_TRANSLATE_NOOP("actions", "&Walk through a whole job"),
        QT_TRANSLATE_NOOP("actions", "Be led through a module on a sample, step by step"),
    ),
    "keys": Entry(
        QT_TRANSLATE_NOOP("actions", "&Keys"),
        QT_TRANSLATE_NOOP("actions", "List every action with its key and place"),
        ("Ctrl+F1",),
    ),
    "find": Entry(
        QT_TRANSLATE_NOOP("actions", "&Find an action…"),
        QT_TRANSLATE_NOOP("actions", "Type a word of what you want to do"),
        ("Ctrl+F",),
    ),
    "news": Entry(
        QT_TRANSLATE_NOOP("actions", "What is &new"),
        QT_TRANSLATE_NOOP("actions", "What changed from version to version"),
    ),
    "about": Entry(
        QT_TRANSLATE_NOOP("actions", "&About and caution"),
        QT_TRANSLATE_NOOP("actions", "What the program is and is not"),
    ),
}
ENTRIES |= {name: Entry(*row) for name, row in (EDIT_ENTRIES | MAP_ENTRIES).items()}
TOOLS = ("choose", "hand", "paint", "place", "erase", *EDIT_TOOLS)
SIDES = ("top", "bottom", "through")
ROLES = {"about": QAction.MenuRole.AboutRole, "quit": QAction.MenuRole.QuitRole}  # where macOS puts them
WHY_NOT = "why_not"  # the property that says why an action cannot be done just now
translate = QCoreApplication.translate


def allow(action: QAction, why_not: str = "") -> None:
    """Let an action be done, or say in a sentence why it cannot be just now."""
    action.setEnabled(not why_not)
    action.setProperty(WHY_NOT, why_not)


def why_not(action: QAction) -> str:
    """Return why an action cannot be done just now; nothing when it can."""
    if action.isEnabled():
        return ""
    return action.property(WHY_NOT) or translate("actions", "This cannot be done with what is shown or chosen now.")


def make_actions(parent: QWidget, names: Iterable[str] = tuple(ENTRIES)) -> dict[str, QAction]:
    """Return actions by name, with their keys working in the whole window."""
    actions = {}
    for name in names:
        entry = ENTRIES[name]
        action = QAction(translate("actions", entry.text), parent, checkable=entry.is_checkable)
        action.setShortcuts([QKeySequence(key) for key in entry.keys])
        tip, native = translate("actions", entry.tip), QKeySequence.SequenceFormat.NativeText
        action.setToolTip(f"{tip} ({action.shortcut().toString(native)})" if entry.keys else tip)
        action.setStatusTip(tip)
        action.setObjectName(name)
        if name in ROLES:
            action.setMenuRole(ROLES[name])
        if entry.picture:
            action.setIcon(icon(entry.picture))
        parent.addAction(action)
        actions[name] = action
    return actions
