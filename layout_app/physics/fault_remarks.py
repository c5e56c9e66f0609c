"""Fault remarks: what the scenarios of `faults` have to say, in words, for checks to turn into findings.

Each function takes where it is ("Group 3") and returns remarks, none when all is well. Limits can be changed; the
sources of their defaults stand beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from layout_app.model.limits import Limits
from layout_app.physics.fault_results import LoadMargins, LostBonds, PartOpening, ShortedCell, ShortedTerminals
from layout_app.physics.figures import number_text

PEAK_MARGIN = Limits().bond_peak_margin
BENCH_SOURCE = "the program's fuse model: conduction between cold ends, derived; verify on a bench"
STRONGER = "Use thicker, shorter or more wires, a wider or shorter tongue, or a cooler busbar."
WEAKER = "Use thinner, longer or fewer wires, a narrower or longer tongue, or more cells in parallel."


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One thing a scenario has to say: what, where, and what to do about it."""

    rule: str
    severity: Literal["error", "warning", "note"]
    message: str
    measured: float
    limit: float
    unit: str
    source: str


def load_remarks(where: str, load: LoadMargins, peak_margin: float = PEAK_MARGIN) -> tuple[Remark, ...]:
    """Say what is wrong with a joint in use: continuous current over its rating, nuisance opening at the peak."""
    said = (_continuous(where, load), _peak(where, load, peak_margin))
    return tuple(remark for remark in said if remark is not None)


def shorted_cell_remarks(where: str, short: ShortedCell) -> tuple[Remark, ...]:
    """Say whether a cell shorted inside is left connected, and whether its neighbours lose their joints first."""
    if short.n_neighbours == 0:
        return ()
    said = [] if short.clears else [_does_not_clear(where, short)]
    return (*said, *([] if short.neighbours_survive else [_neighbours_first(where, short)]))


def shorted_terminals_remarks(where: str, short: ShortedTerminals) -> tuple[Remark, ...]:
    """Say what opens first, and that it is no interrupting device; always one remark."""
    first = short.first
    begins = f"{where}: terminals shorted outside drive about {_a(short.current_a)}"
    if first is None:
        says = f"{begins}, and nothing in their path opens: the cells feed the short until they vent."
    else:
        says = f"{begins}. First to open: {first.part.name}, after {time_text(first.opening_s)}. {_arc(short, first)}"
    return (
        Remark(
            rule="shorted terminals",
            severity="warning" if first is None else "note",  # a note is true of every module: no fault of this one
            message=f"{says} Fit a d.c. fuse rated for the module's voltage and this current.",
            measured=short.module_v,
            limit=short.arc_v,
            unit="V",
            source=Limits.SOURCES["arc_voltage_v"],
        ),
    )


def lost_bonds_remarks(where: str, lost: LostBonds, peak_margin: float = PEAK_MARGIN) -> tuple[Remark, ...]:
    """Say what goes wrong once some joints are lost that was right before."""
    there = f"{where}, with {lost.n_lost} of its {lost.n_parallel} cells cut off"
    if lost.after is None:
        return (_group_open(where, lost),)
    known = {(remark.rule, remark.severity) for remark in load_remarks(where, lost.before, peak_margin)}
    said = load_remarks(there, lost.after, peak_margin)
    new = (remark for remark in said if (remark.rule, remark.severity) not in known)
    return tuple(replace(remark, rule="lost bonds", severity="warning") for remark in new)


def time_text(seconds: float) -> str:
    """Return a time as people read it, two or three digits.

    >>> time_text(0.00042), time_text(0.0829), time_text(2.41), time_text(float("inf"))
    ('0.42 ms', '83 ms', '2.4 s', 'never')
    """
    if seconds == math.inf:
        return "never"
    return (
        f"{1e3 * seconds:.2g} ms" if seconds < 0.0995 else f"{seconds:.2g} s" if seconds < 99.5 else f"{seconds:.0f} s"
    )


def _continuous(where: str, load: LoadMargins) -> Remark | None:
    if load.continuous_margin >= 1:
        return None
    melts, share = load.middle_continuous_c == math.inf, 100 * load.rating_a / load.opening_a
    carried = f"{where}: {_a(load.continuous_a)} continuous through the {load.fuse.text}"
    says = (
        f"{carried} melt it: it opens at {_a(load.opening_a)}."
        if melts
        else f"{carried} are over its rating of {_a(load.rating_a)}, {share:.0f} % of the "
        f"{_a(load.opening_a)} that open it; its middle settles at {load.middle_continuous_c:.0f} °C."
    )
    return Remark(
        rule="bond rating",
        severity="error" if melts else "warning",
        message=f"{says} {STRONGER}",
        measured=load.continuous_a,
        limit=load.rating_a,
        unit="A",
        source=Limits.SOURCES["bond_share"],
    )


