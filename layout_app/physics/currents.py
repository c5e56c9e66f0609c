"""Currents: how the cells of a module share its current, what the metal adds and where it runs hot.

`network_currents` is the live answer, from links over the lands; `SheetModel` the thorough one, from meshes of the real
segments. Both end in one solve of `physics.module`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.meshes import Mesh
from layout_app.model.errors import LayoutError
from layout_app.model.joints import JointSettings
from layout_app.model.layouts import Layout
from layout_app.model.validation import require_number
from layout_app.physics.joints import Lands, lands
from layout_app.physics.module import Branches, CellCondition, Metal, Model, Solved, branches_of, solve_module
from layout_app.physics.segment_links import segment_links
from layout_app.physics.segment_sheets import segment_sheet
from layout_app.physics.sheet import Sheet
from layout_app.plates.deriving import Plates
from layout_app.plates.segments import Segment

MOST_AMPERES = 1e6
RATE_FACTOR = 4.0  # halving the size of linear triangles divides their error by this
ERROR_SHARE = 2 / 3  # of the difference of two meshes: bounds what is left even where singular places slow that down
AWAY_MM = 2.0  # from a contact's edge: further off the density is the plate's, nearer it is the contact's
NO_LINK = 1e-13  # of the largest conductance: between contacts no metal joins, where elimination leaves rounding

Progress = Callable[[float], None]


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
        self._known: dict[Segment, Metal] = dict(previous._made) if lend and previous is not None else {}
        self._made: dict[Segment, Metal] = {}

    @cached_property
    def metals(self) -> tuple[Metal, ...]:
        """Each segment's links."""
        _require_metal(self.plates)
        for segment in self.plates.segments:
            known = self._known.get(segment)
            self._made[segment] = self._links(segment) if known is None else known
        self._known = {}
        return tuple(self._made[segment] for segment in self.plates.segments)

    def _links(self, segment: Segment) -> Metal:
        where = lands(segment, self.joints, self.plates.layout.lattice.angle_rad)
        return segment_links(segment, where, self.plates.tab(segment.number, segment.window_cells))

    def solve(self, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> Currents:
        """Return the currents; see `network_currents`."""
        layout = self.plates.layout
        current = current_of(layout, current_a)
        branches = branches_of(layout, self.joints, conditions)
        solved = solve_module(layout, self.plates.segments, self.metals, branches, current)
        return _told("network", solved, branches, {})


@dataclass(frozen=True, slots=True, eq=False)
class SegmentField:
    """What flows in one segment's sheet.

    Attributes
    ----------
    mesh : the finer mesh
    potential_v : (n,) float array, of each mesh point; NaN on metal no contact reaches
    density_a_mm2 : (t, 2) float array, in each triangle
    loss_w_mm2 : (t,) float array, per area of sheet
    peak_a_mm2 : float, largest density further than two millimetres from every foot and from the terminal's edge
    peak_mm : (x, y) of it
    foot_a_mm2 : float, largest mean density over the edge of a land's feet; in the sheet's corner there the theory has
        no bound, so no peak is stated
    """

    mesh: Mesh
    potential_v: FloatArray
    density_a_mm2: FloatArray
    loss_w_mm2: FloatArray
    peak_a_mm2: float
    peak_mm: tuple[float, float]
    foot_a_mm2: float


class SheetModel:
    """The sheets of all segments of a layout, each known by its conductances between contacts on two meshes.

    Making them is the work; solving for another current or other cells afterwards takes a moment.

    Parameters
    ----------
    progress : called with the share done after every segment; what it raises ends the work and comes through
    """

    def __init__(self, plates: Plates, joints: JointSettings | None = None, progress: Progress | None = None) -> None:
        self.plates = plates
        self.joints = plates.layout.joints if joints is None else joints
        _require_metal(plates)
        self.lands: list[Lands] = []
        self.sheets: list[Sheet] = []  # coarse: refined again where a field is wanted, which takes a tenth of a second
        self._metals: tuple[list[Metal], list[Metal]] = ([], [])
        for k, segment in enumerate(plates.segments):
            where, sheet, *metals = self._known_segment(segment)
            self.lands.append(where)
            self.sheets.append(sheet)
            for each, metal in zip(self._metals, metals, strict=True):
                each.append(metal)
            if progress is not None:
                progress((k + 1) / len(plates.segments))

    def _known_segment(self, segment: Segment) -> tuple[Lands, Sheet, Metal, Metal]:
        """Return a segment's lands, its coarse sheet, and its conductances on the coarse and the fine mesh."""
        layout = self.plates.layout
        where = lands(segment, self.joints, layout.lattice.angle_rad)
        tab = self.plates.tab(segment.number, segment.window_cells)
        coarse = segment_sheet(segment, where, tab, layout.lattice.pitch_mm)
        metals = [_dense(sheet.contact_conductance_s()) for sheet in (coarse, coarse.refined())]
        return where, coarse.anew(), metals[0], metals[1]

    def solve(self, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> Currents:
        """Return the currents, extrapolated from both meshes, with an estimate of their error.

        Raises
        ------
        LayoutError : as `network_currents`
        """
        layout = self.plates.layout
        current = current_of(layout, current_a)
        branches = branches_of(layout, self.joints, conditions)
        both = [solve_module(layout, self.plates.segments, metals, branches, current) for metals in self._metals]
        coarse, fine = (_told("sheet", solved, branches, {}) for solved in both)
        errors = {
            "cell_current_a": float(np.abs(coarse.solved.cell_current_a - fine.solved.cell_current_a).max()),
            "imbalance": abs(coarse.imbalance - fine.imbalance),
            "terminal_resistance_ohm": abs(both[0].terminal_resistance_ohm - both[1].terminal_resistance_ohm),
            "segment_loss_w": float(np.abs(both[0].segment_loss_w - both[1].segment_loss_w).max()),
        }
        errors = {name: error * ERROR_SHARE for name, error in errors.items()}
        return _told("sheet", _extrapolated(*both), branches, errors)

    def field(self, number: int, found: Currents) -> SegmentField:
        """Return what flows in the sheet of segment `number` at the currents found."""
        segment, sheet = self.plates.segments[number], self.sheets[number].refined()
        potential = sheet.potentials_v(found.solved.contact_v[number])
        density = sheet.densities_a_mm2(potential, segment.thickness_mm)
        middle = sheet.mesh.points_mm[sheet.mesh.triangles].mean(axis=1)
        size = np.nan_to_num(np.hypot(*density.T))
        away = np.where(_near(middle, sheet.mesh.points_mm[sheet.contact_of_points >= 0], AWAY_MM), 0.0, size)
        peak = int(away.argmax())
        flow = np.abs(found.solved.cell_current_a[segment.window_cells])
        round_feet = np.array([feet.length for feet in self.lands[number].feet])
        return SegmentField(
            mesh=sheet.mesh,
            potential_v=potential,
            density_a_mm2=density,
            loss_w_mm2=sheet.losses_w_mm2(potential),
            peak_a_mm2=float(away[peak]),
            peak_mm=(float(middle[peak, 0]), float(middle[peak, 1])),
            foot_a_mm2=float((flow / (round_feet * segment.thickness_mm)).max(initial=0.0)),
        )


def _near(points: PointArray, centres: PointArray, reach_mm: float) -> Any:
    from scipy.spatial import cKDTree

    return np.isfinite(cKDTree(centres).query(points, distance_upper_bound=reach_mm)[0])


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


def _told(model: Model, solved: Solved, branches: Branches, errors: dict[str, float]) -> Currents:
    groups: IntArray = branches.groups - 1
    n_groups = int(groups.max()) + 1
    cells_ohm = 1 / np.bincount(groups, weights=1 / branches.cell_ohm, minlength=n_groups)
    flow = solved.cell_current_a[branches.cells]
    mean = np.bincount(groups, weights=flow, minlength=n_groups) / np.bincount(groups, minlength=n_groups)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(mean[groups] != 0, flow / mean[groups], 1.0)
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
