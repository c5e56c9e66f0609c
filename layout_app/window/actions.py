"""Actions: everything that can be asked of the window, each with its words, key, icon and tip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

from layout_app.window.edit_actions import EDIT_ENTRIES, EDIT_TOOLS
from layout_app.window.icons import icon


@dataclass(frozen=True, slots=True)
class Entry:
    """One action as the menus show it."""

    text: str
    tip: str
    keys: tuple[str, ...] = ()
    picture: str = ""
    is_checkable: bool = False


ENTRIES: dict[str, Entry] = {
    "new": Entry("&New…", "Begin a layout from a drawing or from numbers", ("Ctrl+N",), "new"),
    "open": Entry("&Open…", "Open a layout or a housing drawing", ("Ctrl+O",), "open"),
    "save": Entry("&Save", "Save the layout to its file", ("Ctrl+S",), "save"),
    "save_as": Entry("Save &as…", "Save the layout to another file", ("Ctrl+Shift+S",)),
    "export": Entry("&Export…", "Write drawings, tables and the report to a folder", ("Ctrl+E",), "export"),
    "close": Entry("&Close window", "Close this window", ("Ctrl+W",)),
    "quit": Entry("&Quit", "Close all windows", ("Ctrl+Q",)),
    "undo": Entry("&Undo", "Take the last step back", ("Ctrl+Z",), "undo"),
    "redo": Entry("&Redo", "Do the step taken back again", ("Ctrl+Shift+Z", "Ctrl+Y"), "redo"),
    "choose": Entry(
        "&Choose", "Click a cell or segment to see its facts; drag a terminal to move it", ("C",), "choose", True
    ),
    "hand": Entry("&Move the view", "Drag the view; also with the middle button or space held", ("H",), "hand", True),
    "paint": Entry("&Paint into group", "Drag over cells to put them into the active group", ("P",), "paint", True),
    "place": Entry("P&lace cells", "Drag over empty sites to place cells", ("L",), "place", True),
    "erase": Entry("&Erase cells", "Drag over cells to take them away", ("E",), "erase", True),
    "top": Entry("&Top face", "Look at the top face from above", ("1",), "top", True),
    "bottom": Entry("&Bottom face", "Look at the bottom face from below, mirrored", ("2",), "bottom", True),
    "through": Entry("&Both faces", "Look through the module from above", ("3",), "through", True),
    "flip": Entry("&Flip over", "Change between top and bottom", ("F",), "flip"),
    "fit": Entry("Show &all", "Fit the whole module into the view", ("Ctrl+0",), "fit"),
    "zoom_in": Entry("Zoom &in", "Enlarge the drawing", ("Ctrl++", "Ctrl+="), "zoom_in"),
    "zoom_out": Entry("Zoom &out", "Make the drawing smaller", ("Ctrl+-",), "zoom_out"),
    "keep": Entry(
        "Compare with the layout as it is &now",
        "Keep it as it is now and show what comes to differ from it",
        ("Ctrl+K",),
    ),
    "compare": Entry("Compare with a &file…", "Show what differs from another layout", ("Ctrl+Shift+K",)),
    "beside": Entry("&Side by side", "Show the reference beside the layout", ("Ctrl+B",), "", True),
    "forget": Entry("Compare with n&othing", "Forget the reference"),
    "charts": Entry(
        "Cha&rts", "Show charts of cell currents, losses, voltage drop and opening times", ("Ctrl+D",)
    ),
    "next_group": Entry("Next group", "Make the next group the active one", ("]",)),
    "previous_group": Entry("Previous group", "Make the previous group the active one", ("[",)),
    "help": Entry("&Help on this", "Explain what is in front of you", ("F1",)),
    "walk": Entry("&Walk through a whole job", "Be led through a module on a sample, step by step"),
    "keys": Entry("&Keys", "List every action with its key and place", ("Ctrl+F1",)),
    "find": Entry("&Find an action…", "Type a word of what you want to do", ("Ctrl+F",)),
    "news": Entry("What is &new", "What changed from version to version"),
    "about": Entry("&About and caution", "What the program is and is not"),
}
ENTRIES |= {name: Entry(*row) for name, row in EDIT_ENTRIES.items()}
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
