"""Settings: everything a layout is made of, as fields that ask for edits the moment they are left."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from layout_app.edits import (
    ChangeBrief,
    ChangeCellType,
    ChangeFill,
    ChangeGrouping,
    ChangeLimits,
    ChangePlates,
    ChangeTerminal,
    Edit,
)  # fmt: skip
from layout_app.edits.planning import first_group_side_rad, gap_mm_of
from layout_app.edits.settings import in_words
from layout_app.model.catalogues import cell_types, materials
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.model.plates import BOLT_HOLE_MM
from layout_app.window.document import Document
from layout_app.window.panels.fields import ChoiceField, Field, NumberField, Request, TextField
from layout_app.window.panels.joint_fields import JointFields
from layout_app.window.panels.sections import Section
from layout_app.window.sizes import characters

LATTICES = (("hexagonal", "Hexagonal"), ("compressed", "Compressed"), ("square", "Square"))
CHAINS = (("straight", "Straight"), ("folded", "Folded"))
SIDES = ((math.pi, "Left"), (0.0, "Right"), (math.pi / 2, "Top"), (-math.pi / 2, "Bottom"))
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
        self.show_layout()

    def show_layout(self) -> None:
        """Show the values of the document's layout."""
        layout = self._document.current
        for field, read in self._readers:
            field.show_value(read(layout))
        self._joint_fields.show(layout)

    # -- makers -------------------------------------------------------------------------------------------------

    def _asks(self, make: Make) -> Request:
        return lambda value, refuse: self._document.request(make(value), refuse)

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
        name = TextField("Name", self._asks(lambda text: ChangeBrief({"name": text})), tip="Name of the module")
        self._keep(name, lambda layout: layout.name, "Name")
        current = self._number(
            "Continuous current", "A", lambda layout: layout.design_current_a,
            lambda value: ChangeBrief({"design_current_a": value}), step=1.0,
            tip="Current the whole module carries all the time; necks and cells are judged at it",
        )  # fmt: skip
        peak = self._number(
            "Peak current, 10 s", "A", lambda layout: layout.peak_current_a,
            lambda value: ChangeBrief({"peak_current_a": value}), step=1.0,
            tip="Current the whole module carries for ten seconds",
        )  # fmt: skip
        return Section("Brief", [name, current, peak])

    def _fill(self) -> Section:
        known = cell_types()
        known.setdefault(self._document.current.cell_type.id, self._document.current.cell_type)
        cell = self._choice(
            "Cell type", [(id_, kind.name) for id_, kind in known.items()], lambda layout: layout.cell_type.id,
            lambda id_: ChangeCellType(known[id_]), tip="Another diameter fills the housing again",
        )  # fmt: skip
        lattice = self._choice(
            "Lattice", LATTICES, lambda layout: layout.lattice.kind, lambda kind: ChangeFill(lattice=kind),
            tip="Fills the housing again with rows of this pattern. Compressed: rows pushed together, cells apart",
        )  # fmt: skip
        gap = self._number(
            "Cell gap", "mm", gap_mm_of, lambda value: ChangeFill(gap_mm=value),
            tip="Can to can, between neighbours of the lattice",
        )  # fmt: skip
        wall = self._number(
            "Wall clearance", "mm", lambda layout: layout.housing.wall_clearance_mm,
            lambda value: ChangeFill(wall_clearance_mm=value), tip="Can to the housing's inner wall",
        )  # fmt: skip
        keep_out = self._number(
            "Keep-out clearance", "mm", lambda layout: layout.housing.keep_out_clearance_mm,
            lambda value: ChangeFill(keep_out_clearance_mm=value), tip="Can to bosses and other keep-outs",
        )  # fmt: skip
        return Section("Cell and fill", [cell, lattice, gap, wall, keep_out])

    def _groups(self) -> Section:
        series = self._number(
            "Series", "", lambda layout: layout.n_series, lambda value: ChangeGrouping(n_series=value),
            is_whole=True, step=1, tip="Number of parallel groups, one after the other",
        )  # fmt: skip
        parallel = self._number(
            "Parallel", "", lambda layout: layout.n_parallel, lambda value: ChangeGrouping(n_parallel=value),
            is_whole=True, step=1, tip="Cells in each group",
        )  # fmt: skip
        chain = self._choice(
            "Chain", CHAINS, lambda layout: layout.chain, lambda value: ChangeGrouping(chain=value),
            tip="Straight: terminals at opposite ends, however often the chain turns between. Folded: side by side",
        )  # fmt: skip
        start = self._choice(
            "Group 1 lies", SIDES, first_group_side_rad, lambda value: ChangeGrouping(start_rad=value),
            tip="Side of the housing the chain starts from",
        )  # fmt: skip
        up = self._choice(
            "Group 1 stands", ((True, "Positive end up"), (False, "Positive end down")),
            lambda layout: layout.first_group_up, lambda value: ChangeGrouping(first_group_up=value),
            tip="Polarity of the first group; its neighbours stand the other way up",
        )  # fmt: skip
        return Section("Groups and chain", [series, parallel, chain, start, up])

    def _metal(self) -> Section:
        known = materials()
        known.setdefault(self._document.current.plates.material.id, self._document.current.plates.material)
        material = self._choice(
            "Material", [(id_, kind.name) for id_, kind in known.items()], lambda layout: layout.plates.material.id,
            lambda id_: ChangePlates({"material": known[id_]}), tip="Sheet metal of all segments",
        )  # fmt: skip
        borders = self._choice(
            "Borders", (("zigzag", "Zigzag"), ("straight", "Smoothed")),
            lambda layout: layout.plates.borders, lambda value: ChangePlates({"borders": value}),
            tip="Gap between two segments: around every cell, or smoothed where there is room",
        )  # fmt: skip
        numbers = [
            self._plate_number("Sheet thickness", "thickness_mm", "Thickness of the sheet"),
            self._plate_number("Insulation gap", "gap_mm", "Between segments of a face"),
            self._plate_number("Setback", "setback_mm", "Metal to the housing's wall and keep-outs"),
            self._plate_number("Corner radius", "corner_radius_mm", "Least radius of any corner of an outline"),
            self._plate_number("Least web", "min_web_mm", "Least metal between windows and from a window to the edge"),
            self._plate_number("Shoulder clearance", "shoulder_clearance_mm", "Window edge to the can's shoulder"),
            self._plate_number("Positive window", "positive_window_mm", "Diameter over a button", "from the cell"),
            self._plate_number("Negative window", "negative_window_mm", "Diameter over a can bottom", "from the cell"),
        ]
        return Section("Metal", [material, borders, *numbers])

    def _joints(self) -> Section:
        self._joint_fields = JointFields(self._document.current, self._number, self._choice)
        return Section("Joints", self._joint_fields.all())

    def _plate_number(self, label: str, field: str, tip: str, none_text: str | None = None) -> Field:
        return self._number(
            label, "mm", lambda layout: getattr(layout.plates, field), lambda value: ChangePlates({field: value}),
            tip=tip, none_text=none_text,
        )  # fmt: skip

    def _terminals(self) -> list[Section]:
        return [self._terminal("Negative terminal −", False), self._terminal("Positive terminal +", True)]

    def _terminal(self, title: str, is_positive: bool) -> Section:
        sign = "+ " if is_positive else "− "

        def edit(field: str) -> Make:
            return lambda value: ChangeTerminal(is_positive=is_positive, changes={field: value})

        def read(field: str) -> Read:
            return lambda layout: getattr(layout.terminals[is_positive], field)

        bolts = [(bolt, f"{bolt}, hole {hole:g} mm") for bolt, hole in BOLT_HOLE_MM.items()]
        places = (("outside", "Outside"), ("inside", "Inside"))
        return Section(
            title,
            [
                self._choice("Bolt", bolts, read("bolt"), edit("bolt"), sign + "Bolt", "ISO 273 medium clearance hole"),
                self._choice(
                    "Tab",
                    places,
                    read("place"),
                    edit("place"),
                    sign + "Tab",
                    "Beyond the housing, or inside on the face",
                ),
                self._number("Tab width", "mm", read("width_mm"), edit("width_mm"), sign + "Tab width", step=1.0),
                self._number("Tab length", "mm", read("length_mm"), edit("length_mm"), sign + "Tab length", step=1.0),
                *(self._tab_place(axis, is_positive, sign) for axis in (0, 1)),
            ],
        )

    def _tab_place(self, axis: int, is_positive: bool, sign: str) -> Field:
        """One coordinate of the point the tab lies near; with none, the program chooses its place."""
        label = f"Tab near {'xy'[axis]}"

        def read(layout: Layout) -> float | None:
            near_mm = layout.terminals[is_positive].near_mm
            return None if near_mm is None else near_mm[axis]

        def make(value: float | None) -> Edit:
            near_mm = self._document.current.terminals[is_positive].near_mm or self._tab_now(is_positive)
            fresh = None if value is None else (value, near_mm[1]) if axis == 0 else (near_mm[0], value)
            return ChangeTerminal(is_positive=is_positive, changes={"near_mm": fresh})

        tip = "The tab lies on the edge of its segment nearest to this point; or drag its bolt hole"
        return self._number(label, "mm", read, make, sign + label, step=1.0, none_text="chosen", tip=tip)

    def _tab_now(self, is_positive: bool) -> tuple[float, float]:
        segments = self._document.segments
        hole = segments[-1 if is_positive else 0].bolt_hole_mm if segments else None
        return (0.0, 0.0) if hole is None else hole[:2]

    def _limits(self) -> Section:
        """What the checks compare with; each tip says where the default comes from."""
        rows = []
        for field in (field.name for field in dataclasses.fields(Limits)):
            label = in_words({field: None}).capitalize()
            unit = {"v": "V", "mm": "mm", "s": "s", "ohm": "Ω"}.get(field.rpartition("_")[2], "×")
            rows.append(self._limit(label, unit, field))
        return Section("Limits of the checks", rows)

    def _limit(self, label: str, unit: str, field: str) -> Field:
        return self._number(
            label, unit, lambda layout: getattr(layout.limits, field), lambda value: ChangeLimits({field: value}),
            tip=Limits.SOURCES.get(field, ""),
        )  # fmt: skip
