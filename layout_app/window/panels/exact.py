"""Exact: numbers for what is chosen: how far cells move, what differs about a segment, where a keep-out lies."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from layout_app.edits import (
    AddKeepOut,
    ArrayCells,
    Edit,
    MoveCells,
    OpenRows,
    OverrideSegment,
    ResetSegment,
    TurnCells,
)
from layout_app.edits.copies import step_along_rows_mm
from layout_app.edits.moves import middle_mm
from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import materials
from layout_app.window.panels.fields import ChoiceField, Field, NumberField
from layout_app.window.panels.loop_section import LoopSection
from layout_app.window.panels.sections import Section

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas
    from layout_app.window.editing import Editing

translate = QCoreApplication.translate

Refuse = Callable[[str], None]
SEGMENT_NUMBERS = {
    "thickness_mm": QT_TRANSLATE_NOOP("exact", "Sheet thickness"),
    "setback_mm": QT_TRANSLATE_NOOP("exact", "Setback"),
    "corner_radius_mm": QT_TRANSLATE_NOOP("exact", "Corner radius"),
}


class ExactPanel(QScrollArea):
    """Shows the section that goes with what is chosen: cells, a segment, or a loop of the housing."""

    def __init__(self, canvas: Canvas, editing: Editing) -> None:
        super().__init__()
        self._canvas, self._editing = canvas, editing
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.cells, self.segment, self.loop = (
            CellsSection(canvas, editing),
            SegmentSection(canvas, editing),
            LoopSection(canvas, editing),
        )
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(10, 4, 10, 8)
        for part in (self.cells, self.segment, self.loop):
            column.addWidget(part)
        column.addStretch(1)
        self.setWidget(inside)
        canvas.choice_changed.connect(self.show_chosen)
        canvas.document.layout_changed.connect(self.show_chosen)
        self.show_chosen()

    def show_chosen(self) -> None:
        """Show what goes with the choice."""
        canvas = self._canvas
        loop = canvas.tool is self._editing.tools["walls"]
        self.cells.setVisible(bool(canvas.chosen_cells) and not loop)
        self.segment.setVisible(canvas.chosen_segment is not None and not canvas.chosen_cells and not loop)
        self.loop.setVisible(loop)
        for part in (self.cells, self.segment, self.loop):
            if part.isVisibleTo(self.widget()):
                part.show_layout()
        self.setVisible(any(part.isVisibleTo(self.widget()) for part in (self.cells, self.segment, self.loop)))


class _Ask(QWidget):
    """A few numbers and the button that does something with them; what is wrong is said under the first."""

    def __init__(
        self, rows: list[tuple[str, str, str, float, bool]], button: str, make: Callable[..., Edit], do: Callable
    ) -> None:
        super().__init__()
        self.values: dict[str, Any] = {}
        self.fields: dict[str, NumberField] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 4)
        column.setSpacing(3)
        for name, label, unit, value, is_whole in rows:
            field = NumberField(label, unit, self._setter(name), is_whole=is_whole, step=1.0)
            self.values[name], self.fields[name] = value, field
            field.show_value(value)
            column.addWidget(field)
        self.button = QPushButton(button)
        self.button.clicked.connect(lambda: do(make(**self.values), next(iter(self.fields.values())).explain))
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(self.button)
        column.addLayout(line)

    def _setter(self, name: str) -> Callable[[Any, Refuse], None]:
        def set_value(value: Any, _refuse: Refuse) -> None:
            self.values[name] = value
            self.fields[name].show_value(value)

        return set_value

    def offer(self, **values: float) -> None:
        """Put other numbers into the fields."""
        for name, value in values.items():
            self.values[name] = value
            self.fields[name].show_value(value)


class CellsSection(Section):
    """Chosen cells moved, turned, copied in a row by numbers, rows opened."""

    def __init__(self, canvas: Canvas, editing: Editing) -> None:
        self._canvas, self._editing = canvas, editing
        self.middle = [
            NumberField(
                translate("exact", "Middle {axis}").format(axis=axis),
                "mm",
                self._to(number),
                tip=translate("exact", "Middle of the chosen cells; another number moves them"),
            )
            for number, axis in enumerate("xy")
        ]
        do = self._do
        self.move = _Ask(
            [
                ("dx", translate("exact", "Move by x"), "mm", 0.0, False),
                ("dy", translate("exact", "Move by y"), "mm", 0.0, False),
            ],
            translate("exact", "Move"),
            lambda dx, dy: MoveCells(self._cells(), dx, dy),
            do,
        )
        self.turn = _Ask(
            [("angle", translate("exact", "Turn by"), "°", 60.0, False)], translate("exact", "Turn"),
            lambda angle: TurnCells(self._cells(), math.radians(angle)), do,
        )  # fmt: skip
        self.array = _Ask(
            [
                ("n", translate("exact", "Copies"), "", 1, True),
                ("dx", translate("exact", "Step x"), "mm", 0.0, False),
                ("dy", translate("exact", "Step y"), "mm", 0.0, False),
            ],
            translate("exact", "Copy in a row"),
            lambda n, dx, dy: ArrayCells(self._cells(), n, dx, dy),
            do,
        )
        self.rows = _Ask(
            [("gap", translate("exact", "Row gap"), "mm", editing.row_gap_mm, False)], translate("exact", "Open rows"),
            self._opened, do,
        )  # fmt: skip
        self._for: frozenset[int] = frozenset()
        super().__init__(translate("exact", "Exactly"), [*self.middle, self.move, self.turn, self.array, self.rows])

    def show_layout(self) -> None:
        """Show where the chosen cells are; offer a step that takes copies clear of them."""
        layout, cells = self._canvas.document.current, self._cells()
        if not cells or cells[-1] >= len(layout.cells):
            return
        middle = middle_mm(layout.cells.centres_mm[list(cells)]).tolist()
        for field, value in zip(self.middle, middle, strict=True):
            field.show_value(value)
        if self._for != self._canvas.chosen_cells:
            self._for = self._canvas.chosen_cells
            dx, dy = step_along_rows_mm(layout, np.array(cells, dtype=np.int64))
            self.array.offer(dx=round(dx, 6), dy=round(dy, 6))

    def _cells(self) -> tuple[int, ...]:
        return tuple(sorted(self._canvas.chosen_cells))

    def _opened(self, gap: float) -> Edit:
        self._editing.row_gap_mm = gap
        return OpenRows(self._cells(), gap)

    def _do(self, edit: Edit, refuse: Refuse) -> None:
        refuse("")
        self._canvas.document.request(edit, refuse)

    def _to(self, axis: int) -> Callable[[Any, Refuse], None]:
        def move(value: float, refuse: Refuse) -> None:
            cells = self._cells()
            now = float(middle_mm(self._canvas.document.current.cells.centres_mm[list(cells)])[axis])
            shift = (value - now, 0.0) if axis == 0 else (0.0, value - now)
            self._canvas.document.request(MoveCells(cells, *shift), refuse)

        return move


class SegmentSection(Section):
    """What one segment does differently; an empty field is as all others have it."""

    def __init__(self, canvas: Canvas, editing: Editing) -> None:
        self._canvas = canvas
        self._for: int | None = None
        self._known = materials()
        choices = [
            (None, translate("exact", "As all others")),
            *((id_, kind.name) for id_, kind in self._known.items()),
        ]
        self.fields: dict[str, Field] = {
            "material": ChoiceField(translate("exact", "Material"), choices, self._setter("material"))
        }
        for name, label in ((name, translate("exact", label)) for name, label in SEGMENT_NUMBERS.items()):
            self.fields[name] = NumberField(
                label, "mm", self._setter(name), none_text=translate("exact", "as all others")
            )
        self.add_keep_out = _Ask(
            [
                ("x", translate("exact", "Keep-out x"), "mm", 0.0, False),
                ("y", translate("exact", "Keep-out y"), "mm", 0.0, False),
                ("diameter", translate("exact", "Diameter"), "mm", 6.0, False),
            ],
            translate("exact", "Keep this segment off it"),
            self._with_keep_out,
            lambda edit, refuse: canvas.document.request(edit, refuse),
        )
        self.reshape = QPushButton(translate("exact", "Edit its keep-outs on the drawing"))
        self.reshape.setToolTip(
            translate("exact", "Drag and reshape the keep-outs this segment has of its own, or draw one")
        )
        self.reshape.clicked.connect(lambda: editing.edit_keep_outs(canvas.chosen_segment))
        self.reset = QPushButton(translate("exact", "As all others"))
        self.reset.setToolTip(translate("exact", "Take away everything that is different about this segment"))
        self.reset.clicked.connect(
            lambda: canvas.document.request(ResetSegment(canvas.chosen_segment), canvas.explained.emit)
        )
        super().__init__(
            translate("exact", "This segment only"),
            [*self.fields.values(), self.add_keep_out, self.reshape, self.reset],
        )

    def show_layout(self) -> None:
        """Show what is different about the chosen segment."""
        number = self._canvas.chosen_segment
        override = self._canvas.document.current.override_of(number)
        if number != self._for:
            self._for = number
            self.add_keep_out.offer(**self._middle_mm(number))
        for name, field in self.fields.items():
            value = getattr(override, name, None)
            field.show_value(getattr(value, "id", None) if name == "material" else value)
        self.reset.setEnabled(override is not None)

    def _middle_mm(self, number: int) -> dict[str, float]:
        """Where a keep-out is offered: amid the segment."""
        segments = self._canvas.document.segments
        if number >= len(segments) or not len(segments[number].windows_mm):
            return {"x": 0.0, "y": 0.0}
        x, y = segments[number].window_centres_mm.mean(axis=0).round(2).tolist()
        return {"x": x, "y": y}

    def _setter(self, name: str) -> Callable[[Any, Refuse], None]:
        def change(value: Any, refuse: Refuse) -> None:
            value = self._known[value] if name == "material" and value is not None else value
            self._canvas.document.request(OverrideSegment(self._canvas.chosen_segment, {name: value}), refuse)

        return change

    def _with_keep_out(self, x: float, y: float, diameter: float) -> Edit:
        return AddKeepOut(Contour.circle(x, y, diameter / 2), self._canvas.chosen_segment)
