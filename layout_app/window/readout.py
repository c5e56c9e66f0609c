"""Readout: what is under the pointer, in one line."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QCoreApplication

from layout_app.geometry.distances import signed_distances_mm
from layout_app.model.layouts import Layout
from layout_app.window.canvas import Canvas
from layout_app.window.lengths import Unit, number_text
from layout_app.window.panels.facts import segments_text

translate = QCoreApplication.translate

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
        words = [
            translate("readout", "segment {number} ({face}{unlike})").format(
                number=k,
                face=layout.face_of(k),
                unlike=translate("readout", ", unlike the others") if k in unlike else "",
            )
            for k in numbers
        ]
        return JOINT.join([place, *canvas.map_words(spot_mm), *words])
    group = int(layout.cells.groups[cell])
    parts = [
        place,
        *canvas.map_words(spot_mm),
        translate("readout", "cell {cell}").format(cell=cell + 1),
        translate("readout", "group {group}").format(group=group) if group else translate("readout", "no group"),
    ]
    parts.append(translate("readout", "+ end up") if layout.positive_up[cell] else translate("readout", "+ end down"))
    if layout.cells.locked[cell]:
        parts.append(translate("readout", "locked"))
    if group:
        parts.append(translate("readout", "segments {numbers}").format(numbers=segments_text(layout, group)))
    x, y = layout.cells.centres_mm[cell].tolist()
    parts.append(translate("readout", "centre {x}, {y}").format(x=number_text(x, unit), y=number_text(y, unit)))
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
    if len(gaps) == 1:
        return translate("readout", "1 neighbour {low} {unit} away").format(low=low, unit=unit)
    words = translate("readout", "{n} neighbours {low} to {high} {unit} away")
    if low == high:
        words = translate("readout", "{n} neighbours {low} {unit} away")
    return words.format(n=len(gaps), low=low, high=high, unit=unit)


def wall_text(layout: Layout, cell: int, unit: Unit) -> str:
    """Return how far a can is from the wall, where the wall is nearer than a further cell would be."""
    away = float(signed_distances_mm(layout.housing.outline, layout.cells.centres_mm[[cell]])[0])
    if away > BESIDE_PITCHES * layout.lattice.pitch_mm:
        return ""
    return translate("readout", "wall {number_text} {unit} away").format(
        number_text=number_text(away - layout.cell_type.diameter_mm / 2, unit), unit=unit
    )
