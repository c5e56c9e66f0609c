"""The rules, and the one place that runs them. A new check is one function in its module and one line here.

A rule is a function that yields findings; its docstring says in one sentence what it holds the layout to. What it
takes says when it has to be asked again: only a layout, one segment, two segments of a face, a neck, or all
segments together, the solved currents, or the faults of joints.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np
import shapely

from layout_app.checks import bonds, cells, corners, currents, faces, groups, metal, necks, terminals, voltage, windows
from layout_app.checks.findings import Finding, gravest_first
from layout_app.checks.shapes import solid
from layout_app.model.layouts import Layout
from layout_app.physics.currents import Currents
from layout_app.physics.joint_faults import JointFaults
from layout_app.physics.min_cuts import Cut
from layout_app.plates.segments import Segment

LAYOUT_RULES: tuple[Callable[[Layout], Iterator[Finding]], ...] = (
    cells.same_place,
    cells.overlap,
    cells.wall,
    cells.keep_out,
    cells.cell_gap,
    cells.unassigned,
    groups.missing_groups,
    groups.uneven_groups,
    groups.split_groups,
    groups.steps_apart,
    voltage.touch_voltage,
    voltage.continuous_current,
    voltage.peak_current,
)
SEGMENT_RULES: tuple[Callable[[Segment, Layout], Iterator[Finding]], ...] = (
    metal.missing,
    metal.in_pieces,
    metal.setback,
    metal.web_between_windows,
    metal.web_to_edge,
    corners.corner_radius,
    windows.positive_windows,
    windows.negative_windows,
    terminals.terminal_missing,
    terminals.bolt_margin,
    terminals.bolt_beside_window,
    terminals.bolt_over_cell,
    terminals.tabs_overlap,
)
PAIR_RULES: tuple[Callable[[Segment, Segment, Layout], Iterator[Finding]], ...] = (faces.insulation_gap,)
MODULE_RULES: tuple[Callable[[Layout, Sequence[Segment]], Iterator[Finding]], ...] = (faces.contacts, faces.joints)
NECK_RULES: tuple[Callable[[Cut, Layout], Iterator[Finding]], ...] = (necks.neck_density,)
CURRENT_RULES: tuple[Callable[[Layout, Currents, Sequence[Segment]], Iterator[Finding]], ...] = (
    currents.imbalance,
    currents.metal_loss,
    currents.sense_error,
)
FAULT_RULES: tuple[Callable[[Layout, JointFaults], Iterator[Finding]], ...] = (
    bonds.bond_load,
    bonds.shorted_cell,
    bonds.shorted_terminals,
    bonds.lost_bonds,
)
RULES = LAYOUT_RULES + SEGMENT_RULES + PAIR_RULES + MODULE_RULES + NECK_RULES + CURRENT_RULES + FAULT_RULES


def find(layout: Layout, segments: Sequence[Segment], narrowest: Iterable[Cut | None] = ()) -> tuple[Finding, ...]:
    """Return everything the rules have to say, errors first; `narrowest` holds the necks of the segments."""
    found = list(layout_findings(layout))
    for segment in segments:
        found += segment_findings(segment, layout)
    for one, other in facing_pairs(segments, layout.plates.gap_mm):
        found += pair_findings(segments[one], segments[other], layout)
    found += module_findings(layout, segments)
    found += neck_findings(layout, narrowest)
    return gravest_first(found)


def layout_findings(layout: Layout) -> tuple[Finding, ...]:
    """Return what the rules about cells, groups, voltage and current say."""
    return tuple(finding for rule in LAYOUT_RULES for finding in rule(layout))


def segment_findings(segment: Segment, layout: Layout) -> tuple[Finding, ...]:
    """Return what the rules about one segment say.

    They look at the segment, and of the layout at cell type, housing, plates, terminals, limits, the number of groups
    and the places of the cells; while these are the same the answer is.
    """
    return tuple(finding for rule in SEGMENT_RULES for finding in rule(segment, layout))


def pair_findings(one: Segment, other: Segment, layout: Layout) -> tuple[Finding, ...]:
    """Return what the rules about two segments of one face say; of the layout they look at the plates only."""
    return tuple(finding for rule in PAIR_RULES for finding in rule(one, other, layout))


def module_findings(layout: Layout, segments: Sequence[Segment]) -> tuple[Finding, ...]:
    """Return what the rules about all segments together say."""
    return tuple(finding for rule in MODULE_RULES for finding in rule(layout, segments))


def neck_findings(layout: Layout, narrowest: Iterable[Cut | None]) -> tuple[Finding, ...]:
    """Return what the rules about necks say."""
    return tuple(
        finding for neck in narrowest if neck is not None for rule in NECK_RULES for finding in rule(neck, layout)
    )


def current_findings(
    layout: Layout, solved: Currents, segments: Sequence[Segment], faults: JointFaults | None
) -> tuple[Finding, ...]:
    """Return what the rules about currents say, and those about bonds as fuses where their faults are known."""
    said = [finding for rule in CURRENT_RULES for finding in rule(layout, solved, segments)]
    if faults is None:
        return tuple(said)
    return (*said, *(finding for fault_rule in FAULT_RULES for finding in fault_rule(layout, faults)))


def facing_pairs(segments: Sequence[Segment], within_mm: float) -> list[tuple[int, int]]:
    """Return the pairs (indices) of segments on one face whose bounding boxes are no further apart than `within_mm`."""
    made = [k for k, segment in enumerate(segments) if segment.pieces]
    if len(made) < 2:
        return []
    x_min, y_min, x_max, y_max = shapely.bounds([solid(segments[k]) for k in made]).T
    face = np.array([segments[k].face for k in made])
    near = (
        (x_min[:, None] <= x_max + within_mm)
        & (x_min <= x_max[:, None] + within_mm)
        & (y_min[:, None] <= y_max + within_mm)
        & (y_min <= y_max[:, None] + within_mm)
        & (face[:, None] == face)
    )
    ones, others = np.nonzero(np.triu(near, k=1))
    return [(made[one], made[other]) for one, other in zip(ones, others, strict=True)]
