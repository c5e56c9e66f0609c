"""Currents: how the cells of a module share its current, what the metal adds and where it runs hot.

`network_currents` is the live answer, from links over the lands; `SheetModel` the thorough one, from meshes of the real
segments. Both end in one solve of `physics.module`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.model.errors import LayoutError
from layout_app.model.joints import JointSettings
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.validation import require_number
from layout_app.physics.joints import Lands, lands
from layout_app.physics.module import Branches, CellCondition, Metal, Model, Solved, branches_of, solve_module
from layout_app.physics.segment_fields import SegmentField, segment_field
from layout_app.physics.segment_links import segment_links
from layout_app.physics.segment_sheets import segment_sheet
from layout_app.physics.sheet import Sheet
from layout_app.physics.side_by_side import Progress, Step, side_by_side
from layout_app.plates.deriving import Plates
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

MOST_AMPERES = 1e6
RATE_FACTOR = 4.0  # halving the size of linear triangles divides their error by this
ERROR_SHARE = 2 / 3  # of the difference of two meshes: bounds what is left even where singular places slow that down
NO_LINK = 1e-13  # of the largest conductance: between contacts no metal joins, where elimination leaves rounding
MESH_SHARE, COARSE_SHARE = 0.5, 0.1  # of the work on a segment; the rest is its fine mesh


@dataclass(frozen=True, slots=True, eq=False)
class Currents:
    """What flows in a module at a given current, discharging positive.

    Attributes
    ----------
    model : "network" or "sheet"
    solved : currents, potentials and losses
    imbalance : the largest ratio of a cell's current to the mean of its group
    interconnect_resistance_ohm : what joints and metal add to the cells' own resistance between the terminals
    errors : of the sheet model, estimated from two meshes: "cell_current_a" (largest), "imbalance",
        "terminal_resistance_ohm", "segment_loss_w" (largest); empty for the network
    """

    model: Model
    solved: Solved
    imbalance: float
    interconnect_resistance_ohm: float
    errors: dict[str, float]

    def as_json(self) -> dict[str, Any]:
        """Return the result with the keys other tools rely on."""
        solved = self.solved
        return {
            "model": self.model,
            "current_a": solved.current_a,
            "cell_current_a": solved.cell_current_a.tolist(),
            "imbalance": self.imbalance,
            "terminal_voltage_v": solved.voltage_v,
            "terminal_resistance_ohm": solved.terminal_resistance_ohm,
            "interconnect_resistance_ohm": self.interconnect_resistance_ohm,
            "segment_loss_w": solved.segment_loss_w.tolist(),
            "joint_loss_w": solved.joint_loss_w,
            "cell_loss_w": solved.cell_loss_w,
            "error": self.errors,
        }


def default_current_a(layout: Layout) -> float:
    """Return the current to look at when none is given: the design current, or what the cells are rated for."""
    rated = float(layout.group_sizes.min()) * layout.cell_type.continuous_current_a
    return layout.design_current_a or rated


def network_currents(
    plates: Plates,
    current_a: float | None = None,
    *,
    joints: JointSettings | None = None,
    conditions: Sequence[CellCondition] = (),
) -> Currents:
    """Return the currents of a layout by the network over its lands.

    Raises
    ------
    LayoutError : segments without metal, groups or metal that lead nowhere, a current that is no number
    """
    return NetworkModel(plates, joints).solve(current_a, conditions)


class NetworkModel:
    """The links of all segments of a layout, made once, solved for any current and any condition of its cells.

    `previous` lends the links of every segment that is the same object in both layouts.
    """

    def __init__(
        self, plates: Plates, joints: JointSettings | None = None, previous: NetworkModel | None = None
    ) -> None:
        self.plates = plates
        self.joints = plates.layout.joints if joints is None else joints
        lend = previous is not None and previous.joints == self.joints
        self._known: dict[Segment, Metal] = previous._known | previous._made if lend and previous is not None else {}
        self._made: dict[Segment, Metal] = {}
        self.progress: Progress | None = None  # called with the share of links made; what it raises ends the work

    @cached_property
    def metals(self) -> tuple[Metal, ...]:
        """Each segment's links."""
        _require_metal(self.plates)
        for segment in self.plates.segments:
            known = self._known.get(segment)
            self._made[segment] = self._links(segment) if known is None else known
            if self.progress is not None:
                self.progress(len(self._made) / len(self.plates.segments))
        self._known = {}
        return tuple(self._made[segment] for segment in self.plates.segments)

    def _links(self, segment: Segment) -> Metal:
        where = lands(segment, self.joints, self.plates.layout.lattice.angle_rad)
        try:
            return segment_links(segment, where, self.plates.tabs(segment.number, segment.window_cells))
        except np.linalg.LinAlgError as error:  # metal in shreds, which the checks tell of piece by piece
            raise LayoutError(
                f"Segment {segment.number}: its metal is too thin between windows to be solved. Make windows smaller, "
                "or the least web wider."
            ) from error

    def solve(self, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> Currents:
        """Return the currents; see `network_currents`."""
        layout = self.plates.layout
        current = current_of(layout, current_a)
        branches = branches_of(layout, self.joints, conditions)
        solved = solve_module(layout, self.plates.segments, self.metals, branches, current)
        return told("network", solved, branches, {})


@dataclass(frozen=True, slots=True, eq=False)
class KnownSegment:
    """What the sheet model knows of one segment.

    Attributes
    ----------
    lands : its first contacts, one for each window
    tabs : whose ends are its last contact, if it has any
    sheet : the coarse mesh; refined again where a field is wanted, which takes a tenth of a second
    coarse, fine : the conductances between its contacts, on either mesh
    """

    lands: Lands
    tabs: tuple[Tab, ...]
    sheet: Sheet
    coarse: Metal
    fine: Metal


class SheetModel:
    """The sheets of all segments of a layout, each known by its conductances between contacts on two meshes.

    Making them is the work; solving for another current or other cells afterwards takes a moment.

    Parameters
    ----------
    progress : called in the caller's thread with the share done, several times a second; what it raises ends the work
        and comes through
    previous : lends what it knows of every segment that is the same object in both layouts
    """

    def __init__(
        self,
        plates: Plates,
        joints: JointSettings | None = None,
        progress: Progress | None = None,
        previous: SheetModel | None = None,
    ) -> None:
        self.plates = plates
        self.joints = plates.layout.joints if joints is None else joints
        _require_metal(plates)
        lent = {} if previous is None or previous._basis != self._basis else previous.known
        tabs = {segment: plates.tabs(segment.number, segment.window_cells) for segment in plates.segments}
        new = [s for s in plates.segments if s not in lent or lent[s].tabs != tabs[s]]
        made = side_by_side(
            lambda segment, step: self._made(segment, tabs[segment], step),
            new,
            [len(segment.window_cells) for segment in new],
            progress,
        )
        self.known: dict[Segment, KnownSegment] = {s: lent[s] for s in plates.segments if s in lent}
        self.known.update(zip(new, made, strict=True))

    @property
    def _basis(self) -> tuple[JointSettings, Lattice]:
        """What the contacts of a segment follow from, besides the segment and its tab."""
        return self.joints, self.plates.layout.lattice

    def _made(self, segment: Segment, tabs: tuple[Tab, ...], step: Step) -> KnownSegment:
        lattice = self.plates.layout.lattice
        where = lands(segment, self.joints, lattice.angle_rad)
        coarse = segment_sheet(segment, where, tabs, lattice.pitch_mm)
        step(MESH_SHARE)
        metals = []
        for sheet, share in ((coarse, COARSE_SHARE), (coarse.refined(), 1 - MESH_SHARE - COARSE_SHARE)):
            metals.append(_dense(sheet.contact_conductance_s()))
            step(share)
        return KnownSegment(where, tabs, coarse.anew(), metals[0], metals[1])

    def solve(self, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> Currents:
        """Return the currents, extrapolated from both meshes, with an estimate of their error.

        Raises
        ------
        LayoutError : as `network_currents`
        """
        layout = self.plates.layout
        current = current_of(layout, current_a)
        branches = branches_of(layout, self.joints, conditions)
        segments = self.plates.segments
        known = [self.known[segment] for segment in segments]
        metals = [k.coarse for k in known], [k.fine for k in known]
        both = [solve_module(layout, segments, each, branches, current) for each in metals]
        coarse, fine = (told("sheet", solved, branches, {}) for solved in both)
        errors = {
            "cell_current_a": float(np.abs(coarse.solved.cell_current_a - fine.solved.cell_current_a).max()),
            "imbalance": abs(coarse.imbalance - fine.imbalance),
            "terminal_resistance_ohm": abs(both[0].terminal_resistance_ohm - both[1].terminal_resistance_ohm),
            "segment_loss_w": float(np.abs(both[0].segment_loss_w - both[1].segment_loss_w).max()),
        }
        errors = {name: error * ERROR_SHARE for name, error in errors.items()}
        return told("sheet", _extrapolated(*both), branches, errors)

    def field(self, number: int, found: Currents) -> SegmentField:
        """Return what flows in the sheet of segment `number` at the currents found."""
        return self._field(self.plates.segments[number], found)

    def fields(self, found: Currents, progress: Progress | None = None) -> tuple[SegmentField, ...]:
        """Return what flows in the sheets of all segments, as `field`; `progress` as for the model."""

        def work(segment: Segment, step: Step) -> SegmentField:
            field = self._field(segment, found)
            step(1.0)
            return field

        segments = self.plates.segments
        return tuple(side_by_side(work, segments, [len(s.window_cells) for s in segments], progress))

    def _field(self, segment: Segment, found: Currents) -> SegmentField:
        known, solved = self.known[segment], found.solved
        land_a = solved.cell_current_a[segment.window_cells]
        return segment_field(
            known.sheet, known.lands.feet, segment.thickness_mm, solved.contact_v[segment.number], land_a
        )


def _dense(conductance_s: FloatArray) -> Metal:
    """Return a conductance matrix between contacts as links."""
    start, end = np.triu_indices(len(conductance_s), k=1)
    links = -conductance_s[start, end]
    real = np.abs(links) > NO_LINK * np.abs(conductance_s).max(initial=0.0)
    return Metal(len(conductance_s), start[real].astype(np.int64), end[real].astype(np.int64), links[real])


def _extrapolated(coarse: Solved, fine: Solved) -> Solved:
    """Return what the two meshes tell of one of no size: Richardson's extrapolation."""

    def beyond(one: Any, other: Any) -> Any:
        return other + (other - one) / (RATE_FACTOR - 1)

    return Solved(
        current_a=fine.current_a,
        cell_current_a=beyond(coarse.cell_current_a, fine.cell_current_a),
        contact_v=fine.contact_v,
        voltage_v=beyond(coarse.voltage_v, fine.voltage_v),
        terminal_resistance_ohm=beyond(coarse.terminal_resistance_ohm, fine.terminal_resistance_ohm),
        segment_loss_w=beyond(coarse.segment_loss_w, fine.segment_loss_w),
        joint_loss_w=beyond(coarse.joint_loss_w, fine.joint_loss_w),
        cell_loss_w=beyond(coarse.cell_loss_w, fine.cell_loss_w),
    )


def told(model: Model, solved: Solved, branches: Branches, errors: dict[str, float]) -> Currents:
    """Return a solution of the given branches as currents, with what sharing and interconnect amount to."""
    groups: IntArray = branches.groups - 1
    cells_ohm = 1 / np.bincount(groups, weights=1 / branches.cell_ohm)
    flow, sizes = solved.cell_current_a[branches.cells], np.bincount(groups)
    # the currents of a group sum to the module's; without one, what rounding leaves has no mean to speak of
    share = flow * sizes[groups] / solved.current_a if solved.current_a else np.ones(len(flow))
    return Currents(
        model=model,
        solved=solved,
        imbalance=float(share.max()),
        interconnect_resistance_ohm=float(solved.terminal_resistance_ohm - cells_ohm.sum()),
        errors=errors,
    )


def current_of(layout: Layout, current_a: float | None) -> float:
    """Return the current asked for, or the default; raise when it is no sensible number."""
    current = default_current_a(layout) if current_a is None else current_a
    require_number("current", current, least=-MOST_AMPERES, most=MOST_AMPERES)
    return current


def _require_metal(plates: Plates) -> None:
    layout = plates.layout
    if not layout.cell_type.has_opposite_contacts:
        raise LayoutError(
            f"Currents need metal, and none is derived yet for cells contacted at one end, as {layout.cell_type.id}."
        )
    bare = [segment.number for segment in plates.segments if not segment.pieces]
    if bare:
        raise LayoutError(f"Segment {bare[0]} has no metal: no cell of its groups is under it. Give its groups cells.")
