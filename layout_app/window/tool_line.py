"""ToolLine: what goes with the tool in use: active group, size of the brush, and a word on how it works."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QPointF, QSignalBlocker, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QActionGroup, QIcon, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QComboBox, QLabel, QMenu, QSizePolicy, QToolBar, QToolButton

from layout_app.window.colours import NO_GROUP, TINTS, theme_of
from layout_app.window.document import Document
from layout_app.window.elided_label import ElidedLabel
from layout_app.window.snapping import SNAP_WORDS, Snapping
from layout_app.window.tools.brush import BRUSHES
from layout_app.window.words import cells_text

translate = QCoreApplication.translate

HINTS = {
    "choose": QT_TRANSLATE_NOOP(
        "tools",
        "Click or drag a box; Ctrl changes, Shift adds, a double click takes a group. Drag chosen cells. "
        "Arrows move by a site, with Shift by 0.1 mm.",
    ),
    "hand": QT_TRANSLATE_NOOP("tools", "Drag to move the view; turn the wheel to zoom."),
    "paint": QT_TRANSLATE_NOOP(
        "tools", "Drag over cells. Ctrl+click takes the group from a cell. Esc gives up the stroke."
    ),
    "place": QT_TRANSLATE_NOOP("tools", "Drag over empty sites; with Alt anywhere. Esc gives up the stroke."),
    "erase": QT_TRANSLATE_NOOP("tools", "Drag over cells. Esc gives up the stroke."),
    "fill": QT_TRANSLATE_NOOP(
        "tools", "Click a cell: all of its group that hang together with it go into the active group."
    ),
    "swap": QT_TRANSLATE_NOOP("tools", "Click two cells: each gets the group of the other. Esc puts the first back."),
    "measure": QT_TRANSLATE_NOOP(
        "tools", "Click two things: cells, edges of windows, walls and metal, or points. Esc clears."
    ),
    "walls": QT_TRANSLATE_NOOP(
        "tools",
        "Click an edge, then drag it, its corners, or the dots amid edges. A double click adds a corner, "
        "Del removes what is chosen. Numbers stand in the panel.",
    ),
}
SHAPES = (
    ("edit", QT_TRANSLATE_NOOP("tools", "Change loops")),
    ("circle", QT_TRANSLATE_NOOP("tools", "Draw round keep-outs")),
    ("rectangle", QT_TRANSLATE_NOOP("tools", "Draw rectangular keep-outs")),
    ("own circle", QT_TRANSLATE_NOOP("tools", "Draw round keep-outs of a segment")),
    (
        "own rectangle",
        QT_TRANSLATE_NOOP("tools", "Draw rectangular keep-outs of a segment"),
    ),
)
SHAPE_HINTS = {
    "circle": QT_TRANSLATE_NOOP("tools", "Drag from the middle outwards. Esc gives it up."),
    "rectangle": QT_TRANSLATE_NOOP("tools", "Drag from corner to corner. Esc gives it up."),
    "own circle": QT_TRANSLATE_NOOP(
        "tools", "Drag on the metal of a segment, from the middle outwards: it alone keeps clear. Esc gives it up."
    ),
    "own rectangle": QT_TRANSLATE_NOOP(
        "tools", "Drag on the metal of a segment, from corner to corner: it alone keeps clear. Esc gives it up."
    ),
}
GRIDS_MM = (0.1, 0.5, 1.0, 2.0, 5.0)
EXPLAIN_MS = 8000  # long enough to read two sentences


class ToolLine(QToolBar):
    """Shows the active group and brush; both can be changed here."""

    group_chosen = Signal(int)
    brush_chosen = Signal(int)
    shape_chosen = Signal(str)
    snapping_chosen = Signal(object)

    def __init__(self, document: Document) -> None:
        super().__init__(translate("tools", "Tool in use"))
        self.setObjectName("tool_line")
        self._document = document
        self._group_label, self._brush_label = (
            QLabel(translate("tools", "Group ")),
            QLabel(translate("tools", "  Brush ")),
        )
        self.groups, self.brushes, self.hint = QComboBox(), QComboBox(), ElidedLabel()
        self.groups.setAccessibleName(translate("tools", "Active group"))
        self.groups.setToolTip(translate("tools", "Group that cells are painted into ([ and ] change it)"))
        self.groups.setMinimumContentsLength(9)
        self.brushes.setAccessibleName(translate("tools", "Size of the brush"))
        self.brushes.setToolTip(translate("tools", "How many cells the brush covers"))
        for n_cells in BRUSHES:
            self.brushes.addItem(cells_text(n_cells), n_cells)
        self.hint.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.hint.setContentsMargins(10, 5, 10, 5)
        self.shapes = QComboBox()
        self.shapes.setAccessibleName(translate("tools", "What a drag does"))
        for shape, words in SHAPES:
            self.shapes.addItem(translate("tools", words), shape)
        self.snap = SnapButton(self.snapping_chosen.emit)
        widgets = (self._group_label, self.groups, self._brush_label, self.brushes, self.shapes)
        self._parts = [self.addWidget(widget) for widget in widgets]
        self.addWidget(self.snap)
        self.addWidget(self.hint)
        self._tool, self._hint_text = "choose", ""
        self._explain_timer = QTimer(self, singleShot=True, interval=EXPLAIN_MS)
        self._explain_timer.timeout.connect(self.rest)
        self.shapes.activated.connect(lambda row: self.shape_chosen.emit(self.shapes.itemData(row)))
        self.groups.activated.connect(lambda row: self.group_chosen.emit(self.groups.itemData(row)))
        self.brushes.activated.connect(lambda row: self.brush_chosen.emit(self.brushes.itemData(row)))
        self.groups.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._tints: dict[int, int] = {}
        self._n_series = 0

    def show_tool(self, tool: str, group: int, n_cells: int) -> None:
        """Show what goes with a tool."""
        has_brush, has_group = tool in ("paint", "place", "erase"), tool in ("paint", "place", "fill")
        shown = (has_group, has_group, has_brush, has_brush, tool == "walls")
        for part, is_shown in zip(self._parts, shown, strict=True):
            part.setVisible(is_shown)
        self._tool = tool
        self._show_hint()
        self._fill_groups()
        with QSignalBlocker(self.groups):
            self.groups.setCurrentIndex(self.groups.findData(group))
        with QSignalBlocker(self.brushes):
            self.brushes.setCurrentIndex(self.brushes.findData(n_cells))

    def show_shape(self, shape: str) -> None:
        """Show what a drag of the tool for the housing does."""
        with QSignalBlocker(self.shapes):
            self.shapes.setCurrentIndex(self.shapes.findData(shape))
        self._show_hint()

    def _show_hint(self) -> None:
        drawn = SHAPE_HINTS.get(self.shapes.currentData()) if self._tool == "walls" else None
        words = translate("tools", drawn or HINTS[self._tool])
        if self._hint_text != words:
            self._hint_text = words
            self.rest()

    def explain(self, message: str) -> None:
        """Say for a while why something was not done."""
        theme = theme_of(self.palette())
        self._say(message, f"color: {theme.error}; font-weight: bold")

    def tell(self, message: str) -> None:
        """Say for a while what goes on."""
        self._say(message, "font-weight: bold")

    def _say(self, message: str, style: str) -> None:
        self.hint.setText(message)
        self.hint.setStyleSheet(f"QLabel {{ {style} }}")
        self._explain_timer.start()

    def rest(self) -> None:
        """Say how the tool in use works."""
        self._explain_timer.stop()
        self.hint.setText(self._hint_text)
        self.hint.setStyleSheet("")

    def _fill_groups(self) -> None:
        n_series, tints = self._document.layout.n_series, self._document.tints
        if (n_series, tints) == (self._n_series, self._tints):
            return
        self._n_series, self._tints = n_series, tints
        with QSignalBlocker(self.groups):
            self.groups.clear()
            for group in range(1, n_series + 1):
                tint = tints.get(group, (group - 1) % len(TINTS))
                self.groups.addItem(self._swatch(tint), translate("tools", "Group {group}").format(group=group), group)
            self.groups.addItem(self._swatch(NO_GROUP), translate("tools", "No group"), 0)

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


class SnapButton(QToolButton):
    """What draws a dragged cell or point; shown and changed in a menu."""

    def __init__(self, tell: Callable[[Snapping], None]) -> None:
        super().__init__(
            text=translate("tools", "Snap"),
            toolTip=translate("tools", "What draws cells and points that are dragged; Alt holds it off"),
        )
        self._tell = tell
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setAccessibleName(translate("tools", "Snapping"))
        menu = QMenu(self)
        first = Snapping()
        self.kinds = {kind: menu.addAction(translate("snapping", words)) for kind, words in SNAP_WORDS.items()}
        for kind, action in self.kinds.items():
            action.setCheckable(True)
            action.setChecked(kind in first.kinds)
            action.toggled.connect(self._changed)
        menu.addSeparator()
        self.grids, group = {}, QActionGroup(menu)
        for step in GRIDS_MM:
            action = menu.addAction(translate("tools", "Grid of {step:g} mm").format(step=step))
            action.setCheckable(True)
            action.setChecked(step == first.grid_mm)
            action.triggered.connect(self._changed)
            group.addAction(action)
            self.grids[step] = action
        self.setMenu(menu)

    def _changed(self, *_: object) -> None:
        kinds = frozenset(kind for kind, action in self.kinds.items() if action.isChecked())
        self._tell(Snapping(kinds, next(step for step, action in self.grids.items() if action.isChecked())))
