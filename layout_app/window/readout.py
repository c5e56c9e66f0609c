"""Readout: what is under the pointer, in one line."""

from __future__ import annotations

from layout_app.window.canvas import Canvas
from layout_app.window.panels.facts import nearest_gap_mm, segments_text

JOINT = "  ·  "


def readout(canvas: Canvas, spot_mm: tuple[float, float] | None) -> str:
    """Return the line for a point of the layout, or nothing for no point."""
    if spot_mm is None:
        return ""
    place = f"x {spot_mm[0]:.2f}  y {spot_mm[1]:.2f} mm".replace("-", "−")
    layout, cell = canvas.scene.layout, canvas.cell_at(*spot_mm)
    if cell is None:
        numbers = canvas.segments_at(*spot_mm)
        return JOINT.join([place, *(f"segment {number} ({layout.face_of(number)})" for number in numbers)])
    group = int(layout.cells.groups[cell])
    parts = [place, f"cell {cell + 1}", f"group {group}" if group else "no group"]
    parts.append("+ end up" if layout.positive_up[cell] else "+ end down")
    if group:
        parts.append(f"segments {segments_text(layout, group)}")
    gap = nearest_gap_mm(layout, cell)
    if gap is not None:
        parts.append(f"nearest cell {gap:.2f} mm away")
    return JOINT.join(parts)
