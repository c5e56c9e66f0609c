"""BriefPage: what the module shall be; while it is typed, a ranked list shows what would do."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from PySide6.QtCore import QCoreApplication, Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QScrollArea, QVBoxLayout, QWidget

from layout_app.model.catalogues import cell_types, materials
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.plates import PlateSettings
from layout_app.planning.proposals import Lack, Proposal, Target, proposals
from layout_app.window import brief_fields, brief_work
from layout_app.window.background import Background
from layout_app.window.colours import theme_of
from layout_app.window.housing_view import HousingView
from layout_app.window.panels.fields import stops_at_wrong
from layout_app.window.panels.sections import Section
from layout_app.window.proposal_table import PICTURE, ProposalTable
from layout_app.window.thumbnails import thumbnail

translate = QCoreApplication.translate

WISHES = ("n_series", "lowest_v", "highest_v", "n_parallel", "energy_wh", "energy_wh_l", "current_a", "peak_a", "chain")
FITTING = {"gap_mm", "wall_mm", "keep_out_mm", "cell"}  # these change what fits
FIRST_CELL = "21700-energy"
MOST_GROUPED = 2000  # cells: of larger modules only the chosen proposal gets its groups, which take a second
MOST_KEPT = 100  # layouts remembered while somebody types to and fro
Key = tuple[int, int, int, str]


class BriefPage(QWidget):
    """Fields, a picture of the chosen proposal, the ranked list, and a button that opens it.

    `typed` holds values, by field, of when the page was left before.
    """

    accepted = Signal(object)  # a Layout
    left = Signal()
    crashed = Signal(object)

    def __init__(self, housing: Housing, typed: Mapping[str, Any] | None = None) -> None:
        super().__init__()
        self._housing = housing
        self._cell_types = cell_types()
        first = FIRST_CELL if FIRST_CELL in self._cell_types else next(iter(self._cell_types))
        self.values: dict[str, Any] = {name: row[2] for name, row in brief_fields.NUMBERS.items()}
        self.values |= {"cell": first, "chain": None, "name": _name(housing)} | dict(typed or {})
        self.found: tuple[Any, ...] = ()  # the arrangements the proposals use
        self._known: OrderedDict[Key, tuple[Any, Layout, tuple[Lack, ...]]] = OrderedDict()
        self._pictures: dict[tuple[int, bool, float], QPixmap] = {}  # of the layouts known
        self._fitting, self._grouping, self._laying = Background(self), Background(self), Background(self)
        self.view, self.sums, self.problem = HousingView(), QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.fields = brief_fields.make(self._cell_types, self._setter)
        self.table = ProposalTable()
        self.busy = QProgressBar(maximum=0, textVisible=False, maximumHeight=8, visible=False)
        self.lay, self.back = (
            QPushButton(translate("brief", "Open"), default=True),
            QPushButton(translate("brief", "Back")),
        )
        self._lay_out()
        self._connect()
        self._show()
        self._fit()

    # -- building -----------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        inside = QWidget()
        fields = QVBoxLayout(inside)
        fields.setContentsMargins(0, 0, 8, 0)
        f = self.fields
        fields.addWidget(Section(translate("brief", "Module"), [f["name"], f["cell"], f["chain"]]))
        fields.addWidget(Section(translate("brief", "Voltage"), [f["n_series"], f["lowest_v"], f["highest_v"]]))
        fields.addWidget(Section(translate("brief", "Size"), [f["n_parallel"], f["energy_wh"], f["energy_wh_l"]]))
        fields.addWidget(Section(translate("brief", "Currents"), [f["current_a"], f["peak_a"]]))
        fields.addWidget(Section(translate("brief", "Clearances"), [f["gap_mm"], f["wall_mm"], f["keep_out_mm"]]))
        fields.addStretch(1)
        scroll = QScrollArea(widgetResizable=True, frameShape=QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inside)
        scroll.setMinimumWidth(inside.minimumSizeHint().width() + scroll.verticalScrollBar().sizeHint().width())
        buttons = QHBoxLayout()
        buttons.addWidget(self.back)
        buttons.addStretch(1)
        buttons.addWidget(self.lay)
        side = QVBoxLayout()
        side.addWidget(QLabel(translate("brief", "<b style='font-size:large'>Brief</b>")))
        side.addWidget(scroll, 1)
        for part in (self.sums, self.problem, self.busy):
            side.addWidget(part)
        side.addLayout(buttons)
        middle = QVBoxLayout()
        middle.addWidget(self.view, 4)
        middle.addWidget(self.table, 3)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 16, 16, 16)
        row.setSpacing(16)
        row.addLayout(middle, 8)
        row.addLayout(side, 3)

    def _connect(self) -> None:
        self._fitting.delivered.connect(lambda _, found: self._take_fits(found))
        self._fitting.failed.connect(lambda _, error: self._fail(error))
        self._grouping.delivered.connect(lambda _, known: self._take_groups(*known))
        self._grouping.failed.connect(lambda _, error: self._fail(error))
        self._laying.delivered.connect(lambda _, layout: self.accepted.emit(layout))
        self._laying.failed.connect(lambda _, error: self._fail(error))
        self.table.currentCellChanged.connect(lambda row, _, before, __: row == before or self._show_chosen())
        self.table.doubleClicked.connect(lambda _: self.start_laying())
        self.lay.clicked.connect(self.start_laying)
        self.back.clicked.connect(self.left)

    # -- values -------------------------------------------------------------------------------------------------

    def _setter(self, name: str) -> Callable[[Any, Callable[[str], None]], None]:
        def set_value(value: Any, refuse: Callable[[str], None]) -> None:
            try:
                brief_fields.require(name, value)
            except LayoutError as error:
                refuse(str(error))
                return
            self.values[name] = value
            self._show()
            if name in FITTING:
                self._fit()
            elif name in WISHES:
                self._propose()

        return set_value

    @property
    def housing(self) -> Housing:
        """The housing with the clearances of the brief."""
        wall_mm, keep_out_mm = self.values["wall_mm"], self.values["keep_out_mm"]
        return replace(self._housing, wall_clearance_mm=wall_mm, keep_out_clearance_mm=keep_out_mm)

    @property
    def target(self) -> Target:
        """What is asked for."""
        return Target(**{name: self.values[name] for name in WISHES})

    @property
    def _cell(self) -> Any:
        return self._cell_types[self.values["cell"]]

    def brief(self) -> Layout:
        """Return a layout without cells that holds everything but the proposal."""
        values = self.values
        return Layout(
            name=values["name"], housing=self.housing, cell_type=self._cell, cells=Cells(np.zeros((0, 2))),
            lattice=Lattice.hexagonal(self._cell.diameter_mm), n_series=1, n_parallel=1,
            plates=PlateSettings(material=materials()["copper"]), design_current_a=values["current_a"],
            peak_current_a=values["peak_a"],
        )  # fmt: skip

    def _show(self) -> None:
        for name, field in self.fields.items():
            field.show_value(self.values[name])

    # -- what fits, and what would do ---------------------------------------------------------------------------

    def _fit(self) -> None:
        housing, cell, gap_mm = self.housing, self._cell, self.values["gap_mm"]
        self.tell_problem("")
        self.busy.show()
        self.lay.setEnabled(False)
        self._fitting.start(lambda hand_over: hand_over(brief_work.fillings(housing, cell, gap_mm)))

    def _take_fits(self, found: tuple[Any, ...]) -> None:
        self.busy.hide()
        self.found = found
        self._known.clear()
        self._pictures.clear()
        self._propose()

    def _propose(self) -> None:
        """Rank what would do: a matter of counting, done with every key."""
        if not self.found:
            return
        try:
            ranked = proposals(self.housing, self._cell, self.target, self.found)
        except LayoutError as error:
            self.table.show_proposals(())
            self._show_chosen()
            self.tell_problem(str(error))
            return
        self.tell_problem("")
        self.table.show_proposals(ranked)
        for row, proposal in enumerate(ranked):
            known = self._known.get(_key(proposal))
            if known is not None:
                self._show_row(row, *known)
        self._show_chosen()

    def _show_chosen(self) -> None:
        """Show the chosen proposal large, with its groups as soon as they are formed."""
        housing, proposal = self.housing, self.table.chosen
        self.view.show_housing(housing.outline, housing.keep_outs)
        self.lay.setEnabled(proposal is not None)
        self.lay.setText(
            translate("brief", "Open {n_series} × {n_parallel}").format(
                n_series=proposal.n_series, n_parallel=proposal.n_parallel
            )
            if proposal
            else translate("brief", "Open")
        )
        self.sums.setText(brief_work.sums(proposal) if proposal else "")
        if proposal is None:
            self._grouping.cancel()
            return
        known = self._known.get(_key(proposal))
        self.view.show_cells(proposal.arrangement.centres_mm, proposal.cell_type.diameter_mm)
        if known is not None:
            self.view.show_groups(known[1])
        self._group()

    def _group(self) -> None:
        """Form the groups of what is not pictured yet, beside the window, the chosen proposal first."""
        chosen = self.table.chosen
        small = [p for p in self.table.shown if p is not chosen and p.n_cells <= MOST_GROUPED]
        wanted = [p for p in (chosen, *small) if p.n_spare >= 0 and _key(p) not in self._known]
        brief = self.brief()
        if wanted:
            self._grouping.start(lambda hand_over: brief_work.group(brief, wanted, hand_over), drops_running=False)

    def _take_groups(self, proposal: Proposal, layout: Layout, lacks: tuple[Lack, ...]) -> None:
        if not any(proposal.arrangement is choice for choice in self.found):
            return  # of before another cell or gap was chosen
        key = _key(proposal)
        self._known[key] = (proposal.arrangement, layout, lacks)
        while len(self._known) > MOST_KEPT:
            self._known.popitem(last=False)
            self._pictures.clear()
        for row, shown in enumerate(self.table.shown):
            if _key(shown) == key:
                self._show_row(row, *self._known[key])
                if shown is self.table.chosen:
                    self.view.show_groups(layout)

    def _show_row(self, row: int, _arrangement: Any, layout: Layout, lacks: tuple[Lack, ...]) -> None:
        theme, ratio = theme_of(self.palette()), self.devicePixelRatioF()
        look = (id(layout), theme.is_dark, ratio)
        if look not in self._pictures:
            size = PICTURE.width(), PICTURE.height()
            self._pictures[look] = thumbnail(layout, (), theme, *size, ratio, margin=2)
        self.table.show_picture(row, self._pictures[look])
        self.table.tell_lacks(row, self.table.shown[row].lacks + lacks)

    # -- opening ------------------------------------------------------------------------------------------------

    def start_laying(self) -> None:
        """Open the chosen proposal; `accepted` hands it on."""
        proposal, brief, gap_mm = self.table.chosen, self.brief(), self.values["gap_mm"]
        if stops_at_wrong(self.fields.values()) or proposal is None or not self.lay.isEnabled():
            return
        known = self._known.get(_key(proposal))
        self.tell_problem("")
        self.busy.show()
        self.lay.setEnabled(False)
        self._grouping.cancel()
        self._laying.start(lambda hand_over: hand_over(brief_work.laid(brief, proposal, gap_mm, known and known[1])))

    def _fail(self, error: Exception) -> None:
        self.busy.hide()
        self.lay.setEnabled(self.table.chosen is not None)
        if isinstance(error, LayoutError):
            self.tell_problem(str(error))
        else:
            self.tell_problem(translate("brief", "This could not be worked out."))
            self.crashed.emit(error)

    def tell_problem(self, message: str) -> None:
        """Say over the buttons what is not possible; nothing when all is well."""
        self.problem.setText(
            translate("brief", "<b>Not possible:</b> {message}").format(message=message) if message else ""
        )
        self.problem.setVisible(bool(message))

    def close_work(self) -> None:
        """End the work beside the page."""
        for work in (self._fitting, self._grouping, self._laying):
            work.close()


def _key(proposal: Proposal) -> Key:
    """What the cells and groups depend on; the arrangement is kept beside, so that its id stays its own."""
    return id(proposal.arrangement), proposal.n_series, proposal.n_parallel, proposal.chain


def _name(housing: Housing) -> str:
    """Return what to call the module at first: after its drawing."""
    stem, ending, _ = housing.source.partition(".dxf")
    return stem.replace("_", " ") if ending else translate("brief", "new module")
