"""Joint figures: what one joint stands and what it does in each fault, each with its formula, inputs and source."""

from __future__ import annotations

import math

from layout_app.physics.fault_remarks import BENCH_SOURCE, time_text
from layout_app.physics.fault_results import LoadMargins, ShortedCell, ShortedTerminals
from layout_app.physics.figures import Figure, Inputs, figure, number_text
from layout_app.physics.joint_faults import JointFaults


def joint_figures(faults: JointFaults) -> tuple[Figure, ...]:
    """Return the figures of bonds as fuses, in the order shown; what never happens has no figure of its time."""
    fuse = faults.fuse
    told: Inputs = {"joint": fuse.text, "metal": fuse.metal.name, "ends": f"{fuse.ends_c:g} °C"}
    opening = figure("joint_opening_a", "A joint opens at", faults.short.opening_a, "A",
                     "least lasting current that melts its middle", told, BENCH_SOURCE)  # fmt: skip
    return (
        opening,
        *([] if faults.load is None else _margins(faults.load, faults.hottest_cell)),
        *_shorted_cell(faults.short, faults.group),
        *_shorted_terminals(faults.terminals),
    )


def _margins(load: LoadMargins, cell: int) -> list[Figure]:
    rows = [
        ("joint_margin", "Margin of joints, continuous", load.continuous_margin, "rating / largest current of a joint",
         {"rating": f"{number_text(load.rating_a)} A", "current": f"{number_text(load.continuous_a)} A"}),
        ("joint_peak_margin", "Margin of joints, peak", load.peak_margin,
         "current that opens it within the peak / largest current of a joint",
         {"limit": f"{number_text(load.peak_limit_a)} A", "peak": f"{number_text(load.peak_a)} A",
          "for": time_text(load.peak_s)}),
    ]  # fmt: skip
    cell_told: Inputs = {"cell": cell + 1}
    return [
        figure(key, label, value, "", formula, {**cell_told, **told}, BENCH_SOURCE)
        for key, label, value, formula, told in rows
        if math.isfinite(value)  # without current there is no margin to tell
    ]


def _shorted_cell(short: ShortedCell, group: int) -> list[Figure]:
    if short.n_neighbours == 0:
        return []
    told: Inputs = {"group": group, "neighbours": short.n_neighbours, "cells at": f"{short.source_v:g} V, full"}
    rows = [
        figure("shorted_cell_a", "Through a shorted cell's joint", short.fault_a, "A",
               "cell voltage / ((cell + joints) / (P − 1) + joints + fault)", told, "derived: trade practice's loop"),
        figure("shorted_cell_neighbour_a", "Through each neighbour's joint", short.neighbour_fault_a, "A",
               "current through the shorted cell's joint / (P − 1)", told, "derived: trade practice's loop"),
    ]  # fmt: skip
    if math.isfinite(short.fault_opening_s):
        rows.append(
            figure("shorted_cell_opening_ms", "A shorted cell's joint opens after", 1e3 * short.fault_opening_s, "ms",
                   "heating to melting between cold ends at that current", told, BENCH_SOURCE)
        )  # fmt: skip
    if math.isfinite(short.neighbour_middle_c):
        rows.append(
            figure("shorted_cell_neighbour_c", "Neighbours' joints reach by then", short.neighbour_middle_c, "°C",
                   "middle of their wires when the faulty joint opens", told, BENCH_SOURCE)
        )  # fmt: skip
    return rows


def _shorted_terminals(short: ShortedTerminals) -> list[Figure]:
    told: Inputs = {"cells at": f"{short.module_v:.4g} V in all, full", "first to open": "nothing"}
    if short.first is not None:
        told["first to open"] = f"{short.first.part.name}, after {time_text(short.first.opening_s)}"
    return [
        figure("shorted_terminals_a", "Terminals shorted outside", short.current_a, "A",
               "module voltage / (S (cell + joints) / P + metal + outside)", told,
               "derived; a joint that opens then is no interrupting device")
    ]  # fmt: skip
