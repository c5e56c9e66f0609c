"""Settings: everything a layout is made of, as fields that ask for edits the moment they are left."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from layout_app.edits import (
    ChangeBrief,
    ChangeCellType,
    ChangeFill,
    ChangeGrouping,
    ChangeLimits,
    Edit,
)  # fmt: skip
from layout_app.edits.planning import first_group_side_rad, gap_mm_of
from layout_app.edits.settings import in_words
from layout_app.model.catalogues import cell_types
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.window.document import Document
from layout_app.window.panels.fields import ChoiceField, Field, NumberField, Request, TextField
from layout_app.window.panels.joint_fields import JointFields
from layout_app.window.panels.metal_fields import metal_fields
from layout_app.window.panels.sections import Section
from layout_app.window.panels.terminal_fields import TerminalFields
from layout_app.window.sizes import characters

translate = QCoreApplication.translate

LATTICES = (
    ("hexagonal", QT_TRANSLATE_NOOP("settings", "Hexagonal")),
    ("compressed", QT_TRANSLATE_NOOP("settings", "Compressed")),
    ("square", QT_TRANSLATE_NOOP("settings", "Square")),
)
CHAINS = (("straight", QT_TRANSLATE_NOOP("settings", "Straight")), ("folded", QT_TRANSLATE_NOOP("settings", "Folded")))
SIDES = (
    (math.pi, QT_TRANSLATE_NOOP("settings", "Left")),
    (0.0, QT_TRANSLATE_NOOP("settings", "Right")),
    (math.pi / 2, QT_TRANSLATE_NOOP("settings", "Top")),
    (-math.pi / 2, QT_TRANSLATE_NOOP("settings", "Bottom")),
)
LEAST_CHARACTERS = 47  # of label, editor and unit side by side
Read = Callable[[Layout], Any]
Make = Callable[[Any], Edit]


class SettingsPanel(QScrollArea):
    """Fields in sections; each knows how to read its value from a layout."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._readers: list[tuple[Field, Read]] = []
        self.fields: dict[str, Field] = {}  # by label, terminals' with the sign in front
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(4)
        for section in (
            self._brief(),
            self._fill(),
            self._groups(),
            self._metal(),
            self._joints(),
            *self._terminals(),
            self._limits(),
        ):
            column.addWidget(section)
        column.addStretch(1)
        self.setWidget(inside)
        self.setMinimumWidth(characters(self, LEAST_CHARACTERS))
        document.layout_changed.connect(self.show_layout)
        document.derived_changed.connect(self._show_tabs)
        self.show_layout()

    def show_layout(self) -> None:
        """Show the values of the document's layout."""
        layout = self._document.current
        for field, read in self._readers:
            field.show_value(read(layout))
        self._joint_fields.show(layout)

    def _show_tabs(self) -> None:
        """Show where the tabs really are, once the metal is there."""
        if self._document.is_settled:
            places = {field for fields in self._terminal_fields for field in fields.places}
            for field, read in self._readers:
                if field in places:
                    field.show_value(read(self._document.current))

    # -- makers -------------------------------------------------------------------------------------------------

    def _asks(self, make: Make) -> Request:
        def ask(value: Any, refuse: Callable[[str], None]) -> None:
            try:
                edit = make(value)
            except LayoutError as error:
                refuse(str(error))
            else:
                self._document.request(edit, refuse)

        return ask

    def _keep(self, field: Field, read: Read, key: str) -> Field:
        self._readers.append((field, read))
        self.fields[key] = field
        return field

    def _number(self, label: str, unit: str, read: Read, make: Make, key: str = "", **options: Any) -> Field:
        return self._keep(NumberField(label, unit, self._asks(make), **options), read, key or label)

    def _choice(self, label: str, choices: Any, read: Read, make: Make, key: str = "", tip: str = "") -> Field:
        return self._keep(ChoiceField(label, choices, self._asks(make), tip=tip), read, key or label)

    # -- sections -----------------------------------------------------------------------------------------------

    def _brief(self) -> Section:
        name = TextField(
            translate("settings", "Name"),
            self._asks(lambda text: ChangeBrief({"name": text})),
            tip=translate("settings", "Name of the module"),
        )
        self._keep(name, lambda layout: layout.name, translate("settings", "Name"))
        current = self._number(
            translate("settings", "Continuous current"),
            "A",
            lambda layout: layout.design_current_a,
            lambda value: ChangeBrief({"design_current_a": value}),
            step=1.0,
            tip=translate(
                "settings", "Current the whole module carries all the time; necks and cells are judged at it"
            ),
        )
        peak = self._number(
            translate("settings", "Peak current, 10 s"), "A", lambda layout: layout.peak_current_a,
            lambda value: ChangeBrief({"peak_current_a": value}), step=1.0,
            tip=translate("settings", "Current the whole module carries for ten seconds"),
        )  # fmt: skip
        return Section(translate("settings", "Brief"), [name, current, peak])

    def _fill(self) -> Section:
        known = cell_types()
        known.setdefault(self._document.current.cell_type.id, self._document.current.cell_type)
        cell = self._choice(
            translate("settings", "Cell type"),
            [(id_, kind.name) for id_, kind in known.items()],
            lambda layout: layout.cell_type.id,
            lambda id_: ChangeCellType(known[id_]),
            tip=translate("settings", "Another diameter fills the housing again"),
        )
        lattice = self._choice(
            translate("settings", "Lattice"),
            _translated(LATTICES),
            lambda layout: layout.lattice.kind,
            lambda kind: ChangeFill(lattice=kind),
            tip=translate(
                "settings",
                "Fills the housing again with rows of this pattern. Compressed: rows pushed together, cells apart",
            ),
        )
        gap = self._number(
            translate("settings", "Cell gap"), "mm", gap_mm_of, lambda value: ChangeFill(gap_mm=value),
            tip=translate("settings", "Can to can, between neighbours of the lattice"),
        )  # fmt: skip
        wall = self._number(
            translate("settings", "Wall clearance"),
            "mm",
            lambda layout: layout.housing.wall_clearance_mm,
            lambda value: ChangeFill(wall_clearance_mm=value),
            tip=translate("settings", "Can to the housing's inner wall"),
        )
        keep_out = self._number(
            translate("settings", "Keep-out clearance"),
            "mm",
            lambda layout: layout.housing.keep_out_clearance_mm,
            lambda value: ChangeFill(keep_out_clearance_mm=value),
            tip=translate("settings", "Can to bosses and other keep-outs"),
        )
        return Section(translate("settings", "Cell and fill"), [cell, lattice, gap, wall, keep_out])

    def _groups(self) -> Section:
        series = self._number(
            translate("settings", "Series"),
            "",
            lambda layout: layout.n_series,
            lambda value: ChangeGrouping(n_series=value),
            is_whole=True,
            step=1,
            tip=translate("settings", "Number of parallel groups, one after the other"),
        )
        parallel = self._number(
            translate("settings", "Parallel"),
            "",
            lambda layout: layout.n_parallel,
            lambda value: ChangeGrouping(n_parallel=value),
            is_whole=True,
            step=1,
            tip=translate("settings", "Cells in each group"),
        )
        chain = self._choice(
            translate("settings", "Chain"),
            _translated(CHAINS),
            lambda layout: layout.chain,
            lambda value: ChangeGrouping(chain=value),
            tip=translate(
                "settings",
                "Straight: terminals at opposite ends, however often the chain turns between. Folded: side by side",
            ),
        )
        start = self._choice(
            translate("settings", "Group 1 lies"),
            _translated(SIDES),
            first_group_side_rad,
            lambda value: ChangeGrouping(start_rad=value),
            tip=translate("settings", "Side of the housing the chain starts from"),
        )
        up = self._choice(
            translate("settings", "Group 1 stands"),
            ((True, translate("settings", "Positive end up")), (False, translate("settings", "Positive end down"))),
            lambda layout: layout.first_group_up,
            lambda value: ChangeGrouping(first_group_up=value),
            tip=translate("settings", "Polarity of the first group; its neighbours stand the other way up"),
        )
        return Section(translate("settings", "Groups and chain"), [series, parallel, chain, start, up])

    def _metal(self) -> Section:
        fields = metal_fields(self._document.current, self._number, self._choice)
        return Section(translate("settings", "Metal"), fields)

    def _joints(self) -> Section:
        self._joint_fields = JointFields(self._document.current, self._number, self._choice)
        return Section(translate("settings", "Joints"), self._joint_fields.all())

    def _terminals(self) -> list[Section]:
        titles = (translate("settings", "Negative terminal −"), translate("settings", "Positive terminal +"))
        self._terminal_fields = [
            TerminalFields(self._document, is_positive, self._number, self._choice) for is_positive in (False, True)
        ]
        return [Section(title, fields.all) for title, fields in zip(titles, self._terminal_fields, strict=True)]

    def _limits(self) -> Section:
        """What the checks compare with; each tip says where the default comes from."""
        rows = []
        for field in (field.name for field in dataclasses.fields(Limits)):
            label = in_words({field: None}).capitalize()
            unit = Limits.unit_of(field) or "×"
            rows.append(self._limit(label, unit, field))
        return Section(translate("settings", "Limits of the checks"), rows)

    def _limit(self, label: str, unit: str, field: str) -> Field:
        return self._number(
            label,
            unit,
            lambda layout: getattr(layout.limits, field),
            lambda value: ChangeLimits({field: value}),
            tip=Limits.SOURCES.get(field, ""),
        )


def _translated(choices: Sequence[tuple[Any, str]]) -> list[tuple[Any, str]]:
    """Return choices with their words in the desktop's language."""
    return [(value, translate("settings", words)) for value, words in choices]
