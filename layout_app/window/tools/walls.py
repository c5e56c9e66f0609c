"""Walls: outline and keep-outs, the housing's and those of single segments, drawn, dragged and reshaped."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, Qt
from PySide6.QtGui import QPainter

from layout_app.edits import AddCorner, AddKeepOut, ChangeLoop, Edit, OwnKeepOut, RemoveCorner, RemoveKeepOut
from layout_app.edits.housings import OUTLINE, LoopId, loop_name
from layout_app.geometry.contours import Contour
from layout_app.geometry.corners import nearest_edge, with_corner
from layout_app.model.errors import LayoutError
from layout_app.window.lengths import number_text
from layout_app.window.snapping import nearest_on, snapped_point
from layout_app.window.tools.base import Tool
from layout_app.window.tools.choosing import far_apart
from layout_app.window.tools.ghosts import paint_note
from layout_app.window.tools.loop_marks import has_corners, middles, paint_loop

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

SEIZE_PX, SNAP_PX = 9, 8  # desktop pixels
LEAST_MM = 0.1  # a keep-out smaller than this was a slip of the hand
Shape = Literal["edit", "circle", "rectangle", "own circle", "own rectangle"]


class WallsTool(Tool):
    """Click a loop to choose it; drag a corner, a handle amid an edge, or the loop itself by its edge.

    A double click on an edge puts a corner there, and so does dragging the handle amid it. `shape` says what a drag
    draws; an "own" one belongs to the segment the drag begins on.
    """

    def __init__(self) -> None:
        self.shape: Shape = "edit"
        self.loop: LoopId | None = None
        self.corner: int | None = None
        self._edge: int | None = None  # the edge whose handle is dragged
        self._segment: int | None = None  # whose keep-out is drawn
        self._from: tuple[float, float] | None = None
        self._begun: Contour | None = None
        self._preview: Contour | None = None
        self._at = self._pressed_at = QPointF()
        self._is_drag = False

    @property
    def cursor(self) -> Qt.CursorShape:
        """A cross for drawing, an arrow for choosing."""
        return Qt.CursorShape.ArrowCursor if self.shape == "edit" else Qt.CursorShape.CrossCursor

    def loops(self, canvas: Canvas) -> dict[LoopId, Contour]:
        """Return the loops that can be edited: the housing's, and those of segments on the faces shown."""
        layout = canvas.document.current
        found: dict[LoopId, Contour] = {OUTLINE: layout.housing.outline, **dict(enumerate(layout.housing.keep_outs))}
        for override in layout.overrides:
            if layout.face_of(override.segment) in canvas.scene.faces:
                found |= {OwnKeepOut(override.segment, k): loop for k, loop in enumerate(override.keep_outs)}
        return found

    def contour(self, canvas: Canvas) -> Contour | None:
        """Return the chosen loop as it is, or None."""
        return None if self.loop is None else self.loops(canvas).get(self.loop)

    def choose(self, canvas: Canvas, loop: LoopId | None, corner: int | None = None) -> None:
        """Choose a loop and one of its corners."""
        self.loop, self.corner = loop, corner
        canvas.choice_changed.emit()
        canvas.update()

    # -- what keys and the panel do -----------------------------------------------------------------------------

    def delete(self, canvas: Canvas) -> None:
        """Remove the chosen corner, or else the chosen keep-out."""
        loop = self.contour(canvas)
        if loop is None:
            canvas.explained.emit(translate("tools", "No keep-out is chosen. Click the edge of one first."))
        elif self.corner is not None and self.corner < len(loop.bulges):
            if self._did(canvas, RemoveCorner(self.loop, self.corner)):
                self.choose(canvas, self.loop)
        else:
            self.remove_loop(canvas)

    def remove_loop(self, canvas: Canvas) -> None:
        """Remove the chosen keep-out."""
        if self._did(canvas, RemoveKeepOut(self.loop)):
            self.choose(canvas, None)

    def add_corner(
        self, canvas: Canvas, edge: int, fraction: float = 0.5, to_mm: tuple[float, float] | None = None
    ) -> None:
        """Put a corner on an edge of the chosen loop and choose it."""
        if self._did(canvas, AddCorner(self.loop, edge, fraction, to_mm)):
            self.choose(canvas, self.loop, edge + 1)

    def _did(self, canvas: Canvas, edit: Edit) -> bool:
        """Ask for an edit; return whether it was done."""
        before = canvas.document.current
        canvas.document.request(edit, canvas.explained.emit)
        return canvas.document.current is not before

    # -- gesture ------------------------------------------------------------------------------------------------

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._at, self._pressed_at, self._is_drag = at, at, False
        if self.shape == "edit":
            self._seize(canvas, at)
        elif self._has_owner(canvas, at):
            self._from = self._place(canvas, at)

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        self._at = at
        self._is_drag = self._is_drag or far_apart(canvas, self._pressed_at, at)  # a click moves nothing
        if is_pressed and self._is_drag and self._from is not None:
            place = self._place(canvas, at)
            self._preview = self._dragged(place) if self._begun is not None else self._drawn(place)
            if self._begun is not None and isinstance(self.loop, OwnKeepOut):
                self._follow(canvas)
            canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        self.move(canvas, at, is_pressed=True)
        preview, begun, edge, drew = self._preview, self._begun, self._edge, self._from is not None
        to_mm = None if edge is None or self._from is None else self._place(canvas, at)
        self._forget()
        canvas.update()
        if preview is None:
            canvas.document.drop_preview()
            if self.shape != "edit" and drew:
                canvas.explained.emit(
                    translate("tools", "Drag to draw a keep-out: from the middle of a circle, or corner to corner.")
                )
        elif edge is not None:
            self.add_corner(canvas, edge, 0.5, to_mm)
        elif begun is not None:
            canvas.document.request(ChangeLoop(self.loop, preview), canvas.explained.emit)
        else:
            self._add(canvas, preview)

    def double_click(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        """Put a corner where an edge is under the pointer."""
        if self.shape != "edit":
            self.press(canvas, at, modifiers)
            return
        self._seize(canvas, at)
        self._forget()
        loop = self.contour(canvas)
        if loop is not None and self.corner is None:
            edge, fraction, _ = nearest_edge(loop, canvas.view.to_layout(at.x(), at.y()))
            self.add_corner(canvas, edge, fraction)

    def _follow(self, canvas: Canvas) -> None:
        """Let the metal of the one segment come along, where the loop can be as it is dragged."""
        try:
            loop = self._begun if self._preview is None else self._preview
            canvas.document.preview(ChangeLoop(self.loop, loop).apply(canvas.document.current))
        except LayoutError:
            canvas.document.drop_preview()

    def cancel(self, canvas: Canvas) -> None:
        canvas.document.drop_preview()
        self._forget()
        canvas.update()

    def give_up(self, canvas: Canvas) -> bool:
        had = self.loop is not None
        self.choose(canvas, None)
        return had

    def _forget(self) -> None:
        self._from = self._begun = self._preview = self._edge = None

    def _place(self, canvas: Canvas, at: QPointF) -> tuple[float, float]:
        place_mm = canvas.view.to_layout(at.x(), at.y())
        if canvas.modifiers & Qt.KeyboardModifier.AltModifier:
            return place_mm
        reach_mm = SNAP_PX * canvas.ratio / canvas.view.px_per_mm
        return snapped_point(canvas.snapping, canvas.document.current, place_mm, reach_mm)[0]

    def _has_owner(self, canvas: Canvas, at: QPointF) -> bool:
        """Find out whose keep-out is to be drawn; say so where a segment is wanted and none is there."""
        self._segment = None
        if self.shape in ("circle", "rectangle"):
            return True
        under = canvas.segments_at(*canvas.view.to_layout(at.x(), at.y()))
        if not under:
            canvas.explained.emit(
                translate("tools", "There is no metal here. Begin on the segment that shall keep off.")
            )
            return False
        self._segment = under[0]
        return True

    def _add(self, canvas: Canvas, loop: Contour) -> None:
        layout, segment = canvas.document.current, self._segment
        if segment is None:
            fresh: LoopId = len(layout.housing.keep_outs)
        else:
            override = layout.override_of(segment)
            fresh = OwnKeepOut(segment, 0 if override is None else len(override.keep_outs))
        if self._did(canvas, AddKeepOut(loop, segment)):
            self.choose(canvas, fresh)

    def _seize(self, canvas: Canvas, at: QPointF) -> None:
        """Choose the loop whose corner or edge is under the pointer; corners and handles of the chosen loop first."""
        place_mm, reach_mm = canvas.view.to_layout(at.x(), at.y()), SEIZE_PX * canvas.ratio / canvas.view.px_per_mm
        loops = self.loops(canvas)
        own = loops.get(self.loop) if self.loop is not None else None
        if own is not None and self._seize_handle(canvas, own, place_mm, reach_mm):
            return
        distance = {index: math.dist(nearest_on(loop, place_mm), place_mm) for index, loop in loops.items()}
        nearest = min(distance, key=lambda index: distance[index])
        if distance[nearest] > reach_mm:
            self.choose(canvas, None)
            return
        if nearest == self.loop:  # a second press drags it
            self._begun, self._from = loops[nearest], place_mm
        self.choose(canvas, nearest)

    def _seize_handle(self, canvas: Canvas, loop: Contour, place_mm: tuple[float, float], reach_mm: float) -> bool:
        """Seize a corner, or the handle amid an edge; return whether one is under the pointer."""
        if not has_corners(loop):
            return False
        edges, middles_mm = middles(canvas, loop)
        for points, is_corner in ((loop.vertices_mm, True), (middles_mm, False)):
            away = np.hypot(*(points - place_mm).T)
            if len(away) and away.min() <= reach_mm:
                k = int(away.argmin())
                self._begun, self._from = loop, (float(points[k, 0]), float(points[k, 1]))
                self._edge = None if is_corner else int(edges[k])
                self.choose(canvas, self.loop, k if is_corner else None)
                return True
        return False

    def _dragged(self, place: tuple[float, float]) -> Contour | None:
        dx, dy = place[0] - self._from[0], place[1] - self._from[1]
        if dx == dy == 0:
            return None
        if self._edge is not None:
            return with_corner(self._begun, self._edge, 0.5, place)
        if self.corner is None:
            return self._begun.moved(dx, dy)
        vertices = self._begun.vertices_mm.copy()
        vertices[self.corner] += (dx, dy)
        return Contour(vertices, self._begun.bulges)

    def _drawn(self, place: tuple[float, float]) -> Contour | None:
        (x0, y0), (x1, y1) = self._from, place
        if self.shape.endswith("circle"):
            radius = math.dist(self._from, place)
            return Contour.circle(x0, y0, radius) if radius >= LEAST_MM else None
        if min(abs(x1 - x0), abs(y1 - y0)) < LEAST_MM:
            return None
        return Contour.rectangle(abs(x1 - x0), abs(y1 - y0)).moved(min(x0, x1), min(y0, y1))

    # -- what is shown ------------------------------------------------------------------------------------------

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        shown = self._preview or self.contour(canvas)
        if shown is None:
            return
        corner = self.corner if self._edge is None else self._edge + 1
        paint_loop(painter, canvas, shown, corner, is_preview=self._preview is not None)
        if self._preview is not None:
            paint_note(painter, canvas, self._at, self._words(canvas, shown, corner))

    def _words(self, canvas: Canvas, loop: Contour, corner: int | None) -> str:
        unit = canvas.unit
        circle = loop.as_circle
        if circle is not None and self._begun is None:
            return f"⌀ {number_text(2 * circle[2], unit)} {unit}"
        if self._begun is None:
            x0, y0, x1, y1 = loop.bounds_mm
            return f"{number_text(x1 - x0, unit)} × {number_text(y1 - y0, unit)} {unit}"
        place = loop.vertices_mm[corner or 0] if corner is not None or circle is None else circle[:2]
        named = loop_name(self.loop)
        name = (
            named
            if corner is None
            else translate("tools", "corner {corner} of {named}").format(corner=corner + 1, named=named)
        )
        return f"{name}: x {number_text(place[0], unit)}, y {number_text(place[1], unit)} {unit}"
