"""Actions: everything that can be asked of the window, each with its words, key, icon and tip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

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
    "next_group": Entry("Next group", "Make the next group the active one", ("]",)),
    "previous_group": Entry("Previous group", "Make the previous group the active one", ("[",)),
    "about": Entry("&About and caution", "What the program is and is not"),
}
TOOLS = ("choose", "hand", "paint", "place", "erase")
SIDES = ("top", "bottom", "through")


def make_actions(parent: QWidget, names: Iterable[str] = tuple(ENTRIES)) -> dict[str, QAction]:
    """Return actions by name, with their keys working in the whole window."""
    actions = {}
    for name in names:
        entry = ENTRIES[name]
        action = QAction(entry.text, parent, checkable=entry.is_checkable)
        action.setShortcuts([QKeySequence(key) for key in entry.keys])
        keys = f" ({entry.keys[0]})" if entry.keys else ""
        action.setToolTip(entry.tip + keys)
        action.setStatusTip(entry.tip)
        if entry.picture:
            action.setIcon(icon(entry.picture))
        parent.addAction(action)
        actions[name] = action
    return actions
