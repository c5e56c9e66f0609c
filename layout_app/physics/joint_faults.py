"""Joint faults: the scenarios of `faults` for the joints of one layout, from what its cells carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.model.layouts import Layout
from layout_app.physics.bonds import Fuse, SheetNeck, joint_fuse, sheet_metal
from layout_app.physics.currents import Currents
from layout_app.physics.fault_results import (
    FuseChart,
    LoadMargins,
    LostBonds,
    PathPart,
    ShortedCell,
    ShortedTerminals,
)
from layout_app.physics.faults import fuse_chart, load_margins, lost_bonds, shorted_cell, shorted_terminals
from layout_app.physics.fuses import opening_current_a
from layout_app.physics.joints import joint_ohm
from layout_app.physics.min_cuts import Cut

N_LOST = 2  # bonds lost in one group: what a module is expected to stand, common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class JointFaults:
    """What the joints of a layout do under load and in every fault looked at.

    Attributes
    ----------
    fuse : one joint as a fuse; of several sheets that tongues are cut from, the one that opens first
    group : the smallest group, where faults weigh most
    hottest_cell : index of the cell that carries most
    load : of that cell's joint; None when the module has no current to carry
    short, lost : a cell of `group` shorted inside; two of its cells cut off
    terminals : the module's terminals shorted
    """

    fuse: Fuse
    group: int
    hottest_cell: int
    load: LoadMargins | None
    short: ShortedCell
    terminals: ShortedTerminals
    lost: LostBonds | None

    def chart(self, share: float) -> FuseChart:
        """Return opening time against current with the scenarios marked; the rating is `share` of what opens it."""
        told = [scenario for scenario in (self.load, self.short, self.terminals) if scenario is not None]
        return fuse_chart(self.fuse, told, share)


def joint_faults(layout: Layout, currents: Currents, necks: Sequence[Cut | None] = ()) -> JointFaults:
    """Return what the joints of a layout do; `currents` tell how its cells share, `necks` what else may open."""
    fuse, limits, cell = weakest_joint(layout), layout.limits, layout.cell_type
    group, hottest = int(layout.group_sizes.argmin()) + 1, int(np.abs(currents.solved.cell_current_a).argmax())
    n_parallel = int(layout.group_sizes.min())
    share = abs(float(currents.solved.cell_current_a[hottest])) / abs(currents.solved.current_a)
    both_ohm = 2 * joint_ohm(layout.joints)
    of_cell = {"source_v": cell.voltage_max_v, "cell_ohm": cell.resistance_ohm, "joint_ohm": both_ohm}
    before_a = share * layout.design_current_a
    metal_ohm = currents.interconnect_resistance_ohm - float((both_ohm / layout.group_sizes).sum())
    has_load = layout.design_current_a > 0 or layout.peak_current_a > 0
    return JointFaults(
        fuse=fuse,
        group=group,
        hottest_cell=hottest,
        load=load_margins(
            fuse, continuous_a=before_a, peak_a=share * layout.peak_current_a, share=limits.bond_share
        ) if has_load else None,
        short=shorted_cell(
            fuse, n_parallel=n_parallel, fault_ohm=limits.cell_fault_ohm, neighbour_limit_a=cell.peak_current_a,
            before_a=min(before_a, 0.99 * opening_current_a(fuse)), within_s=limits.fault_s, **of_cell,
        ),
        terminals=shorted_terminals(
            _path_parts(layout, fuse, n_parallel, necks, abs(currents.solved.current_a)), n_series=layout.n_series,
            n_parallel=n_parallel,
            metal_ohm=max(metal_ohm, 0.0), outside_ohm=limits.outside_short_ohm, arc_v=limits.arc_voltage_v, **of_cell,
        ),
        lost=lost_bonds(
            fuse, n_parallel=n_parallel, continuous_a=layout.design_current_a, peak_a=layout.peak_current_a,
            n_lost=min(N_LOST, n_parallel), share=limits.bond_share,
        ) if has_load else None,
    )  # fmt: skip


def weakest_joint(layout: Layout) -> Fuse:
    """Return the joint that opens first: all are alike but for the sheet that tongues are cut from."""
    sheets = {(p.material, p.thickness_mm) for p in (layout.plates_of(k) for k in range(layout.n_segments))}
    fuses = {joint_fuse(layout.joints, sheet_metal(material), thickness) for material, thickness in sheets}
    return min(fuses, key=opening_current_a) if len(fuses) > 1 else fuses.pop()


def _path_parts(
    layout: Layout, fuse: Fuse, n_parallel: int, necks: Sequence[Cut | None], module_a: float
) -> list[PathPart]:
    """Return what may open first: the joints of a group, and the neck of the highest density with what crosses it."""
    parts = [PathPart(name="the joints of each cell", fuse=fuse, share=1 / n_parallel)]
    narrow = [neck for neck in necks if neck is not None and neck.width_mm > 0]
    if narrow:
        neck = max(narrow, key=lambda neck: neck.density_a_mm2)
        plates = layout.plates_of(neck.segment)
        strip = SheetNeck(
            metal=sheet_metal(plates.material), width_mm=neck.width_mm, thickness_mm=plates.thickness_mm,
            length_mm=layout.lattice.pitch_mm,  # from one row of windows to the next, where metal is widest again
        )  # fmt: skip
        held = Fuse(conductor=strip, ends_c=min(layout.joints.busbar_c, plates.material.melting_c - 1))
        parts.append(
            PathPart(
                name=f"the neck of segment {neck.segment}", fuse=held, share=min(abs(neck.current_a) / module_a, 1.0)
            )
        )
    return parts
