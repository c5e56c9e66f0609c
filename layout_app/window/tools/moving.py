"""Moving chosen cells: by drag with a preview, by arrow keys, and pasting with cells under the pointer."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, Qt

from layout_app.edits import Clip, MoveCells, PasteCells
from layout_app.geometry.arrays import PointArray
from layout_app.model.sites import site_step_mm
from layout_app.window.lengths import length_text, number_text
from layout_app.window.snapping import Snapping, snapped_cell
from layout_app.window.tools.base import Tool
from layout_app.window.tools.ghosts import Ghosts, paint_note
from layout_app.window.words import cells_text

if TYPE_CHECKING:
    from PySide6.QtGui import QPainter

    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

FINE_STEP_MM = 0.1
SNAP_PX = 8  # desktop pixels within which edges and centres draw
NO_SNAPPING = Snapping(frozenset())
ARROWS = {
    Qt.Key.Key_Right: 0.0, Qt.Key.Key_Up: math.pi / 2, Qt.Key.Key_Left: math.pi, Qt.Key.Key_Down: -math.pi / 2,
}  # fmt: skip


class CellDrag:
    """Chosen cells on their way: they keep their places to each other, and the one seized snaps. Locked ones stay."""

    def __init__(self, canvas: Canvas, seized: int, from_mm: tuple[float, float]) -> None:
        cells = canvas.scene.layout.cells
        self.cells = tuple(cell for cell in sorted(canvas.chosen_cells) if not cells.locked[cell])
        self.shift_mm = (0.0, 0.0)
        self._word = ""
        self._from_mm = from_mm
        self._seized_mm: PointArray = cells.centres_mm[seized]
        self._places_mm: PointArray = cells.centres_mm[list(self.cells)]
        stays = np.ones(len(cells), dtype=np.bool_)
        stays[list(self.cells)] = False
        self.ghosts = Ghosts(canvas, cells.groups[list(self.cells)], cells.centres_mm[stays])
        self.clashing = np.zeros(len(self.cells), dtype=np.bool_)

    def move_to(self, canvas: Canvas, to_mm: tuple[float, float], is_free: bool) -> None:
        """Bring the cells along with the pointer; `is_free`: without snapping."""
        place = (
            float(self._seized_mm[0]) + to_mm[0] - self._from_mm[0],
            float(self._seized_mm[1]) + to_mm[1] - self._from_mm[1],
        )
        snapping = NO_SNAPPING if is_free else canvas.snapping
        reach_mm = SNAP_PX * canvas.ratio / canvas.view.px_per_mm
        place, self._word = snapped_cell(snapping, canvas.scene.layout, place, self.ghosts.others_mm, reach_mm)
        self.shift_mm = (place[0] - float(self._seized_mm[0]), place[1] - float(self._seized_mm[1]))
        self.clashing = self.ghosts.clashing(self._places_mm + self.shift_mm)

    def paint(self, painter: QPainter, canvas: Canvas, at: QPointF) -> None:
        """Draw the cells where they would go, and how far that is."""
        self.ghosts.paint(painter, canvas, self._places_mm + self.shift_mm, self.clashing)
        n_bad, unit = int(self.clashing.sum()), canvas.unit
        dx, dy = (number_text(part, unit, is_signed=True) for part in self.shift_mm)
        text = f"{dx}, {dy} {unit}  ({length_text(math.hypot(*self.shift_mm), unit)})"
        text += f"  {self._word}" if self._word else ""
        if n_bad:
            text += "\n" + translate("moving", "no room: {cells} would overlap others").format(cells=cells_text(n_bad))
        paint_note(painter, canvas, at, text, is_refusal=n_bad > 0)


def nudge(canvas: Canvas, key: int, modifiers: Qt.KeyboardModifier) -> bool:
    """Move the chosen cells one site, with Shift a fine step, the way an arrow points on the screen."""
    if key not in ARROWS or modifiers & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
        return False
    towards_rad = ARROWS[Qt.Key(key)]
    if canvas.view.is_mirrored:
        towards_rad = math.pi - towards_rad
    if modifiers & Qt.KeyboardModifier.ShiftModifier:
        step = (round(math.cos(towards_rad)) * FINE_STEP_MM, round(math.sin(towards_rad)) * FINE_STEP_MM)
    else:
        step = site_step_mm(canvas.scene.layout.lattice, towards_rad)
    canvas.document.request(MoveCells(tuple(sorted(canvas.chosen_cells)), *step), canvas.explained.emit)
    return True


class PasteTool(Tool):
    """Cells hang under the pointer; a click puts them down, Esc drops them."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, clip: Clip, on_done: Callable[[], None]) -> None:
        self.clip = clip
        self._on_done = on_done
        self._ghosts: Ghosts | None = None
        self._at: QPointF | None = None
        self._place_mm = (0.0, 0.0)
        self._word = ""

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self.move(canvas, at, is_pressed=True)

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        cells = canvas.scene.layout.cells
        if self._ghosts is None or self._ghosts.others_mm is not cells.centres_mm:
            groups = np.array(self.clip.groups, dtype=np.int64)
            self._ghosts = Ghosts(canvas, groups, cells.centres_mm)
        self._at = at
        snapping = NO_SNAPPING if canvas.modifiers & Qt.KeyboardModifier.AltModifier else canvas.snapping
        reach_mm = SNAP_PX * canvas.ratio / canvas.view.px_per_mm
        place = canvas.view.to_layout(at.x(), at.y())
        self._place_mm, self._word = snapped_cell(snapping, canvas.scene.layout, place, cells.centres_mm, reach_mm)
        canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        n_before = len(canvas.document.current.cells)
        canvas.document.request(PasteCells(self.clip, self._place_mm), canvas.explained.emit)
        n_after = len(canvas.document.current.cells)
        if n_after > n_before:
            canvas.choose(frozenset(range(n_before, n_after)))
            self._on_done()

    def leave(self, canvas: Canvas) -> None:
        self._at = None

    def give_up(self, canvas: Canvas) -> bool:
        self._on_done()
        return True

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if self._at is None or self._ghosts is None:
            return
        places_mm = self.clip.places_mm(self._place_mm)
        clashing = self._ghosts.clashing(places_mm)
        self._ghosts.paint(painter, canvas, places_mm, clashing)
        text = translate("moving", "Click to put down {number}").format(number=len(self.clip.groups)) + (
            f"  {self._word}" if self._word else ""
        )
        if clashing.any():
            text += "\n" + translate("moving", "no room: {cells} would overlap others").format(
                cells=cells_text(int(clashing.sum()))
            )
        paint_note(painter, canvas, self._at, text, is_refusal=bool(clashing.any()))
