"""Current figures: what the solved currents of a module amount to, each with its formula, inputs and source."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layout_app.geometry.arrays import FloatArray
from layout_app.model.layouts import Layout
from layout_app.physics.currents import Currents
from layout_app.physics.figures import Figure, Inputs, figure, number_text
from layout_app.physics.joints import joint_ohm
from layout_app.physics.min_cuts import Cut
from layout_app.physics.module import Solved

SOLVED = "network of cells, joints and the metal between them; Kirchhoff's laws"


def current_figures(layout: Layout, currents: Currents, necks: Sequence[Cut | None] = ()) -> tuple[Figure, ...]:
    """Return the figures that need the currents, in the order shown."""
    told = (_sharing, _resistances, _losses, _hottest_joint)
    return (*(each for maker in told for each in maker(layout, currents)), *_worst_neck(layout, currents, necks))


def share_of_mean(layout: Layout, cell_current_a: FloatArray) -> FloatArray:
    """Return (n,) each cell's current over the mean of its group; 1 where no current flows, 0 for cells in no group."""
    groups, sizes = layout.cells.groups, np.append(1, layout.group_sizes)
    mean = np.bincount(groups, weights=cell_current_a, minlength=len(sizes)) / np.maximum(sizes, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(mean[groups] != 0, cell_current_a / mean[groups], 1.0)
    return np.where(groups > 0, share, 0.0)


def shares_of_groups(layout: Layout, currents: Currents) -> list[tuple[float, float]]:
    """Return of each group, group 1 first, its least and largest cell current over their mean."""
    share, groups = share_of_mean(layout, currents.solved.cell_current_a), layout.cells.groups
    least, largest = np.full(layout.n_series + 1, np.inf), np.full(layout.n_series + 1, -np.inf)
    np.minimum.at(least, groups, share)
    np.maximum.at(largest, groups, share)
    return list(zip(least[1:].tolist(), largest[1:].tolist(), strict=True))


def tab_losses_w(layout: Layout, solved: Solved) -> tuple[float, float]:
    """Return what the tabs of the negative and of the positive terminal turn into heat; part of their segments' loss.

    Source: a strip, current² × resistivity × length / (width × thickness), tabs of a terminal side by side; derived. Of
    a tab inside, which lies on its face, none is told apart: no line parts it from its segment.
    """
    losses = []
    for number, terminal in zip((0, layout.n_series), layout.terminals, strict=True):
        plates, loss_w = layout.plates_of(number), float(solved.segment_loss_w[number])
        squares = terminal.length_mm / terminal.width_mm / len(terminal.places_mm)
        ohm = plates.material.resistivity_ohm_m / (1e-3 * plates.thickness_mm) * squares
        losses.append(min(solved.current_a**2 * ohm, loss_w) if terminal.place == "outside" else 0.0)
    return losses[0], losses[1]


def _module(currents: Currents) -> Inputs:
    return {"module current": f"{currents.solved.current_a:g} A", "model": currents.model}


def _sharing(layout: Layout, currents: Currents) -> list[Figure]:
    share = share_of_mean(layout, currents.solved.cell_current_a)
    rows = (("imbalance", "Largest cell current over its group's mean", int(share.argmax())),
            ("least_share", "Least cell current over its group's mean",
             int(np.where(layout.cells.groups > 0, share, np.inf).argmin())))  # fmt: skip
    return [
        figure(key, label, float(share[cell]), "", "cell current / mean of its group",
               _module(currents) | {"cell": str(cell + 1), "group": str(layout.cells.groups[cell])}, SOLVED)
        for key, label, cell in rows
    ]  # fmt: skip


def _resistances(layout: Layout, currents: Currents) -> list[Figure]:
    solved, cell = currents.solved, layout.cell_type
    of_cell: Inputs = {"cell resistance": f"{1e3 * cell.resistance_ohm:g} mΩ"}
    joint: Inputs = {"joint": f"{1e3 * joint_ohm(layout.joints):.4g} mΩ"}
    return [
        figure("terminal_resistance_mohm", "Resistance at the terminals", 1e3 * solved.terminal_resistance_ohm, "mΩ",
               "voltage lost / current, cells included", of_cell | joint, SOLVED),
        figure("interconnect_resistance_mohm", "Added by joints and metal", 1e3 * currents.interconnect_resistance_ohm,
               "mΩ", "resistance at the terminals − Σ cell resistance / cells of a group", of_cell | joint, SOLVED),
        figure("terminal_voltage_v", "Voltage under load", solved.voltage_v, "V",
               "nominal voltage − current × resistance at the terminals", _module(currents), SOLVED),
    ]  # fmt: skip


def _losses(layout: Layout, currents: Currents) -> list[Figure]:
    solved = currents.solved
    metal_w = float(solved.segment_loss_w.sum())
    parts = (("cell", "Loss in cells", solved.cell_loss_w), ("joint", "Loss in joints", solved.joint_loss_w),
             ("segment", "Loss in segments", metal_w))  # fmt: skip
    told = _module(currents)
    rows = [
        figure(f"{key}_loss_w", label, watts, "W", "Σ current² × resistance", told, SOLVED)
        for key, label, watts in parts
    ]
    if layout.peak_current_a > 0 and solved.current_a:
        ratio = (layout.peak_current_a / solved.current_a) ** 2
        total_w = ratio * (metal_w + solved.joint_loss_w + solved.cell_loss_w)
        peak: Inputs = {"peak current": f"{layout.peak_current_a:g} A", "model": currents.model}
        rows.append(figure("peak_loss_w", "Loss at the peak current", total_w, "W",
                           "loss of cells, joints and segments × (peak / module current)²", peak, SOLVED))  # fmt: skip
    return rows


def _hottest_joint(layout: Layout, currents: Currents) -> list[Figure]:
    flow = np.abs(currents.solved.cell_current_a)
    cell, ohm = int(flow.argmax()), joint_ohm(layout.joints)
    told: Inputs = {
        "cell": cell + 1,
        "its current": f"{number_text(float(flow[cell]))} A",
        "joint": f"{1e3 * ohm:.4g} mΩ",
    }
    return [
        figure("hottest_joint_w", "Loss in the hottest joint", float(flow[cell] ** 2 * ohm), "W",
               "largest cell current² × joint resistance", told, SOLVED)
    ]  # fmt: skip


def _worst_neck(layout: Layout, currents: Currents, necks: Sequence[Cut | None]) -> list[Figure]:
    made = [neck for neck in necks if neck is not None and neck.width_mm > 0]
    if not made:
        return []

    worst = max(made, key=lambda neck: neck.density_a_mm2)
    plates = layout.plates_of(worst.segment)
    low, high = plates.material.current_density_a_mm2
    told: Inputs = {
        "module current": f"{abs(currents.solved.current_a):g} A", "segment": worst.segment,
        "crossed by": f"{number_text(abs(worst.current_a))} A", "width": f"{worst.width_mm:.4g} mm",
        "thickness": f"{plates.thickness_mm:g} mm", "common range": f"{low:g} to {high:g} A/mm²",
    }  # fmt: skip
    return [
        figure("worst_neck_a_mm2", "Current density in the worst neck", worst.density_a_mm2, "A/mm²",
               "current that crosses / (neck width × thickness)", told,
               f"{plates.material.name}: range for short links, common practice, no source; practice is divided")
    ]  # fmt: skip
