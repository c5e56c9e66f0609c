"""Brushes: paint cells into a group, place cells on sites, erase cells. One stroke is one edit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from layout_app.edits import Edit, EraseCells, PaintCells, PlaceCells
from layout_app.edits.locks import LockedCellsError
from layout_app.geometry.arrays import PointArray
from layout_app.model.errors import LayoutError
from layout_app.window.picking import indices_near
from layout_app.window.tools.base import Tool

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout
    from layout_app.window.canvas import Canvas

BRUSHES = {1: 0.0, 7: 1.25, 19: 2.2}  # cells under the brush on a hexagonal lattice: radius in pitches


class Brush(Tool):
    """Collects what the pointer passes over; the preview shows what releasing the button will give."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self) -> None:
        self.n_cells = 1  # a key of BRUSHES
        self._start: Layout | None = None  # as it was when the stroke began
        self._places: PointArray | None = None
        self._touched: dict[int, None] = {}  # in the order touched
        self._refusal = ""  # why nothing comes of the stroke, if nothing does
        self._last_mm = (0.0, 0.0)
        self._hover: QPointF | None = None

    def targets(self, canvas: Canvas) -> PointArray:
        """(n, 2): the places the brush can touch."""
        raise NotImplementedError

    def edit(self, touched: tuple[int, ...]) -> Edit:
        """Return the edit of a stroke over these targets."""
        raise NotImplementedError

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._start, self._places, self._touched = canvas.document.current, self.targets(canvas), {}
        self._refusal = ""
        self._last_mm = canvas.view.to_layout(at.x(), at.y())
        self._touch(canvas, [self._last_mm])

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        self._hover = at
        if is_pressed and self._start is not None:
            self._stroke(canvas, canvas.view.to_layout(at.x(), at.y()))
        canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        start, self._start = self._start, None
        if start is None:
            return
        if not self._touched or self._refusal:
            canvas.document.drop_preview()
            if self._refusal:
                canvas.explained.emit(self._refusal)
            return
        canvas.document.record_edit(self.edit(tuple(self._touched)), start, canvas.document.layout)

    def cancel(self, canvas: Canvas) -> None:
        self._start = None
        canvas.document.drop_preview()

    def leave(self, canvas: Canvas) -> None:
        self._hover = None

    def reach_mm(self, canvas: Canvas) -> float:
        """Radius of the brush: a centre inside is touched."""
        layout = canvas.scene.layout
        factor = BRUSHES[self.n_cells]
        return factor * layout.lattice.pitch_mm if factor else layout.cell_type.diameter_mm / 2

    def _stroke(self, canvas: Canvas, to_mm: tuple[float, float]) -> None:
        """Touch everything along the way, shown at once: the pointer may have jumped over cells."""
        (x0, y0), (x1, y1) = self._last_mm, to_mm
        n_steps = max(1, math.ceil(math.dist(self._last_mm, to_mm) / (canvas.scene.layout.lattice.pitch_mm / 2)))
        shares = [step / n_steps for step in range(1, n_steps + 1)]
        self._touch(canvas, [(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share) for share in shares])
        self._last_mm = to_mm

    def _touch(self, canvas: Canvas, places_mm: list[tuple[float, float]]) -> None:
        touched = dict(self._touched)
        for place_mm in places_mm:
            near = indices_near(self._places, *place_mm, self.reach_mm(canvas))
            touched |= dict.fromkeys(near[:1] if self.n_cells == 1 else near)
        if len(touched) == len(self._touched):
            return
        try:
            after = self.edit(tuple(touched)).apply(self._start)
        except LockedCellsError as error:  # nothing but locked cells so far; the stroke may yet reach others
            self._touched, self._refusal = touched, str(error)
            return
        except LayoutError as error:
            if len(places_mm) > 1:  # what can be touched of it is
                for place_mm in places_mm:
                    self._touch(canvas, [place_mm])
                return
            canvas.document.refused.emit(str(error))
            return
        self._touched, self._refusal = touched, ""
        canvas.document.preview(after)

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        """The brush as a ring."""
        if self._hover is None:
            return
        radius = self.reach_mm(canvas) * canvas.view.px_per_mm
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((QColor(255, 255, 255, 200), 3.5), (self.ring_colour(canvas), 1.8)):
            painter.setPen(QPen(colour, width * canvas.ratio))
            painter.drawEllipse(self._hover, radius, radius)

    def ring_colour(self, canvas: Canvas) -> QColor:
        """Colour of the ring."""
        return canvas.theme.colour("accent")


class PaintTool(Brush):
    """Paints cells into the active group; 0 takes them out of every group."""

    def __init__(self) -> None:
        super().__init__()
        self.group = 1

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        if modifiers & Qt.KeyboardModifier.ControlModifier:  # take the group from the cell under the pointer
            cell = canvas.cell_at(*canvas.view.to_layout(at.x(), at.y()))
            if cell is not None:
                self.group = int(canvas.scene.layout.cells.groups[cell])
                canvas.choice_changed.emit()
            return
        super().press(canvas, at, modifiers)

    def targets(self, canvas: Canvas) -> PointArray:
        return canvas.document.current.cells.centres_mm

    def edit(self, touched: tuple[int, ...]) -> Edit:
        return PaintCells(touched, self.group)


class PlaceTool(Brush):
    """Places cells of the active group on free sites; with Alt held, one cell anywhere."""

    def __init__(self) -> None:
        super().__init__()
        self.group = 0
        self._is_free = False

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._is_free = bool(modifiers & Qt.KeyboardModifier.AltModifier)
        if not self._is_free:
            super().press(canvas, at, modifiers)

    def release(self, canvas: Canvas, at: QPointF) -> None:
        if not self._is_free:
            super().release(canvas, at)
            return
        self._is_free = False
        edit = PlaceCells((canvas.view.to_layout(at.x(), at.y()),), self.group)
        canvas.document.request(edit, canvas.explained.emit)

    def cancel(self, canvas: Canvas) -> None:
        self._is_free = False
        super().cancel(canvas)

    def targets(self, canvas: Canvas) -> PointArray:
        return canvas.document.free_sites_mm

    def edit(self, touched: tuple[int, ...]) -> Edit:
        return PlaceCells(tuple(tuple(self._places[index].tolist()) for index in touched), self.group)


class EraseTool(Brush):
    """Erases cells."""

    def targets(self, canvas: Canvas) -> PointArray:
        return canvas.document.current.cells.centres_mm

    def edit(self, touched: tuple[int, ...]) -> Edit:
        return EraseCells(touched)

    def ring_colour(self, canvas: Canvas) -> QColor:
        return canvas.theme.colour("error")
