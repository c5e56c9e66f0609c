"""The number behind a finding's limit, and the edit that changes it: every limit of a check is the user's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from layout_app.checks.findings import Finding
from layout_app.checks.metal import CHOSEN
from layout_app.edits import ChangeCellType, ChangeLimits, ChangePlates, Edit
from layout_app.edits.repairs import ChangeClearance
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits


@dataclass(frozen=True)
class LimitSetting:
    """A number a check compares with, or works its limit out from."""

    label: str
    unit: str
    value: float
    change: Callable[[float], Edit]


def setting_behind(finding: Finding, layout: Layout) -> LimitSetting | None:
    """Return what sets the limit of a finding; None where it follows from a definition or from geometry."""
    make = SETTINGS.get(finding.rule)
    return make(finding, layout) if make else None


def _limits_field(label: str, unit: str, field: str) -> Callable[[Finding, Layout], LimitSetting]:
    def make(finding: Finding, layout: Layout) -> LimitSetting:
        return LimitSetting(label, unit, getattr(layout.limits, field), lambda value: ChangeLimits({field: value}))

    return make


def _plates_field(label: str, field: str) -> Callable[[Finding, Layout], LimitSetting]:
    def make(finding: Finding, layout: Layout) -> LimitSetting:
        return LimitSetting(label, "mm", getattr(layout.plates, field), lambda value: ChangePlates({field: value}))

    return make


def _touch_voltage(finding: Finding, layout: Layout) -> LimitSetting:
    if finding.source == Limits.SOURCES["extra_low_voltage_v"]:
        return _limits_field("Extra-low voltage", "V", "extra_low_voltage_v")(finding, layout)
    return _limits_field("Touch voltage", "V", "touch_voltage_v")(finding, layout)


def _cell_gap(finding: Finding, layout: Layout) -> LimitSetting | None:
    if finding.source != Limits.SOURCES["cell_gap_mm"]:  # the cans' own tolerance
        return None
    return _limits_field("Least cell gap", "mm", "cell_gap_mm")(finding, layout)


def _web(finding: Finding, layout: Layout) -> LimitSetting:
    if finding.source == CHOSEN:
        return _plates_field("Least web", "min_web_mm")(finding, layout)
    return _limits_field("Web, × sheet thickness", "", "web_per_thickness")(finding, layout)


def _window(finding: Finding, layout: Layout) -> LimitSetting | None:
    if "positive end" not in finding.message:
        return None
    return _plates_field("Clearance to the shoulder", "shoulder_clearance_mm")(finding, layout)


def _terminal(finding: Finding, layout: Layout) -> LimitSetting | None:
    if finding.source != Limits.SOURCES["bolt_margin_per_hole"]:
        return None
    return _limits_field("Metal beside a bolt, × hole", "", "bolt_margin_per_hole")(finding, layout)


def _wall(finding: Finding, layout: Layout) -> LimitSetting:
    value_mm = layout.housing.wall_clearance_mm
    return LimitSetting("Wall clearance", "mm", value_mm, lambda value: ChangeClearance(wall_mm=value))


def _keep_out(finding: Finding, layout: Layout) -> LimitSetting:
    value_mm = layout.housing.keep_out_clearance_mm
    return LimitSetting("Keep-out clearance", "mm", value_mm, lambda value: ChangeClearance(keep_out_mm=value))


def _neck(finding: Finding, layout: Layout) -> LimitSetting:
    low, high = layout.plates.material.current_density_a_mm2

    def change(value: float) -> Edit:
        material = replace(layout.plates.material, current_density_a_mm2=(min(low, value), value))
        return ChangePlates({"material": material})

    return LimitSetting("Current density up to", "A/mm²", high, change)


def _rating(label: str, field: str) -> Callable[[Finding, Layout], LimitSetting]:
    """The cell's own rating: typical values are to be replaced by those of the data sheet."""

    def make(finding: Finding, layout: Layout) -> LimitSetting:
        cell = layout.cell_type
        return LimitSetting(
            label,
            "A",
            getattr(cell, field),
            lambda value: ChangeCellType(replace(cell, **{field: value})),  # type: ignore[arg-type]  # a named field
        )

    return make


SETTINGS: dict[str, Callable[[Finding, Layout], LimitSetting | None]] = {
    "touch voltage": _touch_voltage,
    "cell gap": _cell_gap,
    "wall": _wall,
    "keep-out": _keep_out,
    "web": _web,
    "window": _window,
    "terminal": _terminal,
    "setback": _plates_field("Setback", "setback_mm"),
    "insulation gap": _plates_field("Insulation gap", "gap_mm"),
    "neck": _neck,
    "imbalance": _limits_field("Imbalance", "", "imbalance"),
    "metal loss": _limits_field("Loss share of joints and metal", "", "metal_loss_share"),
    "sense error": _limits_field("Sense error", "V", "sense_error_v"),
    "bond rating": _limits_field("Bond rating, share of opening current", "", "bond_share"),
    "nuisance opening": _limits_field("Bond peak margin", "", "bond_peak_margin"),
    "shorted cell": _limits_field("Feeding time of a fault", "s", "fault_s"),
    "shorted terminals": _limits_field("Arc voltage", "V", "arc_voltage_v"),
    "continuous current": _rating("Cell's continuous current", "continuous_current_a"),
    "peak current": _rating("Cell's ten-second current", "peak_current_a"),
}
