"""What voltage and current ask of the people and the cells."""

from __future__ import annotations

from collections.abc import Iterator

from layout_app.checks.findings import Finding
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits


def touch_voltage(layout: Layout) -> Iterator[Finding]:
    """The full module's open-circuit voltage may pass the limits below which live parts may be touched."""
    volts, limits = layout.n_series * layout.cell_type.voltage_max_v, layout.limits
    if volts > limits.extra_low_voltage_v:
        yield _voltage(
            volts,
            limits.extra_low_voltage_v,
            "extra_low_voltage_v",
            "it is no longer extra-low voltage: full protection against electric shock is called for. Fewer groups in "
            "series, or a break in the middle of the chain for service, lower it.",
        )
    elif volts > limits.touch_voltage_v:
        yield _voltage(
            volts,
            limits.touch_voltage_v,
            "touch_voltage_v",
            "live parts must be covered so that nobody touches them, also while the module is being built. "
            "Fewer groups in series lower it.",
        )


def _voltage(volts: float, limit_v: float, field: str, what_to_do: str) -> Finding:
    return Finding(
        rule="touch voltage",
        severity="warning",
        message=f"Fully charged, the module stands at {volts:.1f} V d.c., above {limit_v:g} V: {what_to_do}",
        measured=volts,
        limit=limit_v,
        unit="V",
        source=Limits.SOURCES[field],
    )


def continuous_current(layout: Layout) -> Iterator[Finding]:
    """The design current, shared evenly, may be more than the cell type stands continuously."""
    yield from _current(
        layout, "continuous current", layout.design_current_a, layout.cell_type.continuous_current_a, "continuously"
    )


def peak_current(layout: Layout) -> Iterator[Finding]:
    """The peak current, shared evenly, may be more than the cell type stands for ten seconds."""
    yield from _current(
        layout, "peak current", layout.peak_current_a, layout.cell_type.peak_current_a, "for ten seconds"
    )


def _current(layout: Layout, rule: str, module_a: float, rating_a: float, how_long: str) -> Iterator[Finding]:
    sizes = layout.group_sizes
    smallest = int(sizes.min())
    if smallest == 0 or module_a / smallest <= rating_a * (1 + 1e-9):
        return
    group = int(sizes.argmin()) + 1
    yield Finding(
        rule=rule,
        severity="error",
        message=f"{module_a:g} A over the {smallest} cells of group {group} is {module_a / smallest:.1f} A a cell even "
        f"if all share alike; the cell type stands {rating_a:g} A {how_long}. Put at least "
        f"{-(-module_a // rating_a):.0f} cells in parallel or lower the current.",
        measured=module_a / smallest,
        limit=rating_a,
        unit="A",
        cells=tuple(layout.cells.of_group(group).tolist()),
        source=f"cell type {layout.cell_type.id}: {layout.cell_type.source}",
    )
