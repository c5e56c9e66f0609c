"""Readout: what is under the pointer, in one line."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.distances import signed_distances_mm
from layout_app.model.layouts import Layout
from layout_app.window.canvas import Canvas
from layout_app.window.lengths import Unit, number_text
from layout_app.window.panels.facts import segments_text

JOINT = "  ·  "
BESIDE_PITCHES = 1.5  # cells no further away are neighbours


def readout(canvas: Canvas, spot_mm: tuple[float, float] | None) -> str:
    """Return the line for a point of the layout, or nothing for no point."""
    if spot_mm is None:
        return ""
    unit = canvas.unit
    place = f"x {number_text(spot_mm[0], unit)}  y {number_text(spot_mm[1], unit)} {unit}"
    layout, cell = canvas.scene.layout, canvas.cell_at(*spot_mm)
    if cell is None:
        numbers = canvas.segments_at(*spot_mm)
        unlike = {override.segment for override in layout.overrides}
        words = [f"segment {k} ({layout.face_of(k)}{', unlike the others' if k in unlike else ''})" for k in numbers]
        return JOINT.join([place, *words])
    group = int(layout.cells.groups[cell])
    parts = [place, f"cell {cell + 1}", f"group {group}" if group else "no group"]
    parts.append("+ end up" if layout.positive_up[cell] else "+ end down")
    if layout.cells.locked[cell]:
        parts.append("locked")
    if group:
        parts.append(f"segments {segments_text(layout, group)}")
    x, y = layout.cells.centres_mm[cell].tolist()
    parts.append(f"centre {number_text(x, unit)}, {number_text(y, unit)}")
    parts += [words for words in (gaps_text(layout, cell, unit), wall_text(layout, cell, unit)) if words]
    return JOINT.join(parts)


def gaps_text(layout: Layout, cell: int, unit: Unit) -> str:
    """Return how many neighbours a cell has and how far away their cans are; nothing for a lone cell."""
    apart = np.hypot(*(layout.cells.centres_mm - layout.cells.centres_mm[cell]).T)
    apart[cell] = np.inf
    gaps = np.sort(apart[apart <= BESIDE_PITCHES * layout.lattice.pitch_mm]) - layout.cell_type.diameter_mm
    if not len(gaps):
        return ""
    low, high = (number_text(float(gap), unit) for gap in (gaps[0], gaps[-1]))
    words = f"{len(gaps)} neighbour{'s' if len(gaps) > 1 else ''} {low}"
    return f"{words} {unit} away" if low == high else f"{words} to {high} {unit} away"


def wall_text(layout: Layout, cell: int, unit: Unit) -> str:
    """Return how far a can is from the wall, where the wall is nearer than a further cell would be."""
    away = float(signed_distances_mm(layout.housing.outline, layout.cells.centres_mm[[cell]])[0])
    if away > BESIDE_PITCHES * layout.lattice.pitch_mm:
        return ""
    return f"wall {number_text(away - layout.cell_type.diameter_mm / 2, unit)} {unit} away"
