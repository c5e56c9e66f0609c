"""Choosing: clicks, boxes and loops choose cells; chosen cells are dragged; so are terminals."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF

from layout_app.edits import ChangeTerminal, MoveCells, choosing
from layout_app.model.errors import LayoutError
from layout_app.window.tools.base import Tool
from layout_app.window.tools.moving import CellDrag, nudge

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout
    from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

REACH_PX = 12  # a terminal is seized within so many desktop pixels of its bolt hole or sign
DRAG_PX = 4  # a press that moves less is a click
FEW_FOLLOWED = 600  # cells; the metal of so many is made anew in a moment
LOOP_STEP_PX = 3  # corners of a loop are at least so far apart
ALT, CTRL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)


class ChooseTool(Tool):
    """A click chooses a cell, or the metal beside it; a double click its whole group.

    Dragging from a chosen cell moves all that are chosen; dragging from anywhere else draws a box, or a loop, around
    cells. Ctrl adds what is not chosen and takes away what is; Shift only adds. A terminal's tab follows the pointer.
    """

    def __init__(self) -> None:
        self.draws_loop = False
        self._gesture: _Gesture | None = None

    @property
    def gesture(self) -> _Gesture | None:
        """What is under way between press and release."""
        return self._gesture

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        terminal = terminal_at(canvas, at)
        if terminal is not None:
            is_positive, tab = terminal
            canvas.choose(segment=canvas.scene.layout.n_series if is_positive else 0)
            self._gesture = _TabDrag(canvas, is_positive, tab)
            return
        cell = canvas.cell_at(*canvas.view.to_layout(at.x(), at.y()))
        keeps = bool(modifiers & (CTRL | SHIFT))
        if cell is not None and cell in canvas.chosen_cells and not keeps:
            self._gesture = _CellsDrag(canvas, cell, at)
        else:
            is_loop = self.draws_loop != bool(modifiers & ALT)
            self._gesture = _Marking(canvas, at, modifiers, is_loop)

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        if is_pressed and self._gesture is not None:
            self._gesture.move(canvas, at)
            canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        gesture, self._gesture = self._gesture, None
        if gesture is not None:
            gesture.release(canvas, at)
            canvas.update()

    def cancel(self, canvas: Canvas) -> None:
        gesture, self._gesture = self._gesture, None
        if gesture is not None:
            gesture.cancel(canvas)
            canvas.update()

    def double_click(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        cell = canvas.cell_at(*canvas.view.to_layout(at.x(), at.y()))
        if cell is None:
            self.press(canvas, at, modifiers)
            return
        group = choosing.whole_groups(canvas.scene.layout, frozenset({cell}))
        canvas.choose(canvas.chosen_cells | group if modifiers & (CTRL | SHIFT) else group)

    def key(self, canvas: Canvas, key: int, modifiers: Qt.KeyboardModifier) -> bool:
        return bool(canvas.chosen_cells) and self._gesture is None and nudge(canvas, key, modifiers)

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if self._gesture is not None:
            self._gesture.paint(painter, canvas)


class _Gesture:
    """From press to release."""

    def move(self, canvas: Canvas, at: QPointF) -> None:
        """Go on."""

    def release(self, canvas: Canvas, at: QPointF) -> None:
        """End with a choice or an edit."""

    def cancel(self, canvas: Canvas) -> None:
        """End without a trace."""

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        """Draw over the scene."""


class _Marking(_Gesture):
    """A click, or a box or loop drawn around cells; what it would choose is shown at once."""

    def __init__(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier, is_loop: bool) -> None:
        self._before, self._modifiers, self._is_loop = canvas.chosen_cells, modifiers, is_loop
        self._segment_before = canvas.chosen_segment
        self._trail = [canvas.view.to_layout(at.x(), at.y())]
        self._last, self._is_drag = at, False
        self._start = at

    def move(self, canvas: Canvas, at: QPointF) -> None:
        self._is_drag = self._is_drag or far_apart(canvas, self._start, at)
        if not self._is_drag:
            return
        if not self._is_loop:
            self._trail[1:] = [canvas.view.to_layout(at.x(), at.y())]
        elif (at - self._last).manhattanLength() >= LOOP_STEP_PX * canvas.ratio:
            self._trail.append(canvas.view.to_layout(at.x(), at.y()))
            self._last = at
        canvas.choose(self._combined(self._inside(canvas)))

    def release(self, canvas: Canvas, at: QPointF) -> None:
        self.move(canvas, at)
        if not self._is_drag:
            self._click(canvas)

    def cancel(self, canvas: Canvas) -> None:
        canvas.choose(self._before, self._segment_before)

    def _click(self, canvas: Canvas) -> None:
        place_mm = self._trail[0]
        cell = canvas.cell_at(*place_mm)
        if cell is not None:
            canvas.choose(self._combined(frozenset({cell})))
        elif not self._modifiers & (CTRL | SHIFT):
            segments = canvas.segments_at(*place_mm)
            canvas.choose(segment=segments[0] if segments else None)

    def _inside(self, canvas: Canvas) -> choosing.Choice:
        layout = canvas.scene.layout
        if self._is_loop:
            return choosing.in_loop(layout, np.array(self._trail))
        return choosing.in_box(layout, self._trail[0], self._trail[-1])

    def _combined(self, found: choosing.Choice) -> choosing.Choice:
        if self._modifiers & CTRL:
            return self._before ^ found
        return self._before | found if self._modifiers & SHIFT else found

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if not self._is_drag:
            return
        points = [QPointF(x, y) for x, y in canvas.view.to_screen(np.array(self._trail)).tolist()]
        painter.setPen(QPen(canvas.theme.colour("accent"), 1.5 * canvas.ratio, Qt.PenStyle.DashLine))
        painter.setBrush(canvas.theme.colour("accent", 0.12))
        if self._is_loop:
            painter.drawPolygon(QPolygonF(points), Qt.FillRule.OddEvenFill)
        else:
            painter.drawRect(QRectF(points[0], points[-1]).normalized())


class _CellsDrag(_Gesture):
    """Chosen cells dragged by one of them. A press that stays put chooses that one alone."""

    def __init__(self, canvas: Canvas, cell: int, at: QPointF) -> None:
        self._cell, self._start, self._at = cell, at, at
        self._begun: Layout = canvas.document.current
        self._drag: CellDrag | None = None

    def move(self, canvas: Canvas, at: QPointF) -> None:
        self._at = at
        if self._begun.cells.locked[self._cell]:
            return  # it stays, and says so when the button is released
        if self._drag is None and far_apart(canvas, self._start, at):
            self._drag = CellDrag(canvas, self._cell, canvas.view.to_layout(self._start.x(), self._start.y()))
        if self._drag is not None:
            before = self._drag.shift_mm
            self._drag.move_to(canvas, canvas.view.to_layout(at.x(), at.y()), bool(canvas.modifiers & ALT))
            if self._drag.shift_mm != before and len(self._begun.cells) <= FEW_FOLLOWED:
                self._follow(canvas)

    def _follow(self, canvas: Canvas) -> None:
        """Let the metal come along where there is room; of large modules only the cells are shown."""
        try:
            canvas.document.preview(MoveCells(self._drag.cells, *self._drag.shift_mm).apply(self._begun))
        except LayoutError:  # no room, which the ghosts show
            canvas.document.drop_preview()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        self.move(canvas, at)
        if self._drag is None and far_apart(canvas, self._start, at):
            canvas.explained.emit(
                translate("tools", "Cell {cell} is locked and cannot be moved. Drag another, or unlock it.").format(
                    cell=self._cell + 1
                )
            )
            return
        if self._drag is None:
            canvas.choose(frozenset({self._cell}))
            return
        edit = MoveCells(tuple(sorted(canvas.chosen_cells)), *self._drag.shift_mm)  # which names those that are locked
        canvas.document.request(edit, canvas.explained.emit)

    def cancel(self, canvas: Canvas) -> None:
        canvas.document.drop_preview()

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if self._drag is not None:
            self._drag.paint(painter, canvas, self._at)


class _TabDrag(_Gesture):
    """A terminal's tab dragged along the edge of its segment."""

    def __init__(self, canvas: Canvas, is_positive: bool, tab: int) -> None:
        self._start: Layout = canvas.document.current
        self._is_positive, self._tab = is_positive, tab
        self._edit: ChangeTerminal | None = None

    def move(self, canvas: Canvas, at: QPointF) -> None:
        near_mm = canvas.view.to_layout(at.x(), at.y())
        _, *more = self._start.terminals[self._is_positive].places_mm
        if self._tab:
            more[self._tab - 1] = near_mm
        self._edit = ChangeTerminal(
            self._is_positive, {"more_near_mm": tuple(more)} if self._tab else {"near_mm": near_mm}
        )
        canvas.document.preview(self._edit.apply(self._start))

    def release(self, canvas: Canvas, at: QPointF) -> None:
        if self._edit is not None:
            canvas.document.record(self._edit.label, canvas.document.layout)

    def cancel(self, canvas: Canvas) -> None:
        canvas.document.drop_preview()


def far_apart(canvas: Canvas, one: QPointF, other: QPointF) -> bool:
    """Whether two device pixels are so far apart that a press has become a drag."""
    return (other - one).manhattanLength() > DRAG_PX * canvas.ratio


def terminal_at(canvas: Canvas, at: QPointF) -> tuple[bool, int] | None:
    """Return whether the bolt hole or sign under a pixel is the positive terminal's, and of which tab; None without."""
    shown = [segment for segment in canvas.scene.segments if segment.face in canvas.scene.faces]
    holes = [(segment.number > 0, tab, hole) for segment in shown for tab, hole in enumerate(segment.bolt_holes_mm)]
    for (is_positive, tab, hole), badge in zip_longest(holes, canvas.badges()):
        x, y = canvas.view.to_screen(np.array([hole[:2]]))[0].tolist()
        least = REACH_PX * canvas.ratio
        spots = [(x, y, max(least, hole[2] * canvas.view.px_per_mm)), *([] if badge is None else [(*badge[1:], least)])]
        if any(np.hypot(x - at.x(), y - at.y()) <= reach for x, y, reach in spots):
            return is_positive, tab
    return None
