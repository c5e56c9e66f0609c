"""Finder: type a part of what an action is called, press Enter, and it is done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QAction, QKeySequence, QPalette
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMainWindow,
    QMenu,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
)  # fmt: skip

from layout_app.window.actions import why_not

LIST_KEYS = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)
CHANGES = "changes"  # property of a menu that is filled each time it opens
translate = QCoreApplication.translate


@dataclass(frozen=True, slots=True)
class Listed:
    """An action and the menus it lies in, e.g. "View, Layers"."""

    action: QAction
    place: str

    @property
    def name(self) -> str:
        """The action's words without marks."""
        return plain(self.action.text())

    @property
    def keys(self) -> str:
        """Its keys as this desktop writes them."""
        native = QKeySequence.SequenceFormat.NativeText
        return ", ".join(key.toString(native) for key in self.action.shortcuts())

    @property
    def tip(self) -> str:
        """What it does."""
        return self.action.statusTip() or self.action.toolTip()


def listed(window: QMainWindow) -> list[Listed]:
    """Return every action of the window's menus, in their order."""
    found: list[Listed] = []
    for title in window.menuBar().actions():
        if title.menu() is not None:
            found += _in_menu(title.menu(), plain(title.text()))
    return found


def _in_menu(menu: QMenu, place: str) -> Iterator[Listed]:
    if menu.property(CHANGES):  # what lies in it is not there any more the next time
        return
    for action in menu.actions():
        if action.menu() is not None:
            yield from _in_menu(action.menu(), f"{place}, {plain(action.text())}")
        elif not action.isSeparator():
            yield Listed(action, place)


def plain(text: str) -> str:
    """Return an action's words without the mark of its letter and without dots.

    >>> plain("Save &as…")
    'Save as'
    """
    return text.replace("&", "").rstrip("….")


def rank(entry: Listed, words: list[str]) -> int | None:
    """Return how well an action fits what was typed, -1 best; None when a word is found nowhere."""
    name, more = entry.name.lower(), f"{entry.place} {entry.tip} {entry.keys}".lower()
    if name.split() == words:
        return -1
    worst = 0
    for word in words:
        if any(part.startswith(word) for part in name.split()):
            grade = 0 if name.startswith(word) else 1
        elif word in name:
            grade = 2
        elif word in more:
            grade = 3
        else:
            return None
        worst = max(worst, grade)
    return worst


class Finder(QDialog):
    """A line to type in over a list of actions; those that cannot be done now say why not."""

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self.setWindowTitle(translate("finder", "Find an action"))
        self._entries = listed(window)
        self.line = QLineEdit(placeholderText=translate("finder", "What do you want to do?"))
        self.line.setAccessibleName(translate("finder", "Part of the action's name"))
        self.line.setClearButtonEnabled(True)
        self.tree = QTreeWidget(rootIsDecorated=False, headerHidden=True, columnCount=3)
        self.tree.setAccessibleName(translate("finder", "Actions"))
        self.tree.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.tree.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.words = QLabel(wordWrap=True)
        self.words.setMinimumHeight(2 * self.fontMetrics().lineSpacing())
        column = QVBoxLayout(self)
        column.addWidget(self.line)
        column.addWidget(self.tree, 1)
        column.addWidget(self.words)
        em = self.fontMetrics().averageCharWidth()
        self.resize(84 * em, 26 * self.fontMetrics().lineSpacing())
        header = self.tree.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for part in (1, 2):
            header.setSectionResizeMode(part, QHeaderView.ResizeMode.ResizeToContents)
        self.line.textChanged.connect(self._show)
        self.line.installEventFilter(self)
        self.tree.currentItemChanged.connect(lambda *_: self._tell())
        self.tree.itemClicked.connect(lambda *_: self.run())
        self._show("")

    @property
    def current(self) -> Listed | None:
        """The action Enter would do."""
        item = self.tree.currentItem()
        return item.data(0, Qt.ItemDataRole.UserRole) if item is not None else None

    def _show(self, text: str) -> None:
        graded = [(rank(entry, text.lower().split()), entry) for entry in self._entries]
        fitting = sorted(((grade, entry) for grade, entry in graded if grade is not None), key=lambda pair: pair[0])
        self.tree.clear()
        faint = self.palette().color(QPalette.ColorGroup.Disabled, QPalette.ColorRole.Text)
        for _, entry in fitting:
            item = QTreeWidgetItem(self.tree, [entry.name, entry.place, entry.keys])
            item.setData(0, Qt.ItemDataRole.UserRole, entry)
            item.setIcon(0, entry.action.icon())
            for part in range(3):
                if part or why_not(entry.action):
                    item.setForeground(part, faint)
        self.tree.setCurrentItem(self.tree.topLevelItem(0))
        self._tell()

    def _tell(self) -> None:
        entry = self.current
        if entry is None:
            self.words.setText(translate("finder", "No action is called that, nor says so of itself."))
            return
        reason = why_not(entry.action)
        self.words.setText(translate("finder", "Not now: {reason}").format(reason=reason) if reason else entry.tip)

    def run(self) -> None:
        """Close and do the current action; one that cannot be done stays, saying why not."""
        entry = self.current
        if entry is None or not entry.action.isEnabled():
            self._tell()
            return
        self.accept()
        entry.action.trigger()

    def eventFilter(self, watched, event) -> bool:
        if event.type() == QEvent.Type.KeyPress and event.key() in LIST_KEYS:
            QCoreApplication.sendEvent(self.tree, event)
            return True
        if event.type() == QEvent.Type.KeyPress and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.run()
            return True
        return super().eventFilter(watched, event)
