"""Groups: the chain as a list; a group dragged to another place, or moved by keys, takes that place in the order."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QSignalBlocker, QSize, Qt
from PySide6.QtGui import QAction, QIcon, QPainter, QPen, QPixmap
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QListWidget,
    QListWidgetItem,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from layout_app.edits import MoveGroup
from layout_app.edits.groups import groups_of
from layout_app.physics.current_figures import shares_of_groups
from layout_app.window.canvas import Canvas
from layout_app.window.colours import NO_GROUP, theme_of
from layout_app.window.words import cells_text

translate = QCoreApplication.translate

BUTTONS = ("earlier", "later", "swap_groups", "reverse", "balance", "divide", "split", "merge")
COLUMNS = 2


class GroupsPanel(QWidget):
    """One line a group, in series order; choosing lines chooses their cells and the other way round."""

    def __init__(self, canvas: Canvas, actions: dict[str, QAction], choose_groups: Callable, do: Callable) -> None:
        super().__init__()
        self._canvas, self._choose_groups, self._do = canvas, choose_groups, do
        self.list = _ChainList(self._move)
        self._shown: tuple = ()
        self._words: list[str] = []  # of each line, without what the currents add
        column = QVBoxLayout(self)
        column.setContentsMargins(6, 6, 6, 6)
        column.addWidget(self.list, 1)
        grid = QGridLayout()
        grid.setSpacing(3)
        for number, name in enumerate(BUTTONS):
            button = QToolButton(autoRaise=False)
            button.setDefaultAction(actions[name])
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
            button.setSizePolicy(button.sizePolicy().Policy.Expanding, button.sizePolicy().verticalPolicy())
            grid.addWidget(button, number // COLUMNS, number % COLUMNS)
        column.addLayout(grid)
        self.list.itemSelectionChanged.connect(self._choose)
        canvas.document.layout_changed.connect(self.show_groups)
        canvas.document.derived_changed.connect(self.show_groups)
        canvas.choice_changed.connect(self.show_choice)
        self.show_groups()

    def show_groups(self) -> None:
        """Show the chain as it is."""
        document = self._canvas.document
        layout, tints = document.current, document.tints
        sizes = layout.group_sizes.tolist()
        shown = (tuple(sizes), layout.n_parallel, layout.first_group_up, tuple(sorted(tints.items())))
        if shown == self._shown:
            self._show_shares()
            return
        self._shown = shown
        self._words = []
        with QSignalBlocker(self.list):
            self.list.clear()
            for group, size in enumerate(sizes, 1):
                is_up = (group % 2 == 1) == layout.first_group_up or not layout.cell_type.has_opposite_contacts
                off = size - layout.n_parallel
                words = translate("groups", "Group {group}   {cells}   {end} up").format(
                    group=group, cells=cells_text(size), end="+" if is_up else "−"
                )
                words += f"   ({off:+d})".replace("-", "−") if off else ""
                self._words.append(words)
                item = QListWidgetItem(self._swatch(tints.get(group, NO_GROUP)), words)
                item.setData(Qt.ItemDataRole.UserRole, group)
                item.setToolTip(
                    translate(
                        "groups", "Drag it to another place in the series order; Ctrl+[ and Ctrl+] move it by one"
                    )
                )
                self.list.addItem(item)
        self._show_shares()
        self.show_choice()

    def _show_shares(self) -> None:
        """Tell of each group the least and the largest cell current over its mean, once they are worked out."""
        document = self._canvas.document
        if document.currents is None or document.currents_of is not document.current:
            return
        shares = shares_of_groups(document.current, document.currents)
        with QSignalBlocker(self.list):
            for row, (words, (least, largest)) in enumerate(zip(self._words, shares, strict=True)):
                share = translate("groups", "{least:.2f} to {largest:.2f} × mean").format(least=least, largest=largest)
                if self.list.item(row).text() != f"{words}   {share}":
                    self.list.item(row).setText(f"{words}   {share}")
        self.list.viewport().update()

    def show_choice(self) -> None:
        """Mark the lines of the groups of the chosen cells."""
        if self.list.is_choosing:
            return
        chosen = set(groups_of(self._canvas.document.current, self._canvas.chosen_cells))
        with QSignalBlocker(self.list):
            for row in range(self.list.count()):
                item = self.list.item(row)
                item.setSelected(item.data(Qt.ItemDataRole.UserRole) in chosen)

    def _choose(self) -> None:
        self.list.is_choosing = True  # the list itself knows what it marks
        self._choose_groups(tuple(item.data(Qt.ItemDataRole.UserRole) for item in self.list.selectedItems()))
        self.list.is_choosing = False

    def _move(self, group: int, to: int) -> None:
        self._do(MoveGroup(group, to))
        self._shown = ()  # the list has moved the line itself
        self.show_groups()

    def _swatch(self, tint: int) -> QIcon:
        theme, ratio = theme_of(self.palette()), self.devicePixelRatioF()
        pixmap = QPixmap(QSize(16, 16) * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.colour("rim"), 1))
        painter.setBrush(theme.tint(tint))
        painter.drawEllipse(1, 1, 13, 13)
        painter.end()
        return QIcon(pixmap)


class _ChainList(QListWidget):
    """A list whose lines can be dragged to another place."""

    def __init__(self, moved: Callable[[int, int], None]) -> None:
        super().__init__()
        self._moved, self.is_choosing = moved, False
        self.setAccessibleName(translate("groups", "Groups in series order"))
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setDragDropMode(QAbstractItemView.DragDropMode.InternalMove)
        self.setDefaultDropAction(Qt.DropAction.MoveAction)
        self.model().rowsMoved.connect(self._rows_moved)

    def _rows_moved(self, _parent, start: int, _end: int, _to_parent, row: int) -> None:
        self._moved(start + 1, row + 1 if row <= start else row)