def _peak(where: str, load: LoadMargins, margin: float) -> Remark | None:
    if load.peak_margin >= margin and not load.opens_at_peak:
        return None
    begins, span = f"{where}: a peak of {_a(load.peak_a)} through the {load.fuse.text}", time_text(load.peak_s)
    says = (
        f"{begins} opens it after {time_text(load.peak_opening_s)}, before its {span} are over."
        if load.opens_at_peak
        else f"{begins} heats its middle to {load.middle_peak_c:.0f} °C within {span}; {_a(load.peak_limit_a)} would "
        f"open it. That is {load.peak_margin:.2f} times the peak, {margin:g} is wanted."
    )
    return Remark(
        rule="nuisance opening",
        severity="error" if load.opens_at_peak else "warning",
        message=f"{says} {STRONGER}",
        measured=load.peak_margin,
        limit=margin,
        unit="",
        source=Limits.SOURCES["bond_peak_margin"],
    )


def _does_not_clear(where: str, short: ShortedCell) -> Remark:
    given = f"{_neighbours(short)} can drive {_a(short.fault_a)} through its {short.fuse.text}"
    rated = f"the {_a(short.sustained_a)} they are rated to keep up"
    slow = f"at {rated} it takes {time_text(short.sustained_opening_s)}"
    if short.sustained_opening_s == math.inf:
        slow = f"{rated} never open it, which takes {_a(short.opening_a)}"
    at_once = f"which opens in {time_text(short.fault_opening_s)}; but {slow}"
    if not short.clears_at_fault:
        at_once = f"which takes {_a(short.opening_a)} to open at all and does not clear in {time_text(short.within_s)}"
    return Remark(
        rule="shorted cell",
        severity="warning",
        message=f"{where}: with a cell shorted inside, {given}, {at_once}. Do not count on it to clear. {WEAKER}",
        measured=short.sustained_a,
        limit=short.opening_a,
        unit="A",
        source=BENCH_SOURCE,
    )


def _neighbours_first(where: str, short: ShortedCell) -> Remark:
    at_fault = short.neighbour_fault_melting_s <= short.fault_opening_s
    melting_s = short.neighbour_fault_melting_s if at_fault else short.neighbour_sustained_melting_s
    opening_s = short.fault_opening_s if at_fault else short.sustained_opening_s
    each_a = short.neighbour_fault_a if at_fault else short.neighbour_sustained_a
    joint = "the joint of its one neighbour" if short.n_neighbours == 1 else "each of its neighbours' joints"
    own = "never opens" if opening_s == math.inf else f"opens only after {time_text(opening_s)}"
    return Remark(
        rule="shorted cell",
        severity="warning",
        message=f"{where}: with a cell shorted inside, {joint} carries {_a(each_a)} "
        f"and begins to melt after {time_text(melting_s)}; its own {own}. Healthy cells are lost with it. Put more "
        "cells in parallel: each joint then carries a smaller part of what the faulty one does.",
        measured=each_a,
        limit=short.opening_a,
        unit="A",
        source=BENCH_SOURCE,
    )


def _arc(short: ShortedTerminals, first: PartOpening) -> str:
    if not short.may_arc:
        return f"It parts {short.module_v:.3g} V, too little to hold an arc between metals."
    parts = "The bonds of a group go nearly together, and the last one parts" if first.part.share < 1 else "It parts"
    return (
        f"{parts} the whole {short.module_v:.3g} V, which may hold an arc. A bond or neck that opens at full module "
        "voltage is not an interrupting device."
    )


def _group_open(where: str, lost: LostBonds) -> Remark:
    return Remark(
        rule="lost bonds",
        severity="warning",
        message=f"{where}: losing {lost.n_lost} bonds cuts off all its {lost.n_parallel} cells and opens the module. "
        "Put more cells in parallel, or two bonds on each terminal.",
        measured=lost.n_lost,
        limit=lost.n_parallel,
        unit="",
        source="counted in the layout",
    )


def _neighbours(short: ShortedCell) -> str:
    return "its one neighbour" if short.n_neighbours == 1 else f"its {short.n_neighbours} neighbours"


def _a(current_a: float) -> str:
    return f"{number_text(float(f'{current_a:.3g}'))} A"
