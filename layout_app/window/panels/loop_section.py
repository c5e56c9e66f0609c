"""Loop section: the loop chosen on the drawing by numbers: a circle, a rectangle, or corner by corner any other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSignalBlocker
from PySide6.QtWidgets import QPushButton

from layout_app.edits import AddKeepOut, ChangeLoop
from layout_app.edits.housings import OUTLINE, LoopId, loop_name
from layout_app.geometry.contours import Contour
from layout_app.window.panels.fields import ChoiceField, NumberField
from layout_app.window.panels.sections import Section
from layout_app.window.tools.loop_marks import has_corners

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas
    from layout_app.window.editing import Editing

translate = QCoreApplication.translate

Refuse = Callable[[str], None]
ROWS = (
    ("x", "x", "mm"),
    ("y", "y", "mm"),
    ("diameter", QT_TRANSLATE_NOOP("exact", "Diameter"), "mm"),
    ("width", QT_TRANSLATE_NOOP("exact", "Width"), "mm"),
    ("height", QT_TRANSLATE_NOOP("exact", "Height"), "mm"),
    ("corner", QT_TRANSLATE_NOOP("exact", "Corner"), ""),
    ("corner_x", QT_TRANSLATE_NOOP("exact", "Corner x"), "mm"),
    ("corner_y", QT_TRANSLATE_NOOP("exact", "Corner y"), "mm"),
    ("bulge", QT_TRANSLATE_NOOP("exact", "Bulge of its edge"), ""),
)
TIPS = {
    "x": QT_TRANSLATE_NOOP("exact", "Middle of a circle, else the least x of the loop"),
    "y": QT_TRANSLATE_NOOP("exact", "Middle of a circle, else the least y"),
    "corner": QT_TRANSLATE_NOOP(
        "exact", "Number of the chosen corner, counter-clockwise; another number chooses another"
    ),
    "bulge": QT_TRANSLATE_NOOP("exact", "tan of a quarter of the angle the next edge turns by; 0 is straight"),
}


class LoopSection(Section):
    """Which loop of housing and segments is chosen, its numbers, and what can be added or taken away."""

    def __init__(self, canvas: Canvas, editing: Editing) -> None:
        self._canvas, self._tool = canvas, editing.tools["walls"]
        self.which = _LoopField(translate("exact", "Loop"), [], lambda value, _: self._tool.choose(canvas, value))
        self.fields = {
            name: NumberField(
                label,
                unit,
                self._setter(name),
                tip=translate("exact", TIPS[name]) if name in TIPS else label,
                is_whole=name == "corner",
                none_text=translate("exact", "none") if name == "corner" else None,
                step=1.0 if name == "corner" else 0.1,
            )
            for name, label, unit in ((name, translate("exact", label), unit) for name, label, unit in ROWS)
        }
        do = editing.do
        self.add_corner = QPushButton(translate("exact", "Add a corner"))
        self.add_corner.setToolTip(
            translate("exact", "Amid the edge after the chosen corner; a double click on an edge adds one there")
        )
        self.remove_corner = QPushButton(translate("exact", "Remove this corner"))
        self.circle = QPushButton(translate("exact", "Add a round keep-out"))
        self.box = QPushButton(translate("exact", "Add a rectangular keep-out"))
        self.remove = QPushButton(translate("exact", "Remove this keep-out"))
        self.add_corner.clicked.connect(editing.add_corner)
        self.remove_corner.clicked.connect(lambda: self._tool.delete(canvas))
        self.circle.clicked.connect(lambda: do(AddKeepOut(Contour.circle(*self._centre(), 4.0))))
        self.box.clicked.connect(lambda: do(AddKeepOut(Contour.rectangle(10.0, 10.0).moved(*self._centre()))))
        self.remove.clicked.connect(lambda: self._tool.remove_loop(canvas))
        buttons = (self.add_corner, self.remove_corner, self.circle, self.box, self.remove)
        super().__init__(translate("exact", "Housing and keep-outs"), [self.which, *self.fields.values(), *buttons])

    def show_layout(self) -> None:
        """Show the numbers the chosen loop has."""
        loops, values = self._tool.loops(self._canvas), self._values()
        self.which.offer([(index, _capital(loop_name(index))) for index in loops])
        self.which.show_value(self._tool.loop)
        for name, field in self.fields.items():
            field.setVisible(name in values)
            if name in values:
                field.show_value(values[name])
        is_chosen = self._tool.loop in loops
        self.add_corner.setVisible(is_chosen)
        self.remove_corner.setVisible("corner_x" in values)
        self.remove.setVisible(is_chosen and self._tool.loop != OUTLINE)

    def _centre(self) -> tuple[float, float]:
        return self._canvas.view.to_layout(self._canvas.view.width_px / 2, self._canvas.view.height_px / 2)

    def _values(self) -> dict[str, float | None]:
        loop = self._tool.contour(self._canvas)
        if loop is None:
            return {}
        circle = loop.as_circle
        x0, y0, x1, y1 = loop.bounds_mm
        values: dict[str, float | None] = {"x": x0, "y": y0}
        if circle is not None:
            values = {"x": circle[0], "y": circle[1], "diameter": 2 * circle[2]}
        elif is_rectangle(loop):
            values |= {"width": x1 - x0, "height": y1 - y0}
        return values | self._corner_values(loop) if has_corners(loop) else values

    def _corner_values(self, loop: Contour) -> dict[str, float | None]:
        corner = self._tool.corner
        if corner is None or corner >= len(loop.bulges):
            return {"corner": None}
        x, y = loop.vertices_mm[corner].tolist()
        return {"corner": corner + 1, "corner_x": x, "corner_y": y, "bulge": float(loop.bulges[corner])}

    def _setter(self, name: str) -> Callable[[Any, Refuse], None]:
        def change(value: Any, refuse: Refuse) -> None:
            loop = self._tool.contour(self._canvas)
            try:
                if name == "corner":
                    self._tool.choose(self._canvas, self._tool.loop, corner_index(loop, value))
                else:
                    fresh = changed_loop(loop, name, value, self._tool.corner)
                    self._canvas.document.request(ChangeLoop(self._tool.loop, fresh), refuse)
            except ValueError as error:
                refuse(str(error))

        return change


class _LoopField(ChoiceField):
    """A choice among loops, which come and go."""

    def offer(self, choices: Sequence[tuple[LoopId, str]]) -> None:
        """Let other loops be chosen."""
        values = [value for value, _ in choices]
        if values != self._values:
            self._values = values
            with QSignalBlocker(self.editor):
                self.editor.clear()
                self.editor.addItems([words for _, words in choices])


def corner_index(loop: Contour, number: int | None) -> int | None:
    """Return the index of a corner that is counted from 1; raise ValueError where there is none of that number."""
    if number is not None and not 1 <= number <= len(loop.bulges):
        raise ValueError(translate("exact", "It must be from 1 to {number}.").format(number=len(loop.bulges)))
    return None if number is None else number - 1


def is_rectangle(loop: Contour) -> bool:
    """Whether a loop is a rectangle with sides along x and y and sharp corners."""
    if len(loop.bulges) != 4 or loop.is_arc.any():
        return False
    steps = np.abs(loop.ends_mm - loop.vertices_mm)
    return bool((steps.min(axis=1) < 1e-9).all())


def changed_loop(loop: Contour, name: str, value: float, corner: int | None) -> Contour:
    """Return a loop with one of its numbers changed; raise ValueError where it cannot have it."""
    if name in ("diameter", "width", "height") and not value > 0:
        raise ValueError(translate("exact", "It must be more than 0."))
    circle = loop.as_circle
    x0, y0, x1, y1 = loop.bounds_mm
    if name in ("x", "y"):
        x, y = (x0, y0) if circle is None else circle[:2]
        return loop.moved(value - x, 0.0) if name == "x" else loop.moved(0.0, value - y)
    if name == "diameter":
        return Contour(circle[:2] + (loop.vertices_mm - circle[:2]) * (value / 2 / circle[2]), loop.bulges)
    if name in ("width", "height"):
        size = (value, y1 - y0) if name == "width" else (x1 - x0, value)
        return Contour.rectangle(*size).moved(x0, y0)
    vertices, bulges = loop.vertices_mm.copy(), loop.bulges.copy()
    if name == "bulge":
        bulges[corner] = value
    else:
        vertices[corner, 0 if name == "corner_x" else 1] = value
    return Contour(vertices, bulges)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
