"""ToolLine: what goes with the tool in use: active group, size of the brush, and a word on how it works."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QComboBox, QLabel, QSizePolicy, QToolBar

from layout_app.window.colours import NO_GROUP, TINTS, theme_of
from layout_app.window.document import Document
from layout_app.window.tools.brush import BRUSHES

HINTS = {
    "choose": "Click a cell or the metal beside it; Ctrl+click adds cells. Drag a terminal's bolt hole along the edge.",
    "hand": "Drag to move the view; turn the wheel to zoom.",
    "paint": "Drag over cells. Ctrl+click takes the group from a cell. Esc gives up the stroke.",
    "place": "Drag over empty sites. Esc gives up the stroke.",
    "erase": "Drag over cells. Esc gives up the stroke.",
}


class ToolLine(QToolBar):
    """Shows the active group and brush; both can be changed here."""

    group_chosen = Signal(int)
    brush_chosen = Signal(int)

    def __init__(self, document: Document) -> None:
        super().__init__("Tool in use")
        self.setObjectName("tool_line")
        self._document = document
        self._group_label, self._brush_label = QLabel("Group "), QLabel("  Brush ")
        self.groups, self.brushes, self.hint = QComboBox(), QComboBox(), QLabel()
        self.groups.setAccessibleName("Active group")
        self.groups.setToolTip("Group that cells are painted into ([ and ] change it)")
        self.groups.setMinimumContentsLength(9)
        self.brushes.setAccessibleName("Size of the brush")
        self.brushes.setToolTip("How many cells the brush covers")
        for n_cells in BRUSHES:
            self.brushes.addItem(f"{n_cells} cell" + ("s" if n_cells > 1 else ""), n_cells)
        self.hint.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.hint.setContentsMargins(10, 5, 10, 5)
        self._parts = [self.addWidget(w) for w in (self._group_label, self.groups, self._brush_label, self.brushes)]
        self.addWidget(self.hint)
        self.groups.activated.connect(lambda row: self.group_chosen.emit(self.groups.itemData(row)))
        self.brushes.activated.connect(lambda row: self.brush_chosen.emit(self.brushes.itemData(row)))
        self.groups.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._tints: dict[int, int] = {}
        self._n_series = 0

    def show_tool(self, tool: str, group: int, n_cells: int) -> None:
        """Show what goes with a tool."""
        has_brush, has_group = tool in ("paint", "place", "erase"), tool in ("paint", "place")
        for part, is_shown in zip(self._parts, (has_group, has_group, has_brush, has_brush), strict=True):
            part.setVisible(is_shown)
        self.hint.setText(HINTS[tool])
        self._fill_groups()
        with QSignalBlocker(self.groups):
            self.groups.setCurrentIndex(self.groups.findData(group))
        with QSignalBlocker(self.brushes):
            self.brushes.setCurrentIndex(self.brushes.findData(n_cells))

    def _fill_groups(self) -> None:
        n_series, tints = self._document.layout.n_series, self._document.tints
        if (n_series, tints) == (self._n_series, self._tints):
            return
        self._n_series, self._tints = n_series, tints
        with QSignalBlocker(self.groups):
            self.groups.clear()
            for group in range(1, n_series + 1):
                tint = tints.get(group, (group - 1) % len(TINTS))
                self.groups.addItem(self._swatch(tint), f"Group {group}", group)
            self.groups.addItem(self._swatch(NO_GROUP), "No group", 0)

    def _swatch(self, tint: int) -> QIcon:
        theme, ratio = theme_of(self.palette()), self.devicePixelRatioF()
        pixmap = QPixmap(QSize(16, 16) * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.colour("rim"), 1))
        painter.setBrush(theme.tint(tint))
        painter.drawEllipse(QPointF(8, 8), 6.5, 6.5)
        painter.end()
        return QIcon(pixmap)
