"""Questions: the fields from which a what-if is put together, one small form a kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QWidget

from layout_app.advising.questions import (
    DeadCell,
    LostJoint,
    OtherMaterial,
    OtherThickness,
    Question,
    TerminalElsewhere,
    TwoFeeds,
    WeakCell,
)
from layout_app.model.catalogues import materials
from layout_app.model.errors import LayoutError
from layout_app.window.canvas import Canvas
from layout_app.window.panels.fields import ChoiceField, Field, NumberField

translate = QCoreApplication.translate
SIGNS = ((False, QT_TRANSLATE_NOOP("variants", "Negative")), (True, QT_TRANSLATE_NOOP("variants", "Positive")))


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of question: its words, the fields it needs, and how they make a question."""

    words: str
    fields: tuple[str, ...]
    make: Callable[[QuestionForm], Question]


class QuestionForm(QWidget):
    """Asks for the kind of a question and for what that kind needs."""

    def __init__(self, canvas: Canvas) -> None:
        super().__init__()
        self._canvas = canvas
        self._values: dict[str, Any] = {"is_positive": False, "x_mm": 0.0, "y_mm": 0.0, "factor": 2.0, "cell": None}
        self.kind = QComboBox()
        self.kind.setAccessibleName(translate("variants", "Question"))
        self.kind.setToolTip(translate("variants", "What to look at beside the layout as it is"))
        self.kind.addItems([translate("variants", kind.words) for kind in KINDS])
        self.fields: dict[str, Field] = self._make_fields()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.kind)
        for field in self.fields.values():
            row.addWidget(field.narrow())
        row.addStretch(1)
        self.kind.currentIndexChanged.connect(self._show_kind)
        self._show_kind()

    def question(self) -> Question:
        """Return what the form asks.

        Raises
        ------
        LayoutError : something is missing, with what to do
        """
        wrong = next((field.wrong for field in self.fields.values() if not field.isHidden() and field.wrong), "")
        if wrong:
            raise LayoutError(wrong)
        return KINDS[self.kind.currentIndex()].make(self)

    def value(self, name: str) -> Any:
        """Return what a field holds."""
        return self._values[name]

    def cell(self) -> int:
        """Return the cell asked about (index): that of the field, or the one chosen on the drawing."""
        typed, chosen = self._values["cell"], self._canvas.chosen_cells
        if typed is not None:
            return int(typed) - 1
        if len(chosen) == 1:
            return next(iter(chosen))
        raise LayoutError(translate("variants", "Which cell? Choose one on the drawing, or type its number."))

    def _make_fields(self) -> dict[str, Field]:
        plates = self._canvas.document.current.plates
        self._values |= {"thickness_mm": 2 * plates.thickness_mm, "material": plates.material.id}
        known = [(id_, kind.name) for id_, kind in materials().items()]
        signs = [(sign, translate("variants", words)) for sign, words in SIGNS]
        return {
            "is_positive": ChoiceField(translate("variants", "Terminal"), signs, self._take("is_positive")),
            "x_mm": NumberField("x", "mm", self._take("x_mm"), step=1.0, follows_typing=True),
            "y_mm": NumberField("y", "mm", self._take("y_mm"), step=1.0, follows_typing=True),
            "thickness_mm": NumberField(
                translate("variants", "Thickness"), "mm", self._take("thickness_mm"), follows_typing=True
            ),
            "material": ChoiceField(translate("variants", "Material"), known, self._take("material")),
            "cell": NumberField(
                translate("variants", "Cell"), "", self._take("cell"), is_whole=True, step=1, follows_typing=True,
                none_text=translate("variants", "chosen"),
                tip=translate("variants", "Its number; with none, the cell chosen on the drawing"),
            ),
            "factor": NumberField(translate("variants", "Resistance"), "×", self._take("factor"), follows_typing=True),
        }  # fmt: skip

    def _take(self, name: str) -> Callable[[Any, Callable[[str], None]], None]:
        def take(value: Any, _refuse: Callable[[str], None]) -> None:
            self._values[name] = value
            if name == "is_positive":
                self.stand_at_the_tab()
            self.fields[name].show_value(value)

        return take

    def _show_kind(self) -> None:
        wanted = KINDS[self.kind.currentIndex()].fields
        for name, field in self.fields.items():
            field.setVisible(name in wanted)
            field.show_value(self._values[name])
        self.stand_at_the_tab()

    def stand_at_the_tab(self) -> None:
        """Begin at the place the terminal's tab has now."""
        segments = self._canvas.document.segments
        segment = segments[-1 if self._values["is_positive"] else 0] if segments else None
        if segment is not None and segment.bolt_hole_mm is not None:
            for name, place_mm in zip(("x_mm", "y_mm"), segment.bolt_hole_mm, strict=False):
                self._values[name] = round(place_mm, 2)
                self.fields[name].show_value(self._values[name])


KINDS = (
    Kind(
        QT_TRANSLATE_NOOP("variants", "Terminal elsewhere"), ("is_positive", "x_mm", "y_mm"),
        lambda form: TerminalElsewhere(form.value("is_positive"), (form.value("x_mm"), form.value("y_mm"))),
    ),
    Kind(
        QT_TRANSLATE_NOOP("variants", "Terminal fed at two places"), ("is_positive",),
        lambda form: TwoFeeds(form.value("is_positive")),
    ),
    Kind(
        QT_TRANSLATE_NOOP("variants", "Other sheet thickness"), ("thickness_mm",),
        lambda form: OtherThickness(form.value("thickness_mm")),
    ),
    Kind(
        QT_TRANSLATE_NOOP("variants", "Other material"), ("material",),
        lambda form: OtherMaterial(materials()[form.value("material")]),
    ),
    Kind(QT_TRANSLATE_NOOP("variants", "Joint lost"), ("cell",), lambda form: LostJoint(form.cell())),
    Kind(QT_TRANSLATE_NOOP("variants", "Cell shorted inside"), ("cell",), lambda form: DeadCell(form.cell())),
    Kind(
        QT_TRANSLATE_NOOP("variants", "Cell open inside"), ("cell",),
        lambda form: DeadCell(form.cell(), is_shorted=False),
    ),
    Kind(
        QT_TRANSLATE_NOOP("variants", "Weak cell"), ("cell", "factor"),
        lambda form: WeakCell(form.cell(), form.value("factor")),
    ),
)  # fmt: skip
