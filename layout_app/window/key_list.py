"""The page of keys: every action of a window with its key, made from the actions themselves."""

from __future__ import annotations

from itertools import groupby

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication
from PySide6.QtWidgets import QMainWindow

from layout_app.window.actions import ENTRIES
from layout_app.window.finder import Listed, listed, plain

translate = QCoreApplication.translate
# keys and mouse on the canvas and in fields, which are no actions of a menu
GESTURES = (
    (QT_TRANSLATE_NOOP("keys", "Turn the wheel"), QT_TRANSLATE_NOOP("keys", "Zoom about the pointer")),
    (QT_TRANSLATE_NOOP("keys", "Middle button, or space held, and drag"), QT_TRANSLATE_NOOP("keys", "Move the view")),
    (
        QT_TRANSLATE_NOOP("keys", "Click, or drag a box, with the choosing tool"),
        QT_TRANSLATE_NOOP("keys", "Choose cells; Shift adds, Ctrl changes, a double click takes a group"),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Drag chosen cells"),
        QT_TRANSLATE_NOOP("keys", "Move them, from site to site; with Alt anywhere"),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Arrow keys on the drawing"),
        QT_TRANSLATE_NOOP("keys", "Move chosen cells by a site, with Shift by 0.1 mm; else move the view"),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Ctrl+click with the paint tool"),
        QT_TRANSLATE_NOOP("keys", "Take the group from a cell"),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Alt and drag with the placing tool"),
        QT_TRANSLATE_NOOP("keys", "Place cells anywhere, not only on sites"),
    ),
    (
        "Esc",
        QT_TRANSLATE_NOOP(
            "keys", "Give up the gesture under way; then choose nothing; from a panel, go back to the drawing"
        ),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Tab, Shift+Tab"),
        QT_TRANSLATE_NOOP("keys", "To the next or previous field, list or button"),
    ),
    (
        QT_TRANSLATE_NOOP("keys", "Up, Down, Page up, Page down in a number"),
        QT_TRANSLATE_NOOP("keys", "A step or ten steps more or less"),
    ),
    (QT_TRANSLATE_NOOP("keys", "Enter in a list of findings or steps"), QT_TRANSLATE_NOOP("keys", "Go there")),
    (QT_TRANSLATE_NOOP("keys", "Alt and the underlined letter"), QT_TRANSLATE_NOOP("keys", "Open a menu")),
    ("F10", QT_TRANSLATE_NOOP("keys", "To the menus")),
)


def keys_markdown(window: QMainWindow) -> str:
    """Return the page as Markdown: a table a menu, then what the mouse and plain keys do."""
    title, rest = translate("keys", "Keys"), translate("keys", "Mouse and plain keys")
    words = translate(
        "keys",
        "Every action, by the menu it lies in. All of them can be found by typing a part of their name: Ctrl+F. "
        "Those without a key are reached through the menus: Alt and a menu's underlined letter, then arrow keys.",
    )
    parts = [f"# {title}", words]
    for place, entries in groupby(_by_menu(window), key=lambda entry: entry.place):
        parts.append(f"## {place}\n\n" + _table((_name(entry), entry.keys, entry.tip) for entry in entries))
    gestures = "\n".join(f"| {translate('keys', keys)} | {translate('keys', does)} |" for keys, does in GESTURES)
    parts.append(f"## {rest}\n\n| | |\n|---|---|\n{gestures}")
    return "\n\n".join(parts) + "\n"


def _by_menu(window: QMainWindow) -> list[Listed]:
    """Return the actions, those of one menu together, in the menus' order."""
    entries = listed(window)
    places = list(dict.fromkeys(entry.place for entry in entries))
    return sorted(entries, key=lambda entry: places.index(entry.place))


def _name(entry: Listed) -> str:
    """Return an action's own name: undo and redo bear that of a step at times."""
    own = ENTRIES.get(entry.action.objectName())
    return plain(translate("actions", own.text)) if own else entry.name


def _table(rows) -> str:
    head = "| {} | {} | {} |\n|---|---|---|".format(
        translate("keys", "Action"), translate("keys", "Key"), translate("keys", "What it does")
    )
    return "\n".join([head, *(f"| {name} | {keys} | {_bare(tip)} |" for name, keys, tip in rows)])


def _bare(tip: str) -> str:
    """Return a tip without the key that stands in brackets at its end."""
    return tip.rpartition(" (")[0] if tip.endswith(")") else tip
