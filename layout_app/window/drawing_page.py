"""DrawingPage: what a housing drawing was understood as, before it is used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QPainterPath
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.exchange.drawing_errors import JOIN_MM, MOST_JOIN_MM, OpenOutlineError
from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.validation import require_number
from layout_app.window.background import Background
from layout_app.window.housing_view import HousingView
from layout_app.window.panels.fields import NumberField, stops_at_wrong

translate = QCoreApplication.translate

ALL_LAYERS = QT_TRANSLATE_NOOP("drawing", "All layers")
UNITS = (
    (None, QT_TRANSLATE_NOOP("drawing", "As the drawing says")),
    ("mm", QT_TRANSLATE_NOOP("drawing", "Millimetres")),
    ("cm", QT_TRANSLATE_NOOP("drawing", "Centimetres")),
    ("m", QT_TRANSLATE_NOOP("drawing", "Metres")),
    ("inch", QT_TRANSLATE_NOOP("drawing", "Inches")),
    ("ft", QT_TRANSLATE_NOOP("drawing", "Feet")),
)


class DrawingPage(QWidget):
    """A picture with its loops named, where the units come from, what is ignored, and one button to use it."""

    accepted = Signal(object)  # a Housing
    left = Signal()
    crashed = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._path = Path()
        self.drawing: Any = None  # the HousingDrawing shown
        self._work = Background(self)
        self._work.delivered.connect(lambda _, drawing: self._show(drawing))
        self._work.failed.connect(lambda _, error: self._fail(error))
        self.view, self.title, self.words = HousingView(), QLabel(), QLabel(wordWrap=True)
        self.problem = QLabel(wordWrap=True, visible=False)
        self.loops = QListWidget()
        self.loops.setAccessibleName(
            translate("drawing", "Closed loops of the drawing; take the tick away from keep-outs not meant")
        )
        self.units, self.layers = QComboBox(), QComboBox()
        for value, text in UNITS:
            self.units.addItem(translate("drawing", text), value)
        self.units.setAccessibleName(translate("drawing", "Units of the drawing"))
        self.layers.setAccessibleName(translate("drawing", "Layer to read"))
        self.layers.addItem(translate("drawing", ALL_LAYERS), None)
        self._join_mm = JOIN_MM
        self.join = NumberField(
            translate("drawing", "Join ends up to"),
            "mm",
            self._set_join,
            step=0.1,
            tip=translate("drawing", "Loose ends of lines no further apart are joined"),
        )
        self.join.show_value(JOIN_MM)
        self.use = QPushButton(translate("drawing", "Use this housing"), default=True)
        self.back = QPushButton(translate("drawing", "Back"))
        self._lay_out()
        self.units.activated.connect(lambda _: self._read())
        self.layers.activated.connect(lambda _: self._read())
        self.loops.itemChanged.connect(lambda _: self._show_loops())
        self.loops.currentRowChanged.connect(lambda _: self._show_loops())
        self.use.clicked.connect(lambda: stops_at_wrong([self.join]) or self.accepted.emit(self.housing()))
        self.back.clicked.connect(self.left)

    def _lay_out(self) -> None:
        self.words.setTextFormat(Qt.TextFormat.RichText)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        scroll = QScrollArea(widgetResizable=True, frameShape=QScrollArea.Shape.NoFrame)
        scroll.setWidget(self.words)
        form = QFormLayout()
        form.addRow(translate("drawing", "Units"), self.units)
        form.addRow(translate("drawing", "Layer"), self.layers)
        form.addRow(self.join)
        buttons = QHBoxLayout()
        buttons.addWidget(self.back)
        buttons.addStretch(1)
        buttons.addWidget(self.use)
        side = QVBoxLayout()
        side.setSpacing(12)
        side.addWidget(self.title)
        side.addLayout(form)
        side.addWidget(self.problem)
        side.addWidget(QLabel(translate("drawing", "<b>Loops</b>: take the tick from keep-outs that are not meant")))
        side.addWidget(self.loops, 2)
        side.addWidget(scroll, 3)
        side.addLayout(buttons)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 16, 16, 16)
        row.setSpacing(16)
        row.addWidget(self.view, 3)
        row.addLayout(side, 2)

    def read(self, path: Path) -> None:
        """Read a drawing and show it."""
        self._path, self._join_mm = path, JOIN_MM
        self.join.show_value(JOIN_MM)
        for box in (self.units, self.layers):
            with QSignalBlocker(box):
                box.setCurrentIndex(0)
        with QSignalBlocker(self.layers):
            while self.layers.count() > 1:
                self.layers.removeItem(1)
        self.title.setText(f"<b style='font-size:large'>{path.name}</b>")
        self._read()

    def housing(self) -> Housing:
        """Return the housing with the keep-outs that are ticked."""
        housing = self.drawing.housing()
        kept = tuple(loop for loop, is_kept in zip(housing.keep_outs, self._ticks(), strict=True) if is_kept)
        return replace(housing, keep_outs=kept)

    def _ticks(self) -> list[bool]:
        rows = range(1, self.loops.count())
        return [self.loops.item(row).checkState() == Qt.CheckState.Checked for row in rows]

    def _list_loops(self, drawing: Any) -> None:
        with QSignalBlocker(self.loops):
            self.loops.clear()
            self.loops.addItem(
                translate("drawing", "Inner wall: {size_text}, layer {layer}").format(
                    size_text=_size_text(drawing.outline), layer=drawing.loops[0].layer
                )
            )
            for number, loop in enumerate(drawing.keep_outs, 1):
                item = QListWidgetItem(
                    translate("drawing", "Keep-out {number}: {size_text}").format(
                        number=number, size_text=_size_text(loop)
                    )
                )
                item.setCheckState(Qt.CheckState.Checked)
                self.loops.addItem(item)

    def _show_loops(self) -> None:
        if self.drawing is not None:
            left_out = frozenset(k for k, is_kept in enumerate(self._ticks(), 1) if not is_kept)
            self.view.mark_keep_outs(left_out, max(self.loops.currentRow(), 0))

    def _set_join(self, join_mm: float, refuse: Callable[[str], None]) -> None:
        try:
            require_number("the joining distance", join_mm, least=0, most=MOST_JOIN_MM, unit="mm")
        except LayoutError as error:
            refuse(str(error))
        else:
            self._join_mm = join_mm
            self.join.show_value(join_mm)
            self._read()

    def _read(self) -> None:
        self.use.setEnabled(False)
        self.words.setText(translate("drawing", "Reading…"))
        self._tell_problem("")
        path, units, layer = self._path, self.units.currentData(), self.layers.currentData()
        join_mm = self._join_mm
        self._work.start(lambda hand_over: hand_over(_read(path, units, layer, join_mm)))

    def _show(self, drawing: Any) -> None:
        self.drawing = drawing
        self.use.setEnabled(True)
        self.use.setFocus()
        self.view.show_housing(drawing.outline, drawing.keep_outs, _lines(drawing.ignored_lines))
        self.words.setText(_described(drawing))
        self._list_loops(drawing)
        if self.layers.count() == 1:
            for layer in drawing.layers:
                self.layers.addItem(layer, layer)

    def _fail(self, error: Exception) -> None:
        self.drawing = None
        self.loops.clear()
        drawn = getattr(error, "drawn", None)
        self.view.show_open(_lines(drawn) if drawn is not None else QPainterPath(), getattr(error, "ends_mm", None))
        self.words.setText(_way_out(error))
        if isinstance(error, LayoutError):
            reason = getattr(error, "reason", str(error))  # the file's name stands over the page
            self._tell_problem(reason[:1].upper() + reason[1:])
        else:
            self._tell_problem(translate("drawing", "The drawing could not be read."))
            self.crashed.emit(error)

    def _tell_problem(self, message: str) -> None:
        self.problem.setText(
            translate("drawing", "<b>Not usable:</b> {message}").format(message=message) if message else ""
        )
        self.problem.setVisible(bool(message))

    def close_work(self) -> None:
        """End the reading."""
        self._work.close()


def _read(path: Path, units: str | None, layer: str | None, join_mm: float) -> Any:
    from layout_app.exchange.drawings_in import read_drawing  # ezdxf: only when a drawing is read

    return read_drawing(path, units=units, layer=layer, join_mm=join_mm)


def _way_out(error: Exception) -> str:
    """Return what can be done on this page about a drawing that is not usable."""
    if isinstance(error, OpenOutlineError):
        return translate("drawing", "Mend the drawing, or have ends further apart joined, or choose another layer.")
    if isinstance(error, LayoutError) and getattr(error, "drawn", None) is not None:
        return translate("drawing", "Mend the drawing, or choose other units or another layer.")
    return translate("drawing", "Go back and choose another file.")


def _lines(edges: Any) -> QPainterPath:
    """Return the ignored curves, arcs as their chords: they are only hinted at."""
    path = QPainterPath()
    for (x0, y0), (x1, y1) in zip(edges.starts_mm.tolist(), edges.ends_mm.tolist(), strict=True):
        path.moveTo(x0, y0)
        path.lineTo(x1, y1)
    return path


def _size_text(loop: Contour) -> str:
    """Return e.g. "Ø 8 mm at x 1214, y 364 mm" or "30 × 20 mm at …", the place being that of the middle."""
    x0, y0, x1, y1 = loop.bounds_mm
    width, height, arcs = x1 - x0, y1 - y0, loop.arc_radii_mm
    is_round = loop.is_arc.all() and abs(width - height) < 1e-3 and (abs(arcs - width / 2) < 1e-3).all()
    size = (
        translate("drawing", "Ø {width:.5g} mm").format(width=width)
        if is_round
        else translate("drawing", "{width:.5g} × {height:.5g} mm").format(width=width, height=height)
    )
    return translate("drawing", "{size} at x {x0:.6g}, y {y0:.6g} mm").format(
        size=size, x0=(x0 + x1) / 2, y0=(y0 + y1) / 2
    )


def _described(drawing: Any) -> str:
    """Return what the drawing was understood as, in paragraphs."""
    x0, y0, x1, y1 = drawing.outline.bounds_mm
    parts = [
        f"<p><b>{drawing.units_plural.capitalize()}</b>, {drawing.units_source}. {drawing.release}.</p>",
        translate(
            "drawing", "<p><b>Outline</b>: inner wall, {x1:.6g} × {y1:.6g} mm, {outline:.4g} cm², on layer {layer}.</p>"
        ).format(x1=x1 - x0, y1=y1 - y0, outline=drawing.outline.area_mm2 / 100, layer=drawing.loops[0].layer),
    ]
    n_keep_outs = len(drawing.keep_outs)
    parts.append(
        translate("drawing", "<p><b>Keep-outs</b>: {n_keep_outs}</p>").format(
            n_keep_outs=n_keep_outs or translate("drawing", "none")
        )
    )
    for heading, lines in (
        (translate("drawing", "Please look at"), drawing.notes),
        (translate("drawing", "Ignored"), drawing.ignored),
        (translate("drawing", "Used"), drawing.used),
    ):
        if lines:
            parts.append(f"<p><b>{heading}</b></p><ul>{''.join(f'<li>{line}</li>' for line in lines)}</ul>")
    return "".join(parts)
