"""BriefPage: what the module shall be; while it is typed, a ranked list shows what fits the housing."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from layout_app.model.catalogues import cell_types, materials
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.layouts import MAX_SERIES, Layout
from layout_app.model.plates import PlateSettings
from layout_app.model.validation import MAX_CELLS, require_count, require_number
from layout_app.window.background import Background
from layout_app.window.housing_view import HousingView
from layout_app.window.panels.fields import ChoiceField, Field, NumberField, TextField
from layout_app.window.panels.sections import Section

COLUMNS = ("Lattice", "Rows at", "Cells", "Of the most that can fit", "Spare")
NUMBERS = {  # name: label, unit, first value, step, whole, least, most, tip
    "n_series": ("Series", "", 6, 1, True, 1, MAX_SERIES, "Groups one after the other; sets the voltage"),
    "n_parallel": ("Parallel", "", 20, 1, True, 1, MAX_CELLS, "Cells in each group; sets the capacity"),
    "current_a": ("Continuous current", "A", 0.0, 1, False, 0, 1e6, "What the whole module carries all the time"),
    "peak_a": ("Peak current, 10 s", "A", 0.0, 1, False, 0, 1e6, "What the whole module carries for ten seconds"),
    "gap_mm": ("Cell gap", "mm", 1.0, 0.1, False, 0, 100, "Can to can"),
    "wall_mm": ("Wall clearance", "mm", 1.0, 0.1, False, 0, 1000, "Can to the housing's inner wall"),
    "keep_out_mm": ("Keep-out clearance", "mm", 1.0, 0.1, False, 0, 1000, "Can to bosses and other keep-outs"),
}
COLUMN_GAP_PX = 18
FITTING = {"gap_mm", "wall_mm", "keep_out_mm"}  # these change what fits
FIRST_CELL = "21700-energy"


class BriefPage(QWidget):
    """Fields, a picture of the chosen arrangement, the ranked list, and a button that lays the module out."""

    accepted = Signal(object)  # a Layout
    left = Signal()
    crashed = Signal(object)

    def __init__(self, housing: Housing) -> None:
        super().__init__()
        self._housing = housing
        self._cell_types = cell_types()
        first = FIRST_CELL if FIRST_CELL in self._cell_types else next(iter(self._cell_types))
        self.values: dict[str, Any] = {name: row[2] for name, row in NUMBERS.items()}
        self.values |= {"cell": first, "chain": "straight", "name": _name(housing)}
        self.found: tuple[Any, ...] = ()  # the arrangements listed
        self._fitting, self._laying = Background(self), Background(self)
        self.view, self.sums, self.problem = HousingView(), QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.fields = self._make_fields()
        self.table = self._make_table()
        self.busy = QProgressBar(maximum=0, textVisible=False, maximumHeight=8, visible=False)
        self.lay, self.back = QPushButton("Lay out", default=True), QPushButton("Back")
        self._lay_out()
        self._connect()
        self._show()
        self._fit()

    # -- building -----------------------------------------------------------------------------------------------

    def _make_fields(self) -> dict[str, Field]:
        fields: dict[str, Field] = {
            name: NumberField(label, unit, self._setter(name), step=step, is_whole=is_whole, tip=tip)
            for name, (label, unit, _, step, is_whole, _, _, tip) in NUMBERS.items()
        }
        cells = [(id_, kind.name) for id_, kind in self._cell_types.items()]
        fields["cell"] = ChoiceField("Cell type", cells, self._setter("cell"), tip="Typical values by IEC size")
        chains = (("straight", "Straight"), ("folded", "Folded"))
        tip = "Straight: terminals at opposite ends. Folded: terminals side by side"
        fields["name"] = TextField("Name", self._setter("name"), tip="Name of the module, for files and drawings")
        fields["chain"] = ChoiceField("Chain", chains, self._setter("chain"), tip=tip)
        return fields

    def _make_table(self) -> QTableWidget:
        table = QTableWidget(0, len(COLUMNS))
        table.setAccessibleName("What fits")
        table.setHorizontalHeaderLabels(COLUMNS)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.verticalHeader().hide()
        table.horizontalHeader().setStretchLastSection(True)
        table.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        table.setMinimumHeight(150)
        return table

    def _lay_out(self) -> None:
        inside = QWidget()
        fields = QVBoxLayout(inside)
        fields.setContentsMargins(0, 0, 8, 0)
        f = self.fields
        fields.addWidget(Section("Module", [f["name"], f["cell"], f["n_series"], f["n_parallel"], f["chain"]]))
        fields.addWidget(Section("Currents", [f["current_a"], f["peak_a"]]))
        fields.addWidget(Section("Clearances", [f["gap_mm"], f["wall_mm"], f["keep_out_mm"]]))
        fields.addWidget(self.sums)
        fields.addStretch(1)
        scroll = QScrollArea(widgetResizable=True, frameShape=QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inside)
        buttons = QHBoxLayout()
        buttons.addWidget(self.back)
        buttons.addStretch(1)
        buttons.addWidget(self.lay)
        side = QVBoxLayout()
        side.addWidget(QLabel("<b style='font-size:large'>Brief</b>"))
        side.addWidget(scroll, 1)
        for part in (self.problem, self.busy):
            side.addWidget(part)
        side.addLayout(buttons)
        middle = QVBoxLayout()
        middle.addWidget(self.view, 5)
        middle.addWidget(self.table, 2)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 16, 16, 16)
        row.setSpacing(16)
        row.addLayout(middle, 5)
        row.addLayout(side, 3)

    def _connect(self) -> None:
        self._fitting.delivered.connect(lambda _, found: self._take_fits(found))
        self._fitting.failed.connect(lambda _, error: self._fail(error))
        self._laying.delivered.connect(lambda _, layout: self.accepted.emit(layout))
        self._laying.failed.connect(lambda _, error: self._fail(error))
        self.table.currentCellChanged.connect(lambda row, *_: self._show_fit(row))
        self.lay.clicked.connect(self.start_laying)
        self.back.clicked.connect(self.left)

    # -- values -------------------------------------------------------------------------------------------------

    def _setter(self, name: str) -> Callable[[Any, Callable[[str], None]], None]:
        def set_value(value: Any, refuse: Callable[[str], None]) -> None:
            try:
                self._require(name, value)
            except LayoutError as error:
                refuse(str(error))
                return
            self.values[name] = value
            self._show()
            if name in FITTING or name == "cell":
                self._fit()

        return set_value

    def _require(self, name: str, value: Any) -> None:
        if name not in NUMBERS:
            return
        label, _, _, _, is_whole, least, most, _ = NUMBERS[name]
        if is_whole:
            require_count(label, value, least=least, most=most)
        else:
            require_number(label, value, least=least, most=most)

    @property
    def housing(self) -> Housing:
        """The housing with the clearances of the brief."""
        wall_mm, keep_out_mm = self.values["wall_mm"], self.values["keep_out_mm"]
        return replace(self._housing, wall_clearance_mm=wall_mm, keep_out_clearance_mm=keep_out_mm)

    @property
    def _cell(self) -> Any:
        return self._cell_types[self.values["cell"]]

    @property
    def n_asked(self) -> int:
        """Cells asked for."""
        return self.values["n_series"] * self.values["n_parallel"]

    def _show(self) -> None:
        for name, field in self.fields.items():
            field.show_value(self.values[name])
        cell, n_series, n_parallel = self._cell, self.values["n_series"], self.values["n_parallel"]
        energy_wh = self.n_asked * cell.capacity_ah * cell.voltage_nominal_v
        self.sums.setText(
            f"{n_series} × {n_parallel} = <b>{self.n_asked}</b> cells<br>"
            f"{n_series * cell.voltage_nominal_v:.4g} V nominal, {n_series * cell.voltage_max_v:.4g} V full<br>"
            f"{n_parallel * cell.capacity_ah:.4g} Ah, <b>{energy_wh:.4g}</b> Wh, "
            f"{self.n_asked * cell.mass_g / 1000:.4g} kg of cells"
        )
        self.lay.setText(f"Lay out {n_series} × {n_parallel}")
        self._show_spares()

    # -- what fits ----------------------------------------------------------------------------------------------

    def _fit(self) -> None:
        housing, cell, gap_mm = self.housing, self._cell, self.values["gap_mm"]
        self._tell_problem("")
        self.busy.show()
        self._fitting.start(lambda hand_over: hand_over(_arrangements(housing, cell, gap_mm)))

    def _take_fits(self, found: tuple[Any, ...]) -> None:
        self.busy.hide()
        self.found = found
        self.table.setRowCount(len(found))
        for row, fit in enumerate(found):
            words = (
                fit.lattice.kind.capitalize(),
                f"{math.degrees(fit.rotation_rad):.4g}°",
                str(len(fit)),
                f"{fit.fraction_of_bound:.1%}".replace("%", " %"),
                "",
            )
            for column, text in enumerate(words):
                self.table.setItem(row, column, QTableWidgetItem(text))
        self._show_spares()
        self.table.resizeColumnsToContents()
        for column in range(len(COLUMNS) - 1):
            self.table.setColumnWidth(column, self.table.columnWidth(column) + COLUMN_GAP_PX)
        self.table.resizeRowsToContents()
        self.table.setCurrentCell(0, 0)
        self._show_fit(0)

    def _show_spares(self) -> None:
        for row, fit in enumerate(self.found):
            spare = len(fit) - self.n_asked
            text = f"{spare} sites" if spare >= 0 else f"{-spare} cells too few"
            self.table.item(row, COLUMNS.index("Spare")).setText(text)

    def _show_fit(self, row: int) -> None:
        housing = self.housing
        self.view.show_housing(housing.outline, housing.keep_outs)
        if 0 <= row < len(self.found):
            self.view.show_cells(self.found[row].centres_mm, self._cell.diameter_mm)

    # -- laying out ---------------------------------------------------------------------------------------------

    def start_laying(self) -> None:
        """Lay the module out with the chosen lattice; `accepted` hands it on."""
        row = self.table.currentRow()
        fit = self.found[row] if 0 <= row < len(self.found) else None
        values, cell, housing = dict(self.values), self._cell, self.housing
        self._tell_problem("")
        self.busy.show()
        self.lay.setEnabled(False)
        self._laying.start(lambda hand_over: hand_over(_laid(housing, cell, values, fit)))

    def _fail(self, error: Exception) -> None:
        self.busy.hide()
        self.lay.setEnabled(True)
        if isinstance(error, LayoutError):
            self._tell_problem(str(error))
        else:
            self._tell_problem("This could not be worked out.")
            self.crashed.emit(error)

    def _tell_problem(self, message: str) -> None:
        self.problem.setText(f"<b>Not possible:</b> {message}" if message else "")
        self.problem.setVisible(bool(message))

    def close_work(self) -> None:
        """End the work beside the page."""
        self._fitting.close()
        self._laying.close()


def _arrangements(housing: Housing, cell: Any, gap_mm: float) -> tuple[Any, ...]:
    from layout_app.planning.filling import arrangements

    return arrangements(housing, cell, gap_mm=gap_mm)


def _laid(housing: Housing, cell: Any, values: dict[str, Any], fit: Any) -> Layout:
    """Return the layout on the sites of one arrangement; when it is too small, lay() says what would fit."""
    from layout_app.planning.laying import lay, lay_into

    brief: dict[str, Any] = {
        "n_series": values["n_series"],
        "n_parallel": values["n_parallel"],
        "chain": values["chain"],
        "plates": PlateSettings(material=materials()["copper"]),
        "name": values["name"],
        "design_current_a": values["current_a"],
        "peak_current_a": values["peak_a"],
    }
    if fit is None or len(fit) < values["n_series"] * values["n_parallel"]:
        return lay(housing, cell, gap_mm=values["gap_mm"], **brief)
    empty = Layout(housing=housing, cell_type=cell, lattice=fit.lattice, cells=Cells(np.zeros((0, 2))), **brief)
    return lay_into(empty, [fit])


def _name(housing: Housing) -> str:
    """Return what to call the module at first: after its drawing."""
    stem, ending, _ = housing.source.partition(".dxf")
    return stem.replace("_", " ") if ending else "new module"
