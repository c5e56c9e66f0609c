"""Necks: the current density where a segment is narrowest for its current, shown beside what is common."""

from __future__ import annotations

from collections.abc import Iterator

from layout_app.checks.findings import Finding, at
from layout_app.model.layouts import Layout
from layout_app.physics.min_cuts import Cut


def neck_density(neck: Cut, layout: Layout) -> Iterator[Finding]:
    """The current through a segment's neck may be more than short links commonly carry."""
    plates, current_a, density = layout.plates_of(neck.segment), abs(neck.current_a), neck.density_a_mm2
    low, high = plates.material.current_density_a_mm2
    if (
        layout.design_current_a <= 0 or neck.width_mm <= 0 or neck.place_mm is None
    ):  # no metal joins the groups: that has findings of its own
        return
    if density <= high * (1 + 1e-9):
        return
    wanted_mm = current_a / (high * plates.thickness_mm)
    yield Finding(
        rule="neck",
        severity="note",
        message=f"Segment {neck.segment}: its neck at {at(neck.place_mm)} is {neck.width_mm:.1f} mm wide, and "
        f"{current_a:.3g} A cross it: {density:.1f} A/mm² in {plates.thickness_mm:g} mm of {plates.material.name}. "
        f"{low:g} to {high:g} is common for short links, and practice is divided. {wanted_mm:.1f} mm, or thicker "
        "sheet, would keep to it.",
        measured=density,
        limit=high,
        unit="A/mm²",
        places_mm=(neck.place_mm,),
        segments=(neck.segment,),
        source=f"{plates.material.name}: range for short links, common practice, no source",
    )
