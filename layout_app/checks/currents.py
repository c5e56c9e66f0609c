"""Rules about how the cells share the current and what the metal costs; they stand on the network's solution."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from layout_app.checks.findings import Finding, named, places
from layout_app.geometry.arrays import FloatArray
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.physics.current_figures import share_of_mean
from layout_app.physics.currents import Currents
from layout_app.plates.segments import Segment


def no_currents(layout: Layout, why: str) -> Iterator[Finding]:
    """Currents must be able to flow from terminal to terminal; said once metal is derived for the cells' contacts."""
    if layout.cell_type.has_opposite_contacts and len(layout.cells):
        yield Finding(rule="no currents", severity="warning", message=f"The currents cannot be worked out. {why}")


def imbalance(layout: Layout, currents: Currents, segments: Sequence[Segment]) -> Iterator[Finding]:
    """A cell's current may be at most so many times the mean of its group."""
    ratio = share_of_mean(layout, currents.solved.cell_current_a)
    limit = layout.limits.imbalance
    over = np.flatnonzero(ratio > limit * (1 + 1e-9))
    if not len(over):
        return
    worst = int(ratio.argmax())
    group = int(layout.cells.groups[worst])
    advice = "Move the terminal towards the middle of its edge" if group in (1, layout.n_series) else "Widen its necks"
    others = f"; {named(over[over != worst].tolist())} too" if len(over) > 1 else ""
    yield Finding(
        rule="imbalance",
        severity="warning",
        message=f"Cell {worst + 1} carries {ratio[worst]:.4g} times the mean of group {group}, more than the limit of "
        f"{limit:g}{others}. {advice}, or use thicker sheet.",
        measured=float(ratio[worst]),
        limit=limit,
        places_mm=places(layout.cells.centres_mm[[worst]]),
        cells=tuple(over[np.argsort(-ratio[over])].tolist()),
        source=Limits.SOURCES["imbalance"],
    )


def metal_loss(layout: Layout, currents: Currents, segments: Sequence[Segment]) -> Iterator[Finding]:
    """Joints and segments may turn at most this share of the module's power into heat."""
    solved, current_a = currents.solved, layout.design_current_a
    if current_a <= 0:
        return
    loss_w = float(solved.segment_loss_w.sum()) + solved.joint_loss_w
    power_w = layout.n_series * layout.cell_type.voltage_nominal_v * current_a
    share, limit = loss_w / power_w, layout.limits.metal_loss_share
    if share <= limit:
        return
    worst = int(solved.segment_loss_w.argmax())
    where = f"most of it in segment {worst}" if solved.segment_loss_w.sum() > solved.joint_loss_w else "most in joints"
    yield Finding(
        rule="metal loss",
        severity="warning",
        message=f"At {current_a:g} A joints and segments turn {loss_w:.3g} W into heat, {100 * share:.3g} % of the "
        f"module's power, {where}; {100 * limit:.3g} % is the limit. "
        "Use thicker sheet, wider necks or stronger joints.",
        measured=share,
        limit=limit,
        segments=(worst,),
        source=Limits.SOURCES["metal_loss_share"],
    )


def sense_error(layout: Layout, currents: Currents, segments: Sequence[Segment]) -> Iterator[Finding]:
    """A sense tap reads a segment's potential where it sits: its lands may differ by at most this at full current."""
    if layout.design_current_a <= 0:
        return
    limit_v = layout.limits.sense_error_v
    spread_v = [float(np.ptp(_lands_v(segment, v))) for segment, v in _with_potentials(segments, currents)]
    over = [k for k, spread in enumerate(spread_v) if spread > limit_v]
    if not over:
        return
    worst = max(over, key=lambda k: spread_v[k])
    segment, lands_v = segments[worst], _lands_v(segments[worst], currents.solved.contact_v[worst])
    ends = segment.window_cells[[int(lands_v.argmin()), int(lands_v.argmax())]]
    others = (
        f" So do {len(over) - 1} more segments." if len(over) > 2 else " So does one more." if len(over) == 2 else ""
    )
    yield Finding(
        rule="sense error",
        severity="note",
        message=f"At {layout.design_current_a:g} A the joints on segment {worst} lie up to "
        f"{1e3 * spread_v[worst]:.3g} mV apart, from cell {ends[0] + 1} to cell {ends[1] + 1}: a sense tap reads its "
        f"groups wrong by up to that much, and the error turns its sign with the current; {1e3 * limit_v:g} mV "
        f"is the limit.{others} Put the tap amid the segment, or use thicker sheet.",
        measured=spread_v[worst],
        limit=limit_v,
        unit="V",
        places_mm=places(layout.cells.centres_mm[ends]),
        segments=tuple(over),
        source=Limits.SOURCES["sense_error_v"],
    )


def _with_potentials(segments: Sequence[Segment], currents: Currents) -> list[tuple[Segment, FloatArray]]:
    return list(zip(segments, currents.solved.contact_v, strict=True))


def _lands_v(segment: Segment, contact_v: FloatArray) -> FloatArray:
    """Return the potentials of a segment's lands, its terminal left out."""
    return contact_v[: len(segment.window_cells)]
