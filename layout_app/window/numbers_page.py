"""NumbersPage: a housing from its sizes: rectangle with round corners, circle, or regular polygon."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.validation import MAX_LENGTH_MM, require_count, require_number
from layout_app.window.housing_view import HousingView
from layout_app.window.panels.fields import ChoiceField, NumberField, stops_at_wrong

translate = QCoreApplication.translate

SHAPES = (
    ("rectangle", QT_TRANSLATE_NOOP("numbers", "Rectangle")),
    ("circle", QT_TRANSLATE_NOOP("numbers", "Circle")),
    ("polygon", QT_TRANSLATE_NOOP("numbers", "Regular polygon")),
)
FIELDS = {  # name: label, unit, first value, shapes it belongs to
    "width": (QT_TRANSLATE_NOOP("numbers", "Width"), "mm", 300.0, ("rectangle",)),
    "height": (QT_TRANSLATE_NOOP("numbers", "Height"), "mm", 200.0, ("rectangle",)),
    "corner": (QT_TRANSLATE_NOOP("numbers", "Corner radius"), "mm", 10.0, ("rectangle",)),
    "diameter": (QT_TRANSLATE_NOOP("numbers", "Diameter"), "mm", 250.0, ("circle",)),
    "sides": (QT_TRANSLATE_NOOP("numbers", "Sides"), "", 6, ("polygon",)),
    "across": (QT_TRANSLATE_NOOP("numbers", "Across flats"), "mm", 250.0, ("polygon",)),
}


class NumbersPage(QWidget):
    """Fields beside a picture; the button gives the housing on."""

    accepted = Signal(object)  # a Housing
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._values = {name: first for name, (_, _, first, _) in FIELDS.items()}
        self._shape = "rectangle"
        self._is_corner_told = False  # that the radius, right when it was typed, is too large now
        self.view = HousingView()
        shapes = [(shape, translate("numbers", words)) for shape, words in SHAPES]
        self.shape = ChoiceField(translate("numbers", "Shape"), shapes, self._set_shape)
        self.fields = {
            name: NumberField(translate("numbers", label), unit, self._setter(name), step=1, is_whole=name == "sides")
            for name, (label, unit, _, _) in FIELDS.items()
        }
        self.use, self.back = (
            QPushButton(translate("numbers", "Use this housing"), default=True),
            QPushButton(translate("numbers", "Back")),
        )
        side = QVBoxLayout()
        side.setSpacing(8)
        side.addWidget(QLabel(translate("numbers", "<b style='font-size:large'>Housing from numbers</b>")))
        side.addWidget(QLabel(translate("numbers", "Inner sizes: cells and metal stay inside."), wordWrap=True))
        for field in (self.shape, *self.fields.values()):
            side.addWidget(field)
        side.addStretch(1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.back)
        buttons.addStretch(1)
        buttons.addWidget(self.use)
        side.addLayout(buttons)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 16, 16, 16)
        row.setSpacing(16)
        row.addWidget(self.view, 3)
        row.addLayout(side, 2)
        self.use.clicked.connect(self._use)
        self.back.clicked.connect(self.left)
        self._show()

    def housing(self) -> Housing:
        """Return the housing of the numbers as they stand."""
        return Housing(
            outline=_outline(self._shape, self._values),
            source=f"{self._shape} from numbers",
        )

    def _use(self) -> None:
        if not stops_at_wrong(self.fields.values()):
            self.accepted.emit(self.housing())

    def _setter(self, name: str) -> Callable[[float, Callable[[str], None]], None]:
        def set_value(value: float, refuse: Callable[[str], None]) -> None:
            try:
                _require(name, value, self._values if name == "corner" else None)
            except LayoutError as error:
                refuse(str(error))
            else:
                self._values[name] = value
                self._show()

        return set_value

    def _set_shape(self, shape: str, _refuse: Callable[[str], None]) -> None:
        self._shape = shape
        self._show()

    def _show(self) -> None:
        self.shape.show_value(self._shape)
        for name, field in self.fields.items():
            field.setVisible(self._shape in FIELDS[name][3])
            field.show_value(self._values[name])
        if self._is_corner_possible():
            self.view.show_housing(self.housing().outline)

    def _is_corner_possible(self) -> bool:
        """Say at the corner radius when it no longer goes with width and height."""
        corner, was_told = self.fields["corner"], self._is_corner_told
        self._is_corner_told = False
        if self._shape == "rectangle":
            try:
                _require("corner", self._values["corner"], self._values)
            except LayoutError as error:
                corner.explain(str(error))
                self._is_corner_told = True
        if was_told and not self._is_corner_told:
            corner.restore()
        return not self._is_corner_told


def _require(name: str, value: float, rectangle: dict[str, float] | None = None) -> None:
    """Raise LayoutError unless a number is one its field may hold; a corner radius goes with a rectangle's sizes."""
    label = FIELDS[name][0]
    if name == "sides":
        require_count(label, value, least=3, most=100)
    elif name == "corner":
        require_number(label, value, least=0, most=min(rectangle["width"], rectangle["height"]) / 2, unit="mm")
    else:
        require_number(label, value, least=1, most=MAX_LENGTH_MM, unit="mm")


def _outline(shape: str, values: dict[str, float]) -> Contour:
    """Return the loop of a shape."""
    if shape == "circle":
        radius = values["diameter"] / 2
        return Contour.circle(radius, radius, radius)
    if shape == "polygon":
        n_sides = int(values["sides"])
        angles = math.pi * (2 * np.arange(n_sides) + 1) / n_sides - math.pi / 2
        radius = values["across"] / 2 / math.cos(math.pi / n_sides)
        return Contour(radius * np.column_stack([np.cos(angles), np.sin(angles)]))
    return Contour.rectangle(values["width"], values["height"], values["corner"])
