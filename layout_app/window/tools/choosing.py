"""Choosing: a click marks a cell or a segment, and the panel beside tells about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt

from layout_app.window.tools.base import Tool

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas


class ChooseTool(Tool):
    """A click on a cell chooses it, with Ctrl adds it or takes it away; a click on metal beside cells a segment."""

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        place_mm = canvas.view.to_layout(at.x(), at.y())
        cell = canvas.cell_at(*place_mm)
        if cell is not None:
            adds = bool(modifiers & Qt.KeyboardModifier.ControlModifier)
            canvas.choose(canvas.chosen_cells ^ {cell} if adds else frozenset({cell}))
            return
        segments = canvas.segments_at(*place_mm)
        canvas.choose(segment=segments[0] if segments else None)
