"""Currents: which map is on the canvas, by which model, at which current and range; and the key figures of both."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from layout_app.model.errors import LayoutError
from layout_app.model.validation import require_number
from layout_app.physics.currents import MOST_AMPERES
from layout_app.window.maps.current_words import key_figures
from layout_app.window.maps.desk import MapDesk
from layout_app.window.maps.kinds import KINDS, translate
from layout_app.window.panels.fields import ChoiceField, Field, NumberField
from layout_app.window.panels.sections import Section

if TYPE_CHECKING:
    from PySide6.QtGui import QAction

Refuse = Callable[[str], None]


class CurrentsPanel(QScrollArea):
    """Fields over the state of the sheet model over figures. `actions` are those of the maps."""

    def __init__(self, desk: MapDesk, actions: dict[str, QAction]) -> None:
        super().__init__()
        self._desk = desk
        self.map = ChoiceField(
            translate("Maps", "Map"), [("none", translate("Maps", "None: colours of groups"))]
            + [(kind.name, kind.brief) for kind in KINDS.values()],
            lambda value, _: self._desk.choose(map=value),
            tip=translate("Maps", "What the colours on the drawing tell"),
        )  # fmt: skip
        self.model = ChoiceField(
            translate("Maps", "Cell currents by"),
            [("network", translate("Maps", "Network, live")), ("sheet", translate("Maps", "Sheet model"))],
            lambda value, _: self._desk.choose(model=value),
            tip=translate("Maps", "Maps of metal always come from the sheet model"),
        )
        self.current = self._number(
            translate("Maps", "Current to look at"), "A", "current_a", translate("Maps", "design current"), 10.0,
            translate("Maps", "Of the module; currents and potentials grow with it, losses with its square"),
        )  # fmt: skip
        automatic = translate("Maps", "automatic")
        self.low = self._number(
            translate("Maps", "Range from"), "", "low", automatic, 0.1,
            translate("Maps", "The value at the low end of the colours; empty lets it follow the values"),
        )  # fmt: skip
        self.high = self._number(
            translate("Maps", "Range to"), "", "high", automatic, 0.1,
            translate("Maps", "The value at the high end of the colours; empty lets it follow the values"),
        )  # fmt: skip
        self.switches = self._make_switches(actions)
        self.state = QLabel(wordWrap=True)
        self.work = QPushButton(toolTip=actions["work_sheet"].toolTip())
        self.work.clicked.connect(self._work_or_stop)
        self.progress = QProgressBar(maximum=100, visible=False)
        self.progress.setAccessibleName(translate("Maps", "Progress of the sheet model"))
        self.trouble = QLabel(wordWrap=True, visible=False)
        self.trouble.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.figures = QWidget()
        self._rows: list[tuple[QLabel, QLabel]] = []
        self._grid = QGridLayout(self.figures)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setColumnStretch(0, 1)
        self._lay_out()
        desk.changed.connect(self.show_desk)
        desk.sheet.progress_changed.connect(lambda share: self.progress.setValue(round(100 * share)))
        self.show_desk()

    def _lay_out(self) -> None:
        buttons = QWidget()
        row = QHBoxLayout(buttons)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.work)
        row.addWidget(self.progress, 1)
        fields: list[QWidget] = [self.map, self.model, self.current, self.low, self.high, *self.switches.values()]
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(8, 6, 8, 8)
        column.setSpacing(6)
        for widget in (
            self.trouble,
            Section(translate("Maps", "On the drawing"), fields),
            Section(translate("Maps", "Sheet model"), [self.state, buttons]),
            Section(translate("Maps", "Key figures"), [self.figures]),
        ):
            column.addWidget(widget)
        column.addStretch(1)
        self.setWidget(inside)
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def _number(self, label: str, unit: str, name: str, none_text: str, step: float, tip: str) -> NumberField:
        def request(value: float | None, refuse: Refuse) -> None:
            wrong = self._wrong_with(name, value)
            refuse(wrong) if wrong else self._desk.choose(**{name: value})

        return NumberField(label, unit, request, step=step, none_text=none_text, tip=tip)

    def _wrong_with(self, name: str, value: float | None) -> str:
        """Return what is wrong with an entry, or nothing."""
        choice = self._desk.choice
        if value is None:
            return ""
        if name == "current_a":
            try:
                require_number("current", value, least=-MOST_AMPERES, most=MOST_AMPERES)
            except LayoutError as error:
                return str(error)
            return ""
        low, high = (value, choice.high) if name == "low" else (choice.low, value)
        if low is not None and high is not None and not low < high:
            return translate("Maps", "The range has to begin below its end.")
        return ""

    def _make_switches(self, actions: dict[str, QAction]) -> dict[str, QCheckBox]:
        """Return a box for each action that is switched on and off; both always agree."""
        words = {
            "map_lines": translate("Maps", "Stream lines"),
            "map_ways": translate("Maps", "Ways of the worst-placed cells"),
            "map_necks": translate("Maps", "Worst necks"),
        }
        boxes = {}
        for name, text in words.items():
            box = QCheckBox(text, toolTip=actions[name].toolTip())
            box.clicked.connect(actions[name].trigger)
            box.clicked.connect(lambda _=False, box=box, action=actions[name]: box.setChecked(action.isChecked()))
            actions[name].toggled.connect(box.setChecked)
            boxes[name] = box
        return boxes

    # -- showing ------------------------------------------------------------------------------------------------

    def show_desk(self) -> None:
        """Show what is chosen and what there is."""
        choice, kind = self._desk.choice, self._desk.choice.kind
        for field, value in self._values(choice):
            field.show_value(value)
        unit = kind.unit if kind is not None else ""
        for field in (self.low, self.high):
            field.setVisible(kind is not None)
            field.show_unit(unit)
        self.model.setVisible(kind is None or kind.is_of_cells)
        self._show_work()
        trouble = self._desk.document.no_currents if self._desk.network is None else ""
        self.trouble.setText(trouble)
        self.trouble.setVisible(bool(trouble))
        self._show_figures()

    def _values(self, choice: Any) -> list[tuple[Field, Any]]:
        return [
            (self.map, choice.map), (self.model, choice.model), (self.current, choice.current_a),
            (self.low, choice.low), (self.high, choice.high),
        ]  # fmt: skip

    def _show_work(self) -> None:
        desk = self._desk
        is_working = desk.sheet.is_working
        self.progress.setVisible(is_working)
        self.work.setText(translate("Maps", "Stop") if is_working else translate("Maps", "Work it out"))
        self.work.setEnabled(is_working or (desk.network is not None and not desk.is_current))
        if is_working:
            told = translate("Maps", "Being worked out beside the window…")
        elif desk.sheet.refusal:
            told = desk.sheet.refusal
        elif desk.result is None:
            told = translate(
                "Maps", "Not worked out yet. It takes some seconds, for thousands of cells a minute or two."
            )
        elif desk.is_current:
            told = translate("Maps", "Of the layout shown.")
        else:
            told = translate("Maps", "Of before the last edits: shown pale until it is worked out anew.")
        self.state.setText(told)

    def close_work(self) -> None:
        """End the work beside the window."""
        self._desk.close()

    def _work_or_stop(self) -> None:
        self._desk.stop() if self._desk.sheet.is_working else self._desk.work_out()

    def _show_figures(self) -> None:
        figures = key_figures(self._desk)
        while len(self._rows) < len(figures):
            name, value = QLabel(wordWrap=True), QLabel()
            value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            row = len(self._rows)
            self._grid.addWidget(name, row, 0)
            self._grid.addWidget(value, row, 1)
            self._rows.append((name, value))
        for k, (name, value) in enumerate(self._rows):
            is_used = k < len(figures)
            for label in (name, value):
                label.setVisible(is_used)
            if is_used:
                words, text, tip = figures[k]
                name.setText(words)
                value.setText(text)
                for label in (name, value):
                    label.setToolTip(tip)
                with QSignalBlocker(value):
                    value.setAccessibleName(f"{words}: {text}")
