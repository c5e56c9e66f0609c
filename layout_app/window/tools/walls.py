"""Walls: the housing's outline and its keep-outs, edited by dragging; new keep-outs drawn as circles or rectangles."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from layout_app.edits import AddKeepOut, ChangeLoop, RemoveKeepOut
from layout_app.edits.housings import OUTLINE, loop_name
from layout_app.geometry.contours import Contour
from layout_app.window.lengths import number_text
from layout_app.window.metal_paths import path_of
from layout_app.window.snapping import nearest_on, snapped_point
from layout_app.window.tools.base import Tool
from layout_app.window.tools.ghosts import paint_note

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

SEIZE_PX, SNAP_PX = 9, 8  # desktop pixels
MOST_HANDLES = 400  # corners drawn: a spline in fine chords has thousands
LEAST_MM = 0.1  # a keep-out smaller than this was a slip of the hand
Shape = Literal["edit", "circle", "rectangle"]


class WallsTool(Tool):
    """Click a loop to choose it; drag a corner, or the loop itself by its edge. `shape` says what a drag draws."""

    def __init__(self) -> None:
        self.shape: Shape = "edit"
        self.loop: int | None = None  # OUTLINE or the index of a keep-out
        self.corner: int | None = None
        self._from: tuple[float, float] | None = None
        self._begun: Contour | None = None
        self._preview: Contour | None = None
        self._at = QPointF()

    @property
    def cursor(self) -> Qt.CursorShape:
        """A cross for drawing, an arrow for choosing."""
        return Qt.CursorShape.ArrowCursor if self.shape == "edit" else Qt.CursorShape.CrossCursor

    def contour(self, canvas: Canvas) -> Contour | None:
        """Return the chosen loop as it is, or None."""
        housing = canvas.document.current.housing
        if self.loop is None or self.loop >= len(housing.keep_outs):
            return None
        return housing.outline if self.loop == OUTLINE else housing.keep_outs[self.loop]

    def choose(self, canvas: Canvas, loop: int | None, corner: int | None = None) -> None:
        """Choose a loop and one of its corners."""
        self.loop, self.corner = loop, corner
        canvas.choice_changed.emit()
        canvas.update()

    def delete(self, canvas: Canvas) -> None:
        """Remove the chosen keep-out."""
        if self.contour(canvas) is None:
            canvas.explained.emit("No keep-out is chosen. Click the edge of one first.")
            return
        canvas.document.request(RemoveKeepOut(self.loop), canvas.explained.emit)
        if self.loop != OUTLINE:
            self.choose(canvas, None)

    # -- gesture ------------------------------------------------------------------------------------------------

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._at = at
        if self.shape == "edit":
            self._seize(canvas, at)
        else:
            self._from = self._place(canvas, at)

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        self._at = at
        if is_pressed and self._from is not None:
            place = self._place(canvas, at)
            self._preview = self._dragged(place) if self._begun is not None else self._drawn(place)
            canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        self.move(canvas, at, is_pressed=True)
        preview, begun = self._preview, self._begun
        self._forget()
        canvas.update()
        if preview is None:
            if self.shape != "edit":
                canvas.explained.emit("Drag to draw a keep-out: from the middle of a circle, or corner to corner.")
            return
        if begun is not None:
            canvas.document.request(ChangeLoop(self.loop, preview), canvas.explained.emit)
            return
        n_before = len(canvas.document.current.housing.keep_outs)
        canvas.document.request(AddKeepOut(preview), canvas.explained.emit)
        if len(canvas.document.current.housing.keep_outs) > n_before:
            self.choose(canvas, n_before)

    def cancel(self, canvas: Canvas) -> None:
        self._forget()
        canvas.update()

    def give_up(self, canvas: Canvas) -> bool:
        had = self.loop is not None
        self.choose(canvas, None)
        return had

    def _forget(self) -> None:
        self._from = self._begun = self._preview = None

    def _place(self, canvas: Canvas, at: QPointF) -> tuple[float, float]:
        place_mm = canvas.view.to_layout(at.x(), at.y())
        if canvas.modifiers & Qt.KeyboardModifier.AltModifier:
            return place_mm
        reach_mm = SNAP_PX * canvas.ratio / canvas.view.px_per_mm
        return snapped_point(canvas.snapping, canvas.document.current, place_mm, reach_mm)[0]

    def _seize(self, canvas: Canvas, at: QPointF) -> None:
        """Choose the loop whose corner or edge is under the pointer, corners of the chosen loop first."""
        place_mm, reach_mm = canvas.view.to_layout(at.x(), at.y()), SEIZE_PX * canvas.ratio / canvas.view.px_per_mm
        own = self.contour(canvas)
        if own is not None:
            away = np.hypot(*(own.vertices_mm - place_mm).T)
            if own.as_circle is None and away.min() <= reach_mm:
                self.choose(canvas, self.loop, int(away.argmin()))
                self._begun, self._from = own, tuple(own.vertices_mm[self.corner].tolist())
                return
        housing = canvas.document.current.housing
        loops = {OUTLINE: housing.outline} | dict(enumerate(housing.keep_outs))
        distance = {index: math.dist(nearest_on(loop, place_mm), place_mm) for index, loop in loops.items()}
        nearest = min(distance, key=lambda index: distance[index])
        if distance[nearest] > reach_mm:
            self.choose(canvas, None)
            return
        if nearest == self.loop:  # a second press drags it
            self._begun, self._from = loops[nearest], place_mm
        self.choose(canvas, nearest)

    def _dragged(self, place: tuple[float, float]) -> Contour | None:
        dx, dy = place[0] - self._from[0], place[1] - self._from[1]
        if dx == dy == 0:
            return None
        if self.corner is None:
            return self._begun.moved(dx, dy)
        vertices = self._begun.vertices_mm.copy()
        vertices[self.corner] += (dx, dy)
        return Contour(vertices, self._begun.bulges)

    def _drawn(self, place: tuple[float, float]) -> Contour | None:
        (x0, y0), (x1, y1) = self._from, place
        if self.shape == "circle":
            radius = math.dist(self._from, place)
            return Contour.circle(x0, y0, radius) if radius >= LEAST_MM else None
        if min(abs(x1 - x0), abs(y1 - y0)) < LEAST_MM:
            return None
        return Contour.rectangle(abs(x1 - x0), abs(y1 - y0)).moved(min(x0, x1), min(y0, y1))

    # -- what is shown ------------------------------------------------------------------------------------------

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        accent, ratio = canvas.theme.colour("accent"), canvas.ratio
        chosen = self.contour(canvas)
        shown = self._preview or chosen
        if shown is None:
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        style = Qt.PenStyle.DashLine if self._preview is not None else Qt.PenStyle.SolidLine
        painter.setPen(QPen(accent, 2.5 * ratio, style))
        painter.drawPath(canvas.view.q_transform().map(path_of([shown])))
        if shown.as_circle is None and len(shown.bulges) <= MOST_HANDLES:
            self._handles(painter, canvas, shown)
        if self._preview is not None:
            paint_note(painter, canvas, self._at, self._words(canvas, shown))

    def _handles(self, painter: QPainter, canvas: Canvas, loop: Contour) -> None:
        half = 4 * canvas.ratio
        painter.setPen(QPen(canvas.theme.colour("accent"), 1.5 * canvas.ratio))
        for number, (x, y) in enumerate(canvas.view.to_screen(loop.vertices_mm).tolist()):
            painter.setBrush(canvas.theme.colour("accent" if number == self.corner else "floor"))
            painter.drawRect(QRectF(x - half, y - half, 2 * half, 2 * half))

    def _words(self, canvas: Canvas, loop: Contour) -> str:
        unit = canvas.unit
        circle = loop.as_circle
        if circle is not None and self._begun is None:
            return f"⌀ {number_text(2 * circle[2], unit)} {unit}"
        if self._begun is None:
            x0, y0, x1, y1 = loop.bounds_mm
            return f"{number_text(x1 - x0, unit)} × {number_text(y1 - y0, unit)} {unit}"
        place = loop.vertices_mm[self.corner or 0] if circle is None else circle[:2]
        name = loop_name(self.loop) if self.corner is None else f"corner {self.corner + 1} of {loop_name(self.loop)}"
        return f"{name}: x {number_text(place[0], unit)}, y {number_text(place[1], unit)} {unit}"
