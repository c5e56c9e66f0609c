"""Consequences: what an edit that lays out anew changed besides what was asked for, in sentences."""

from __future__ import annotations

import math

from layout_app.edits.planning import first_group_side_rad
from layout_app.model.layouts import Layout

SIDE_WORDS = {math.pi: "left", 0.0: "right", math.pi / 2: "top", -math.pi / 2: "bottom"}
TURNED_RAD = 1e-3  # less cannot be seen


def consequences(edit: object, before: Layout, after: Layout, *, is_by_hand: bool) -> list[str]:
    """Return what else changed; `is_by_hand` says that cells were placed or painted since the last laying out."""
    told = []
    if getattr(edit, "lattice", None) is None and after.lattice.kind != before.lattice.kind:
        told.append(f"The lattice is {after.lattice.kind} now: {before.lattice.kind} rows do not hold the cells.")
    elif abs(math.remainder(after.lattice.angle_rad - before.lattice.angle_rad, math.pi)) > TURNED_RAD:
        told.append("The rows run in another direction now: as before they do not hold the cells.")
    side_rad = first_group_side_rad(after)
    if getattr(edit, "start_rad", None) is None and side_rad not in (None, first_group_side_rad(before)):
        told.append(f"Group 1 lies at the {SIDE_WORDS[side_rad]} now: from the side before no sound chain was found.")
    if is_by_hand and after.cells is not before.cells:
        told.append("Cells placed, moved or painted by hand were replaced by a new division.")
    return told
