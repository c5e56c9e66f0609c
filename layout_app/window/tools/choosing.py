"""Choosing: a click marks a cell or a segment, and the panel beside tells about it; terminals can be dragged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, Qt

from layout_app.edits import ChangeTerminal
from layout_app.window.tools.base import Tool

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout
    from layout_app.window.canvas import Canvas


REACH_PX = 12  # a terminal is seized within so many desktop pixels of its bolt hole


class ChooseTool(Tool):
    """A click on a cell chooses it, with Ctrl adds it or takes it away; a click on metal beside cells a segment.

    A terminal's tab follows the pointer along the edge of its segment.
    """

    def __init__(self) -> None:
        self._start: Layout | None = None  # as it was when a terminal was seized
        self._is_positive = False
        self._edit: ChangeTerminal | None = None

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        terminal = terminal_at(canvas, at)
        if terminal is not None:
            self._start, self._is_positive, self._edit = canvas.document.current, terminal, None
            canvas.choose(segment=canvas.scene.layout.n_series if terminal else 0)
            return
        place_mm = canvas.view.to_layout(at.x(), at.y())
        cell = canvas.cell_at(*place_mm)
        if cell is not None:
            adds = bool(modifiers & Qt.KeyboardModifier.ControlModifier)
            canvas.choose(canvas.chosen_cells ^ {cell} if adds else frozenset({cell}))
            return
        segments = canvas.segments_at(*place_mm)
        canvas.choose(segment=segments[0] if segments else None)

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        if is_pressed and self._start is not None:
            near_mm = canvas.view.to_layout(at.x(), at.y())
            self._edit = ChangeTerminal(self._is_positive, {"near_mm": near_mm})
            canvas.document.preview(self._edit.apply(self._start))

    def release(self, canvas: Canvas, at: QPointF) -> None:
        if self._start is not None and self._edit is not None:
            canvas.document.record(self._edit.label, canvas.document.layout)
        self._start = None

    def cancel(self, canvas: Canvas) -> None:
        self._start = None
        canvas.document.drop_preview()


def terminal_at(canvas: Canvas, at: QPointF) -> bool | None:
    """Return whether the positive terminal's bolt hole is under a pixel; None when neither is."""
    for segment in canvas.scene.segments:
        if segment.bolt_hole_mm is None or segment.face not in canvas.scene.faces:
            continue
        x, y = canvas.view.to_screen(np.array([segment.bolt_hole_mm[:2]]))[0].tolist()
        reach = max(REACH_PX * canvas.ratio, segment.bolt_hole_mm[2] * canvas.view.px_per_mm)
        if np.hypot(x - at.x(), y - at.y()) <= reach:
            return segment.number > 0
    return None
