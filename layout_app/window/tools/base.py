"""The tool everything else is made from, and the hand that moves the view."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt

if TYPE_CHECKING:
    from PySide6.QtGui import QPainter

    from layout_app.window.canvas import Canvas


class Tool:
    """Does nothing with the mouse. Positions are device pixels of the canvas."""

    cursor = Qt.CursorShape.ArrowCursor

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        """Begin a gesture."""

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        """Go on with it, or hover."""

    def release(self, canvas: Canvas, at: QPointF) -> None:
        """End the gesture with one edit."""

    def cancel(self, canvas: Canvas) -> None:
        """End the gesture without a trace."""

    def leave(self, canvas: Canvas) -> None:
        """The pointer left the canvas."""

    def double_click(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        """The second press of a double click."""
        self.press(canvas, at, modifiers)

    def key(self, canvas: Canvas, key: int, modifiers: Qt.KeyboardModifier) -> bool:
        """Heed a key, when no gesture is under way; return whether it was."""
        return False

    def give_up(self, canvas: Canvas) -> bool:
        """Heed Esc, when no gesture is under way; return whether there was something to give up."""
        return False

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        """Draw over the scene, in device pixels."""


class HandTool(Tool):
    """Drags the view."""

    cursor = Qt.CursorShape.OpenHandCursor

    def __init__(self) -> None:
        self._from: QPointF | None = None

    def press(self, canvas: Canvas, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        self._from = at

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        if is_pressed and self._from is not None:
            dx, dy = round(at.x() - self._from.x()), round(at.y() - self._from.y())
            canvas.pan_by(dx, dy)
            self._from += QPointF(dx, dy)
