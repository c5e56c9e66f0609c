"""Faults: what bonds and necks do under load, with a cell shorted inside, with shorted terminals, with lost bonds.

Every scenario takes plain numbers and returns a frozen result; `fault_remarks` puts the results into words. Currents
flow as in the loop of a few resistances; a cell's source voltage is taken as constant, so short currents are high and
opening times short, while "sustained" ones are what the cells are rated to give, with the bond hot.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from layout_app.model.errors import LayoutError
from layout_app.model.limits import Limits
from layout_app.model.validation import require_count, require_number
from layout_app.physics.bonds import Fuse
from layout_app.physics.fault_results import (
    FuseChart,
    LoadMargins,
    LostBonds,
    PartOpening,
    PathPart,
    ShortedCell,
    ShortedTerminals,
)
from layout_app.physics.fuses import (
    CONTINUOUS_SHARE,
    continuous_rating_a,
    middle_after_c,
    opening_current_a,
    opening_curve,
    opening_times,
    opening_within_a,
    steady_middle_c,
)

ARC_VOLTAGE_V, PEAK_S = Limits().arc_voltage_v, Limits().fault_s


def load_margins(
    fuse: Fuse, *, continuous_a: float, peak_a: float, peak_s: float = PEAK_S, share: float = CONTINUOUS_SHARE
) -> LoadMargins:
    """Return what continuous and peak current (through one cell's joint) leave to the joint's fuse.

    The peak comes on top of a joint warm from the continuous current; where that alone melts it, the peak is reckoned
    from cold.
    """
    require_number("continuous_a", continuous_a, least=0)
    require_number("peak_a", peak_a, least=0)
    require_number("peak_s", peak_s, above=0)
    opening_a = opening_current_a(fuse)
    before_a = continuous_a if continuous_a < opening_a else 0.0
    return LoadMargins(
        fuse=fuse,
        continuous_a=continuous_a,
        peak_a=peak_a,
        peak_s=peak_s,
        opening_a=opening_a,
        rating_a=continuous_rating_a(fuse, share),
        peak_limit_a=opening_within_a(fuse, peak_s, before_a),
        middle_continuous_c=float(steady_middle_c(fuse, continuous_a)),
        middle_peak_c=float(middle_after_c(fuse, peak_a, peak_s, before_a)),
        peak_opening_s=float(opening_times(fuse, peak_a, before_a).opening_s),
    )


def shorted_cell(
    fuse: Fuse,
    *,
    n_parallel: int,
    source_v: float,
    cell_ohm: float,
    joint_ohm: float,
    fault_ohm: float,
    neighbour_limit_a: float = math.inf,
    before_a: float = 0.0,
    within_s: float = PEAK_S,
) -> ShortedCell:
    """Return what happens when one of `n_parallel` cells is shorted inside.

    The current is E / ((R_c + R_j) / (P − 1) + R_j + R_fault), as in trade practice's estimate of selectivity; derived.

    Parameters
    ----------
    source_v : of each cell
    cell_ohm, joint_ohm : of each cell, and of all joints in series with it, feet included
    fault_ohm : inside the shorted cell
    neighbour_limit_a : what each neighbour can give for `within_s`, as a rule its peak rating
    before_a : what each cell carried before; the neighbours' joints start warm from it, the faulty one's cold, which
        is the worse case for both
    """
    require_count("n_parallel", n_parallel, least=1)
    for name, value in (("source_v", source_v), ("cell_ohm", cell_ohm), ("fault_ohm", fault_ohm)):
        require_number(name, value, above=0)
    require_number("joint_ohm", joint_ohm, least=0)
    n_neighbours = n_parallel - 1
    fault_a = _fed_a(source_v, cell_ohm + joint_ohm, joint_ohm + fault_ohm, n_neighbours)
    hot_a = _fed_a(source_v, cell_ohm + joint_ohm, joint_ohm * fuse.hot_ratio + fault_ohm, n_neighbours)
    sustained_a = min(hot_a, n_neighbours * neighbour_limit_a) if n_neighbours else 0.0
    opens = opening_times(fuse, [fault_a, sustained_a]).opening_s
    each_a = [fault_a / max(n_neighbours, 1), sustained_a / max(n_neighbours, 1)]
    melts = opening_times(fuse, each_a, before_a).melting_s
    return ShortedCell(
        fuse=fuse,
        n_neighbours=n_neighbours,
        within_s=within_s,
        source_v=source_v,
        opening_a=opening_current_a(fuse),
        fault_a=fault_a,
        sustained_a=sustained_a,
        fault_opening_s=float(opens[0]),
        sustained_opening_s=float(opens[1]),
        neighbour_fault_melting_s=float(melts[0]),
        neighbour_sustained_melting_s=float(melts[1]),
        neighbour_middle_c=_reached_c(fuse, each_a[0], float(opens[0]), before_a),
    )


def shorted_terminals(
    parts: Sequence[PathPart],
    *,
    n_series: int,
    n_parallel: int,
    source_v: float,
    cell_ohm: float,
    joint_ohm: float,
    metal_ohm: float,
    outside_ohm: float,
    arc_v: float = ARC_VOLTAGE_V,
) -> ShortedTerminals:
    """Return what opens first, and when, with the module's terminals joined by `outside_ohm`.

    The current is S E / (S (R_c + R_j) / P + R_metal + R_outside), everything cold, shared evenly; derived.

    Parameters
    ----------
    parts : the links whose opening is to be compared, with their share of the module's current; bonds of a cell: 1 / P
    source_v, cell_ohm, joint_ohm : of each cell, and of all joints in series with it
    metal_ohm : of the busbars from terminal to terminal
    """
    require_count("n_series", n_series, least=1)
    require_count("n_parallel", n_parallel, least=1)
    for name, value in (("source_v", source_v), ("cell_ohm", cell_ohm)):
        require_number(name, value, above=0)
    for name, value in (("joint_ohm", joint_ohm), ("metal_ohm", metal_ohm), ("outside_ohm", outside_ohm)):
        require_number(name, value, least=0)
    module_v = n_series * source_v
    current_a = module_v / (n_series * (cell_ohm + joint_ohm) / n_parallel + metal_ohm + outside_ohm)
    opened = [
        PartOpening(
            part=part,
            current_a=part.share * current_a,
            opening_s=float(opening_times(part.fuse, part.share * current_a).opening_s),
        )
        for part in parts
    ]
    return ShortedTerminals(
        current_a=current_a,
        cell_current_a=current_a / n_parallel,
        module_v=module_v,
        arc_v=arc_v,
        parts=tuple(sorted(opened, key=lambda opening: opening.opening_s)),
    )


def lost_bonds(
    fuse: Fuse,
    *,
    n_parallel: int,
    continuous_a: float,
    peak_a: float,
    n_lost: int = 2,
    peak_s: float = PEAK_S,
    share: float = CONTINUOUS_SHARE,
) -> LostBonds:
    """Return what the joints left in a group must bear when `n_lost` of its cells have lost theirs.

    `continuous_a` and `peak_a` are the module's, shared evenly by the cells still joined.
    """
    require_count("n_parallel", n_parallel, least=1)
    require_count("n_lost", n_lost)
    if n_lost > n_parallel:
        raise LayoutError(f"{n_lost} bonds cannot be lost where {n_parallel} cells are in parallel. Give fewer.")

    def shared_by(n_cells: int) -> LoadMargins:
        carried = {"continuous_a": continuous_a / n_cells, "peak_a": peak_a / n_cells}
        return load_margins(fuse, **carried, peak_s=peak_s, share=share)

    n_left = n_parallel - n_lost
    return LostBonds(
        n_parallel=n_parallel,
        n_lost=n_lost,
        before=shared_by(n_parallel),
        after=shared_by(n_left) if n_left else None,
    )


def fuse_chart(
    fuse: Fuse,
    scenarios: Iterable[LoadMargins | ShortedCell | ShortedTerminals | LostBonds] = (),
    share: float = CONTINUOUS_SHARE,
    n: int = 60,
) -> FuseChart:
    """Return the opening-time curve, reaching past every scenario's current, and where the scenarios stand."""
    points = tuple(point for scenario in scenarios for point in scenario.points)
    highest_a = max([30 * opening_current_a(fuse), *(2 * point.current_a for point in points)])
    return FuseChart(
        curve=opening_curve(fuse, highest_a, n=n), rating_a=continuous_rating_a(fuse, share), points=points
    )


def _fed_a(source_v: float, neighbour_ohm: float, fault_path_ohm: float, n_neighbours: int) -> float:
    return source_v / (neighbour_ohm / n_neighbours + fault_path_ohm) if n_neighbours else 0.0


def _reached_c(fuse: Fuse, current_a: float, time_s: float, before_a: float) -> float:
    """Return the middle's temperature after a time that may be infinite; infinite when it melts in the long run."""
    if time_s == math.inf:
        return float(steady_middle_c(fuse, current_a))
    return float(middle_after_c(fuse, current_a, time_s, before_a))
