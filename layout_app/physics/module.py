"""Module: cells between segments, every segment known by what it does between its contacts, solved as one network.

A segment's contacts are its lands, in the order of its windows, and after them its terminal if it has one. Both models
of the metal come here: the network of links over the lands, and the sheet eliminated to its contacts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.model.errors import LayoutError
from layout_app.model.joints import JointSettings
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.model.validation import require_number
from layout_app.physics.joints import joint_ohm
from layout_app.physics.network import named, nodal_potentials_v, parts_of
from layout_app.plates.segments import Segment

SHORT_OHM = Limits().cell_fault_ohm
WEAK_FACTOR = 2.0  # an aged cell's resistance over a new one's: common end of life, no source

BALANCE = 1e-6  # what rounding may take from a group's sum of currents, as a share of it

Model = Literal["network", "sheet"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellCondition:
    """How one cell differs from its type: open (or its joint lost), or with another resistance or source voltage."""

    cell: int  # index
    is_open: bool = False
    resistance_ohm: float | None = None
    source_v: float | None = None

    def __post_init__(self) -> None:
        if self.resistance_ohm is not None:
            require_number(f"resistance of cell {self.cell + 1}", self.resistance_ohm, above=1e-9, most=1e9)
        if self.source_v is not None:
            require_number(f"voltage of cell {self.cell + 1}", self.source_v, least=-10, most=10)

    @classmethod
    def opened(cls, cell: int) -> CellCondition:
        """Return a cell that carries nothing: open inside, or its joint lost."""
        return cls(cell=cell, is_open=True)

    @classmethod
    def shorted(cls, cell: int, fault_ohm: float = SHORT_OHM) -> CellCondition:
        """Return a cell shorted inside."""
        return cls(cell=cell, resistance_ohm=fault_ohm, source_v=0.0)

    @classmethod
    def weak(cls, cell: int, layout: Layout, factor: float = WEAK_FACTOR) -> CellCondition:
        """Return a cell of higher resistance."""
        return cls(cell=cell, resistance_ohm=layout.cell_type.resistance_ohm * factor)


@dataclass(frozen=True, slots=True, eq=False)
class Branches:
    """The cells of a layout as branches from a segment's land to another's; only cells in groups.

    Attributes
    ----------
    cells : (b,) int array, which cell (index)
    groups : (b,) int array, its group, from 1
    source_v, cell_ohm : (b,) float arrays; an open cell has an infinite resistance
    joint_ohm : float, of each of a branch's two joints
    """

    cells: IntArray
    groups: IntArray
    source_v: FloatArray
    cell_ohm: FloatArray
    joint_ohm: float

    @property
    def ohm(self) -> FloatArray:
        """(b,): of each branch, joints included."""
        return self.cell_ohm + 2 * self.joint_ohm

    @property
    def is_closed(self) -> BoolArray:
        """(b,): which carry current."""
        return np.isfinite(self.cell_ohm)


@dataclass(frozen=True, slots=True, eq=False)
class Metal:
    """A segment as a network: links between nodes, of which the first are its contacts.

    Attributes
    ----------
    n_nodes : contacts and what lies between them
    start, end : (m,) int arrays, the nodes of each link
    conductance_s : (m,) float array; an eliminated sheet may have small negative ones
    """

    n_nodes: int
    start: IntArray
    end: IntArray
    conductance_s: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """One solution of a module.

    Attributes
    ----------
    current_a : float, discharging positive
    cell_current_a : (n,) float array, one for each cell of the layout, discharging positive; 0 for those in no group
    contact_v : for each segment the potentials of its contacts
    voltage_v : float, between the terminals
    terminal_resistance_ohm : float, of the whole module with its sources at rest
    segment_loss_w : (S+1,) float array
    joint_loss_w, cell_loss_w : float
    """

    current_a: float
    cell_current_a: FloatArray
    contact_v: tuple[FloatArray, ...]
    voltage_v: float
    terminal_resistance_ohm: float
    segment_loss_w: FloatArray
    joint_loss_w: float
    cell_loss_w: float


def branches_of(layout: Layout, joints: JointSettings, conditions: Sequence[CellCondition] = ()) -> Branches:
    """Return the cells as branches.

    Raises
    ------
    LayoutError : a condition for a cell that is not there; a group without a cell that carries current
    """
    n = len(layout.cells)
    source_v, cell_ohm = np.full(n, layout.cell_type.voltage_nominal_v), np.full(n, layout.cell_type.resistance_ohm)
    for condition in conditions:
        if not 0 <= condition.cell < n:
            raise LayoutError(f"There is no cell {condition.cell + 1}; the layout has {n}.")
        if condition.source_v is not None:
            source_v[condition.cell] = condition.source_v
        if condition.resistance_ohm is not None:
            cell_ohm[condition.cell] = condition.resistance_ohm
        if condition.is_open:
            cell_ohm[condition.cell] = math.inf
    groups = layout.cells.groups
    cells = np.flatnonzero(groups > 0)
    closed = np.bincount(groups[np.isfinite(cell_ohm)], minlength=layout.n_series + 1)[1:]
    dead = np.flatnonzero(closed == 0)
    if len(dead):
        state = "no cells" if layout.group_sizes[dead[0]] == 0 else "only open cells"
        raise LayoutError(f"Group {dead[0] + 1} has {state}: no current can flow. Give it a cell that carries some.")
    return Branches(cells, groups[cells], source_v[cells], cell_ohm[cells], joint_ohm(joints))


def solve_module(
    layout: Layout, segments: Sequence[Segment], metals: Sequence[Metal], branches: Branches, current_a: float
) -> Solved:
    """Return what flows when `current_a` is drawn from the module.

    The potentials are those of two cases laid over each other: the sources alone, and the current alone with the
    sources at rest; so the module's resistance comes out by itself, whatever the sources.

    Raises
    ------
    LayoutError : metal in pieces with cells that reach no terminal, naming segment and cells
    """
    first = np.concatenate([[0], np.cumsum([metal.n_nodes for metal in metals])])
    land = _land_nodes(layout, segments, first)
    closed = branches.is_closed
    cells, ohm = branches.cells[closed], branches.ohm[closed]
    minus, plus = land[cells, 0], land[cells, 1]
    start = np.concatenate([*(m.start + f for m, f in zip(metals, first, strict=False)), minus])
    end = np.concatenate([*(m.end + f for m, f in zip(metals, first, strict=False)), plus])
    conductance = np.concatenate([*(m.conductance_s for m in metals), 1 / ohm])
    negative = int(first[0] + len(segments[0].window_cells))
    positive = int(first[-2] + len(segments[-1].window_cells))
    part = parts_of(int(first[-1]), start, end)
    _require_joined(segments, part, first, land[cells], part[negative])
    alive = part == part[negative]
    if not alive[positive]:
        raise LayoutError("No metal leads from one terminal to the other. Join the groups' cells by their segments.")
    # Potentials are kept as what they differ from a stair of one mean source voltage a group: metal drops microvolts
    # beside the cells' volts, and differences of whole potentials would lose those digits
    source = branches.source_v[closed]
    stair = float(source.mean())
    pushed = (source - stair) / ohm
    fed = np.zeros((int(first[-1]), 2))
    fed[:, 0] += np.bincount(plus, weights=pushed, minlength=len(fed))
    fed[:, 0] -= np.bincount(minus, weights=pushed, minlength=len(fed))
    fed[negative, 1], fed[positive, 1] = 1.0, -1.0
    number = np.cumsum(alive) - 1
    link = alive[start] & alive[end]
    both = np.zeros((len(alive), 2))
    both[alive] = nodal_potentials_v(
        int(alive.sum()), number[start[link]], number[end[link]], conductance[link], fed[alive], int(number[negative])
    )
    potential = both[:, 0] + current_a * both[:, 1]
    flow = np.zeros(len(layout.cells))
    flow[cells] = (source - stair - (potential[plus] - potential[minus])) / ohm
    _require_balance(branches.groups[closed], (both[minus, 1] - both[plus, 1]) / ohm)
    loss = (potential[start] - potential[end]) ** 2 * conductance
    n_links = np.array([len(m.start) for m in metals])
    of_metal = np.repeat(np.arange(len(metals)), n_links)
    contacts = tuple(
        potential[f : f + len(s.window_cells) + _has_terminal(k, metals)] + k * stair
        for k, (f, s) in enumerate(zip(first, segments, strict=False))
    )
    return Solved(
        current_a=current_a,
        cell_current_a=flow,
        contact_v=contacts,
        voltage_v=float(potential[positive] - potential[negative]) + layout.n_series * stair,
        terminal_resistance_ohm=float(both[negative, 1] - both[positive, 1]),
        segment_loss_w=np.bincount(of_metal, loss[: len(of_metal)], len(metals)).astype(np.float64),
        joint_loss_w=float((flow**2).sum() * 2 * branches.joint_ohm),
        cell_loss_w=float((flow[cells] ** 2 * branches.cell_ohm[closed]).sum()),
    )


def _require_balance(groups: IntArray, share: FloatArray) -> None:
    """Raise when the shares of one ampere do not sum to one in every group: then the solution has lost its digits."""
    off = np.abs(np.bincount(groups, weights=share)[1:] - 1)
    if not off.max() <= BALANCE:
        raise LayoutError(
            f"The currents of group {int(np.argmax(off)) + 1} cannot be solved: resistances of metal and cells lie too "
            "many powers of ten apart. Check thickness, resistivities and the cells' resistance."
        )


def _has_terminal(number: int, metals: Sequence[Metal]) -> int:
    return 1 if number in (0, len(metals) - 1) else 0


def _land_nodes(layout: Layout, segments: Sequence[Segment], first: IntArray) -> IntArray:
    """Return (n, 2): the nodes of the lands at the negative and positive end of each cell; -1 where it has none."""
    land = np.full((len(layout.cells), 2), -1, dtype=np.int64)
    for segment, offset in zip(segments, first, strict=False):
        land[segment.window_cells, segment.is_positive_end.astype(np.int64)] = offset + np.arange(
            len(segment.window_cells)
        )
    return land


def _require_joined(segments: Sequence[Segment], part: IntArray, first: IntArray, land: IntArray, alive: int) -> None:
    """Raise when lands of cells that carry current hang on metal that leads nowhere."""
    loose = np.unique(land[part[land] != alive])
    if len(loose) == 0:
        return
    k = int(np.searchsorted(first, loose[0], side="right")) - 1
    inside = loose[(loose >= first[k]) & (loose < first[k + 1])] - first[k]
    names = [str(cell + 1) for cell in segments[k].window_cells[inside].tolist()]
    raise LayoutError(
        f"Segment {k}: the metal over {'cells' if len(names) > 1 else 'cell'} {named(names)} leads to no terminal. "
        "Join it to the rest of its segment, or put the cells into other groups."
    )
