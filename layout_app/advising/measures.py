"""Measures: what a layout's currents amount to, in the few numbers that two layouts are set side by side by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from layout_app.advising.trials import Trial
    from layout_app.physics.currents import Currents
    from layout_app.physics.module import CellCondition


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What flows and what it costs, at one module current.

    Attributes
    ----------
    imbalance, least_share : largest and least cell current over the mean of its group; the least of the cells that
        carry current at all
    interconnect_share : what joints and metal add, of the resistance at the terminals
    cell_loss_w, joint_loss_w, segment_loss_w : of all cells, joints, segments
    metal_mass_g : of all segments
    hottest_joint_cell : the cell (index) whose joint carries most
    """

    current_a: float
    imbalance: float
    least_share: float
    terminal_resistance_ohm: float
    interconnect_resistance_ohm: float
    interconnect_share: float
    cell_loss_w: float
    joint_loss_w: float
    segment_loss_w: float
    metal_mass_g: float
    hottest_joint_cell: int
    hottest_joint_a: float
    hottest_joint_w: float

    @property
    def interconnect_loss_w(self) -> float:
        """Loss of joints and segments, W."""
        return self.joint_loss_w + self.segment_loss_w

    def as_json(self) -> dict[str, Any]:
        """Return the object other programs read; the cell by number, counted from 1."""
        return asdict(self) | {"hottest_joint_cell": self.hottest_joint_cell + 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One measure as a person reads it: the field, its name, the unit it is shown in and how many make one."""

    field: str
    label: str
    unit: str = ""
    per_unit: float = 1.0

    def shown(self, measures: Measures) -> float:
        """Return the value in the row's unit; a cell by number."""
        value = float(getattr(measures, self.field))
        return value + 1 if self.field == "hottest_joint_cell" else value * self.per_unit


ROWS = (
    Row(field="imbalance", label="Largest cell current over its group's mean"),
    Row(field="least_share", label="Least cell current over its group's mean"),
    Row(field="terminal_resistance_ohm", label="Resistance at the terminals", unit="mΩ", per_unit=1e3),
    Row(field="interconnect_resistance_ohm", label="Added by joints and metal", unit="mΩ", per_unit=1e3),
    Row(field="interconnect_share", label="Share of joints and metal", unit="%", per_unit=1e2),
    Row(field="cell_loss_w", label="Loss in cells", unit="W"),
    Row(field="joint_loss_w", label="Loss in joints", unit="W"),
    Row(field="segment_loss_w", label="Loss in segments", unit="W"),
    Row(field="metal_mass_g", label="Mass of the metal", unit="g"),
    Row(field="hottest_joint_cell", label="Hottest joint, at cell"),
    Row(field="hottest_joint_a", label="Current in it", unit="A"),
    Row(field="hottest_joint_w", label="Loss in it", unit="W"),
)


def measures(trial: Trial, found: Currents, conditions: Sequence[CellCondition] = ()) -> Measures:
    """Return what the currents of a trial amount to; `conditions` are those its cells were in."""
    from layout_app.physics.current_figures import share_of_mean
    from layout_app.physics.joints import joint_ohm

    solved, layout = found.solved, trial.layout
    flow = np.abs(solved.cell_current_a)
    share = share_of_mean(layout, solved.cell_current_a)
    carries = layout.cells.groups > 0
    carries[[condition.cell for condition in conditions if condition.is_open]] = False
    hottest = int(flow.argmax())
    return Measures(
        current_a=solved.current_a,
        imbalance=found.imbalance,
        least_share=float(share[carries].min()),
        terminal_resistance_ohm=solved.terminal_resistance_ohm,
        interconnect_resistance_ohm=found.interconnect_resistance_ohm,
        interconnect_share=found.interconnect_resistance_ohm / solved.terminal_resistance_ohm,
        cell_loss_w=solved.cell_loss_w,
        joint_loss_w=solved.joint_loss_w,
        segment_loss_w=float(solved.segment_loss_w.sum()),
        metal_mass_g=trial.metal_mass_g,
        hottest_joint_cell=hottest,
        hottest_joint_a=float(flow[hottest]),
        hottest_joint_w=float(flow[hottest] ** 2 * joint_ohm(layout.joints)),
    )


def differences(base: Measures, other: Measures) -> dict[str, float]:
    """Return how much more each measure is than the base's, by field; the hottest joint's cell is none."""
    names = [field.name for field in fields(Measures) if field.name != "hottest_joint_cell"]
    return {name: getattr(other, name) - getattr(base, name) for name in names}
