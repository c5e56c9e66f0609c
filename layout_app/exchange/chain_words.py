"""Chain words: how cells and groups lie, where a drawing does not say it by itself."""

from __future__ import annotations

import numpy as np

from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout

BORDER_WORDS = {"zigzag": "between segments around every cell", "straight": "smoothed where there is room"}


def along_words(lattice: Lattice) -> str:
    """Return the pitch along the rows where it is another than the pitch of neighbours: in compressed lattices."""
    return "" if lattice.kind != "compressed" else f", along its rows {lattice.along_mm:.2f} mm"


def start_words(layout: Layout) -> str:
    """Return on which side of the module group 1 lies, and how it stands; nothing while it has no cell."""
    first = layout.cells.of_group(1)
    if not len(first):
        return ""
    x, y = (layout.cells.centres_mm[first].mean(axis=0) - layout.cells.centres_mm.mean(axis=0)).tolist()
    up = "positive" if layout.first_group_up else "negative"
    stands = f"its {up} ends up" if layout.cell_type.has_opposite_contacts else "all cells the same way up"
    side = "in the middle" if np.hypot(x, y) < layout.lattice.pitch_mm / 2 else f"at the {_side(x, y)}"
    return f"; group 1 {side}, {stands}"


def _side(x: float, y: float) -> str:
    if abs(x) >= abs(y):
        return "left" if x < 0 else "right"
    return "bottom" if y < 0 else "top"
