"""The mouse on the canvas, in layout millimetres."""

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication


def pixel(canvas, place_mm):
    """Return where a layout point is on the widget."""
    x, y = canvas.view.to_screen(np.array([place_mm]))[0].tolist()
    return QPoint(round(x / canvas.ratio), round(y / canvas.ratio))


def cell_pixel(canvas, cell):
    """Return where a cell's centre is on the widget."""
    return pixel(canvas, canvas.scene.layout.cells.centres_mm[cell])


def drag_to(canvas, place, button=Qt.MouseButton.LeftButton, modifiers=Qt.KeyboardModifier.NoModifier):
    """Move the mouse with a button held, as a window system would."""
    at = QPointF(place)
    event = QMouseEvent(QEvent.Type.MouseMove, at, canvas.mapToGlobal(at), Qt.MouseButton.NoButton, button, modifiers)
    QApplication.sendEvent(canvas, event)


def stroke(qtbot, canvas, cells):
    """Press on the first cell, pass over the others, release on the last."""
    places = [cell_pixel(canvas, cell) for cell in cells]
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=places[0])
    for place in places[1:]:
        drag_to(canvas, place)
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=places[-1])


def wheel(canvas, place, n_steps):
    """Turn the wheel with the pointer at a place."""
    at = QPointF(place)
    event = QWheelEvent(
        at, canvas.mapToGlobal(at), QPoint(), QPoint(0, 120 * n_steps), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(canvas, event)
