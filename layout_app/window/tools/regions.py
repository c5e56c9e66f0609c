"""Fill and swap: one click fills a region with the active group, two clicks exchange the groups of two cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, Qt
from PySide6.QtGui import QPainter

from layout_app.edits import PaintCells, SwapCells, choosing
from layout_app.window.overlays import ring_drawer
from layout_app.window.tools.base import Tool
from layout_app.window.tools.ghosts import paint_note

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate


class FillTool(Tool):
    """The region under the pointer is ringed; a click puts it into the active group."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self) -> None:
        self.group = 1
        self._region: frozenset[int] = frozenset()
        self._cell: int | None = None
        self._for: object = None

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        layout = canvas.document.current
        cell = canvas.cell_at(*canvas.view.to_layout(at.x(), at.y()))
        if self._for is not layout.cells or (cell != self._cell and cell not in self._region):
            self._region = choosing.region_around(layout, cell) if cell is not None else frozenset()
        if cell is None:
            self._region = frozenset()
        self._cell, self._for = cell, layout.cells
        canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        self.move(canvas, at, is_pressed=False)
        if not self._region:
            canvas.explained.emit(
                translate("tools", "There is no cell here. Click a cell: its region goes into the active group.")
            )
            return
        if int(canvas.document.current.cells.groups[self._cell]) == self.group:
            canvas.explained.emit(
                translate("tools", "This region is in the active group already. Choose another group first ([ and ]).")
            )
            return
        canvas.document.request(PaintCells(tuple(sorted(self._region)), self.group), canvas.explained.emit)
        self._region = frozenset()

    def leave(self, canvas: Canvas) -> None:
        self._region, self._cell = frozenset(), None

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        locked = canvas.document.current.cells.locked
        ring_cells(painter, canvas, frozenset(cell for cell in self._region if cell < len(locked) and not locked[cell]))


class SwapTool(Tool):
    """The first click takes a cell up, the second swaps groups with it; Esc puts it back."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self) -> None:
        self._first: int | None = None
        self._at: QPointF | None = None

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        self._at = at
        canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        cell = canvas.cell_at(*canvas.view.to_layout(at.x(), at.y()))
        if cell is None:
            canvas.explained.emit(
                translate("tools", "There is no cell here. Click the cells that shall swap their groups.")
            )
        elif canvas.document.current.cells.locked[cell]:
            canvas.explained.emit(
                translate(
                    "tools", "Cell {cell} is locked and keeps its group. Unlock it first, or click another."
                ).format(cell=cell + 1)
            )
        elif self._first is None or self._first >= len(canvas.document.current.cells):
            self._first = cell
        else:
            first, self._first = self._first, None
            groups = canvas.document.current.cells.groups
            if groups[first] == groups[cell]:
                canvas.explained.emit(translate("tools", "Both cells are in the same group: there is nothing to swap."))
            canvas.document.request(SwapCells(first, cell), canvas.explained.emit)
        canvas.update()

    def give_up(self, canvas: Canvas) -> bool:
        had, self._first = self._first is not None, None
        canvas.update()
        return had

    def leave(self, canvas: Canvas) -> None:
        self._at = None

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if self._first is None or self._first >= len(canvas.scene.layout.cells):
            return
        ring_cells(painter, canvas, frozenset({self._first}))
        if self._at is not None:
            paint_note(
                painter, canvas, self._at, translate("tools", "Cell {first} swaps with…").format(first=self._first + 1)
            )


def ring_cells(painter: QPainter, canvas: Canvas, cells: frozenset[int]) -> None:
    """Ring cells that a click would change."""
    layout, colour, ratio = canvas.scene.layout, canvas.theme.colour("accent"), canvas.ratio
    known = [cell for cell in sorted(cells) if cell < len(layout.cells)]
    places = canvas.view.to_screen(layout.cells.centres_mm[np.array(known, dtype=np.int64)])
    size = layout.cell_type.diameter_mm * canvas.view.px_per_mm + 8 * ratio
    canvas.sprites.stamp(painter, places, size, ("chosen", colour.rgba(), ratio), ring_drawer(colour, ratio))
