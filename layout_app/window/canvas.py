"""Canvas: the drawing in the hands of the user; mouse and keys go to the tool in use."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QGuiApplication, QPainter
from PySide6.QtWidgets import QWidget

from layout_app.window.document import Document
from layout_app.window.drawing import Drawing
from layout_app.window.snapping import Snapping
from layout_app.window.tools import HandTool, Tool

translate = QCoreApplication.translate

ARROW_STEP_PX, WHEEL_STEP = 64, 1.2
HELD_BUTTONS = Qt.MouseButton.LeftButton | Qt.MouseButton.MiddleButton
MODIFIER_KEYS = {
    Qt.Key.Key_Alt: Qt.KeyboardModifier.AltModifier, Qt.Key.Key_Control: Qt.KeyboardModifier.ControlModifier,
    Qt.Key.Key_Shift: Qt.KeyboardModifier.ShiftModifier,
}  # fmt: skip
OWN_KEYS = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Space, Qt.Key.Key_Escape)


class Canvas(Drawing):
    """A drawing with tools. `spot_changed` tells the layout point under the pointer, or None.

    `explained` tells why something could not be done. `snapping` is the window's, not the layout's.
    """

    spot_changed = Signal(object)
    explained = Signal(str)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(document, parent)
        self.snapping = Snapping()
        self.modifiers = Qt.KeyboardModifier.NoModifier  # held down, as of the last event
        self.tool: Tool = HandTool()
        self._last_at = QPointF()
        self._held: Tool | None = None  # the tool the pressed button belongs to
        self._is_space_down = False
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(translate("canvas", "Layout drawing"))
        self.setAccessibleDescription(
            translate(
                "canvas", "Cells, groups and metal of the module. Arrow keys move the chosen cells, or else the view."
            )
        )

    def set_tool(self, tool: Tool) -> None:
        """Hand the mouse to another tool; a gesture under way is cancelled."""
        self.cancel_gesture()
        self.tool = tool
        self._show_cursor()
        self.update()

    def paint_gesture(self, painter: QPainter) -> None:
        """Draw what the tool has to show."""
        self.tool.paint(painter, self)

    # -- events -------------------------------------------------------------------------------------------------

    def event(self, event) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in OWN_KEYS:
            event.accept()
        return super().event(event)

    def _device(self, position: QPointF) -> QPointF:
        return position * self.ratio

    def wheelEvent(self, event) -> None:
        turns = event.angleDelta().y() / 120
        at = self._device(event.position())
        self._is_fitted = False
        self.set_view(self.view.zoomed(WHEEL_STEP**turns, at.x(), at.y()))
        self._tell_spot(at)

    def mousePressEvent(self, event) -> None:
        if self._takes(event):
            self._held.press(self, self._device(event.position()), event.modifiers())
            self._show_cursor()

    def mouseDoubleClickEvent(self, event) -> None:
        if self._takes(event):
            self._held.double_click(self, self._device(event.position()), event.modifiers())
            self._show_cursor()

    def _takes(self, event) -> bool:
        """Whether a press begins a gesture; then the tool that it belongs to is held."""
        self.modifiers, self._last_at = event.modifiers(), self._device(event.position())
        pans = event.button() == Qt.MouseButton.MiddleButton or self._is_space_down
        if self._held is not None or not (pans or event.button() == Qt.MouseButton.LeftButton):
            return False
        self._held = HandTool() if pans else self.tool
        return True

    def mouseMoveEvent(self, event) -> None:
        self.modifiers, self._last_at = event.modifiers(), self._device(event.position())
        (self._held or self.tool).move(self, self._last_at, is_pressed=self._held is not None)
        self._tell_spot(self._last_at)

    def mouseReleaseEvent(self, event) -> None:
        if self._held is not None and event.buttons() & ~event.button() & HELD_BUTTONS:
            return  # another button than the one that began the gesture
        self.modifiers = event.modifiers()
        held, self._held = self._held, None
        if held is not None:
            held.release(self, self._device(event.position()))
        self._show_cursor()

    def leaveEvent(self, event) -> None:
        self.tool.leave(self)
        self.spot_changed.emit(None)
        self.update()

    def keyPressEvent(self, event) -> None:
        steps = {
            Qt.Key.Key_Left: (1, 0), Qt.Key.Key_Right: (-1, 0), Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1),
        }  # fmt: skip
        self._heed_modifiers(event)
        if self._held is None and self.tool.key(self, event.key(), event.modifiers()):
            return
        if event.key() in steps:
            dx, dy = steps[event.key()]
            step = round(ARROW_STEP_PX * self.ratio)
            self.pan_by(dx * step, dy * step)
        elif event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._is_space_down = True
            self._show_cursor()
        elif event.key() == Qt.Key.Key_Escape:
            self._escape()
        else:
            super().keyPressEvent(event)

    def _heed_modifiers(self, event) -> None:
        """A gesture under way looks again when Alt, Ctrl or Shift goes down or up."""
        if event.key() in MODIFIER_KEYS:
            self.modifiers = QGuiApplication.queryKeyboardModifiers() if event.spontaneous() else _with_key(event)
            if self._held is not None:
                self._held.move(self, self._last_at, is_pressed=True)

    def keyReleaseEvent(self, event) -> None:
        self._heed_modifiers(event)
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._is_space_down = False
            self._show_cursor()
        super().keyReleaseEvent(event)

    def focusOutEvent(self, event) -> None:
        self._is_space_down = False
        super().focusOutEvent(event)

    def cancel_gesture(self) -> None:
        """Give up the gesture under way, leaving no trace."""
        if self._held is not None:
            self._held.cancel(self)
            self._held = None
        self._show_cursor()

    def _escape(self) -> None:
        if self._held is not None:
            self.cancel_gesture()
        elif not self.tool.give_up(self):
            self.choose()

    def _tell_spot(self, at: QPointF) -> None:
        self.spot_changed.emit(self.view.to_layout(at.x(), at.y()))

    def _show_cursor(self) -> None:
        if isinstance(self._held, HandTool):
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        else:
            self.setCursor(Qt.CursorShape.OpenHandCursor if self._is_space_down else self.tool.cursor)


def _with_key(event) -> Qt.KeyboardModifier:
    """The modifiers after a key event, which itself still tells those of before."""
    flag = MODIFIER_KEYS[event.key()]
    is_down = event.type() == QEvent.Type.KeyPress
    return event.modifiers() | flag if is_down else event.modifiers() & ~flag
