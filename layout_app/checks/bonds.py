"""Rules about bonds as fuses: each hands on what a scenario has to say, with the cells it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layout_app.checks.findings import Finding, places
from layout_app.model.layouts import Layout
from layout_app.physics.fault_remarks import (
    Remark,
    load_remarks,
    lost_bonds_remarks,
    shorted_cell_remarks,
    shorted_terminals_remarks,
)
from layout_app.physics.joint_faults import JointFaults


def no_joint_faults(why: str) -> Iterator[Finding]:
    """What joints do under load and in faults must be known; said once, in place of the rules about it."""
    yield Finding(
        rule="no joint faults",
        severity="warning",
        message=f"What the joints do under load and in faults cannot be worked out. {why}",
    )


def bond_load(layout: Layout, faults: JointFaults) -> Iterator[Finding]:
    """The joint of the cell that carries most must stand the continuous current, and the peak without opening."""
    if faults.load is not None:
        cell = faults.hottest_cell
        said = load_remarks(f"Cell {cell + 1}", faults.load, layout.limits.bond_peak_margin)
        yield from _findings(layout, said, (cell,))


def shorted_cell(layout: Layout, faults: JointFaults) -> Iterator[Finding]:
    """With a cell shorted inside, its joint should open in time and those of its neighbours stay whole."""
    said = shorted_cell_remarks(f"Group {faults.group}", faults.short)
    yield from _findings(layout, said, layout.cells.of_group(faults.group).tolist())


def shorted_terminals(layout: Layout, faults: JointFaults) -> Iterator[Finding]:
    """With the terminals shorted outside, what opens first must not be taken for an interrupting device."""
    yield from _findings(layout, shorted_terminals_remarks("Module", faults.terminals), ())


def lost_bonds(layout: Layout, faults: JointFaults) -> Iterator[Finding]:
    """With two cells of a group cut off, the joints left must still stand the current."""
    if faults.lost is not None:
        said = lost_bonds_remarks(f"Group {faults.group}", faults.lost, layout.limits.bond_peak_margin)
        yield from _findings(layout, said, layout.cells.of_group(faults.group).tolist())


def _findings(layout: Layout, said: Iterable[Remark], cells: Iterable[int]) -> Iterator[Finding]:
    about = tuple(cells)
    for remark in said:
        yield Finding(
            rule=remark.rule,
            severity=remark.severity,
            message=remark.message,
            measured=remark.measured,
            limit=remark.limit,
            unit=remark.unit,
            places_mm=places(layout.cells.centres_mm[list(about)]) if len(about) == 1 else (),
            cells=about,
            source=remark.source,
        )
