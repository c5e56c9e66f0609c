"""The key figures of the currents panel in words: of the model chosen, the sheet's error, and how the two differ."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout_app.physics.current_figures import share_of_mean
from layout_app.physics.currents import Currents
from layout_app.physics.joints import joint_ohm
from layout_app.window.maps.kinds import translate
from layout_app.window.maps.readings import number_words
from layout_app.window.maps.sheet_work import SheetResult

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout
    from layout_app.window.maps.desk import MapDesk

Row = tuple[str, str, str]  # words, value with unit, tip
PER_MILLI = 1e3


def key_figures(desk: MapDesk) -> list[Row]:
    """Return the rows of figures; none where no current can flow."""
    found, layout = desk.found, desk.document.currents_of
    if found is None or layout is None:
        return []
    by_sheet = desk.is_by_sheet and desk.result is not None
    model = translate("Maps", "sheet model") if by_sheet else translate("Maps", "network")
    if by_sheet and not desk.is_current:
        model = translate("Maps", "sheet model, of before")
    rows = [(translate("Maps", "Worked out by"), model, "")]
    rows += _of_model(desk.result.layout if by_sheet else layout, found, desk.factor)
    if desk.result is not None:
        rows += _of_sheet(desk.result, desk.factor)
        if desk.is_current and desk.network is not None:
            rows += _differences(layout, desk.network, desk.result)
    return rows


def _of_model(layout: Layout, found: Currents, factor: float) -> list[Row]:
    flow, solved = found.solved.cell_current_a, found.solved
    share = np.where(layout.cells.groups > 0, share_of_mean(layout, flow), np.nan)
    most, least, hot = int(np.nanargmax(share)), int(np.nanargmin(share)), int(np.abs(flow).argmax())
    joint_w = float(flow[hot] ** 2 * joint_ohm(layout.joints)) * factor**2
    segments_w = float(solved.segment_loss_w.sum()) * factor**2
    worst = int(solved.segment_loss_w.argmax())
    of_mean = translate("Maps", "Its current over the mean of its group")
    return [
        _row(translate("Maps", "Module current"), solved.current_a * factor, "A", ""),
        (translate("Maps", "Largest share, cell {cell}").format(cell=most + 1), f"{share[most]:.4f}", of_mean),
        (translate("Maps", "Least share, cell {cell}").format(cell=least + 1), f"{share[least]:.4f}", of_mean),
        _row(translate("Maps", "Resistance at the terminals"), PER_MILLI * solved.terminal_resistance_ohm, "mΩ",
             translate("Maps", "Cells included")),
        _row(translate("Maps", "Added by joints and metal"), PER_MILLI * found.interconnect_resistance_ohm, "mΩ",
             translate("Maps", "To the cells' own resistance")),
        _row(translate("Maps", "Loss in cells"), solved.cell_loss_w * factor**2, "W", ""),
        _row(translate("Maps", "Loss in joints"), solved.joint_loss_w * factor**2, "W", ""),
        _row(translate("Maps", "Loss in segments"), segments_w, "W",
             translate("Maps", "Most of it in segment {number}").format(number=worst)),
        _row(translate("Maps", "Hottest joint, cell {cell}").format(cell=hot + 1), PER_MILLI * joint_w, "mW",
             translate("Maps", "Either joint of the cell that carries most")),
    ]  # fmt: skip


def _of_sheet(result: SheetResult, factor: float) -> list[Row]:
    peak = max(result.fields, key=lambda field: field.peak_a_mm2)
    foot = max(result.fields, key=lambda field: field.foot_peak_a_mm2)
    place = translate("Maps", "At {x} mm, {y} mm")
    errors, factor = result.found.errors, abs(factor)
    return [
        _row(translate("Maps", "Densest, away from feet"), peak.peak_a_mm2 * factor, "A/mm²",
             place.format(x=f"{peak.peak_mm[0]:.1f}", y=f"{peak.peak_mm[1]:.1f}"), peak.peak_error_a_mm2 * factor),
        _row(translate("Maps", "Densest at a foot"), foot.foot_peak_a_mm2 * factor, "A/mm²",
             place.format(x=f"{foot.foot_peak_mm[0]:.1f}", y=f"{foot.foot_peak_mm[1]:.1f}")),
        _row(translate("Maps", "Sheet's error of a share"), 100 * errors["imbalance"], "%",
             translate("Maps", "Estimated from two meshes: of the largest share")),
        _row(translate("Maps", "Sheet's error of resistance"),
             100 * errors["terminal_resistance_ohm"] / result.found.solved.terminal_resistance_ohm, "%",
             translate("Maps", "Estimated from two meshes: of the resistance at the terminals")),
    ]  # fmt: skip


def _differences(layout: Layout, network: Currents, result: SheetResult) -> list[Row]:
    """How far the network is from the sheet."""
    one, other = (share_of_mean(layout, each.solved.cell_current_a) for each in (network, result.found))
    apart = float(np.abs(one - other).max()) * 100
    ratio = network.interconnect_resistance_ohm / result.found.interconnect_resistance_ohm - 1
    return [
        _row(translate("Maps", "Network beside sheet, shares"), apart, "%",
             translate("Maps", "The largest difference of a cell's share between the two models")),
        _row(translate("Maps", "Network beside sheet, added resistance"), 100 * ratio, "%",
             translate("Maps", "Of what joints and metal add; positive where the network says more")),
    ]  # fmt: skip


def _row(words: str, value: float, unit: str, tip: str, error: float | None = None) -> Row:
    text = (
        f"{number_words(value, 4)} {unit}"
        if error is None
        else f"{number_words(value)} ± {number_words(error, 2)} {unit}"
    )
    return words, text, tip
