"""A terminal with several tabs in the window: every bolt hole is drawn and can be dragged."""

import numpy as np
from PySide6.QtCore import Qt

from layout_app.edits import ChangeTerminal

from .gestures import drag_to, pixel


def test_the_tab_that_is_seized_moves_and_the_other_stays(workbench, qtbot):
    workbench.actions["bottom"].trigger()  # six groups: both terminals lie on the bottom face
    canvas, document = workbench.canvas, workbench.document
    x_mm, y_mm, _ = canvas.scene.segments[0].bolt_hole_mm
    document.request(ChangeTerminal(False, {"near_mm": (x_mm, y_mm - 50), "more_near_mm": ((x_mm, y_mm + 20),)}))
    qtbot.waitUntil(lambda: document.is_settled and len(canvas.scene.segments[0].bolt_holes_mm) == 2, timeout=10_000)
    stays, seized = canvas.scene.segments[0].bolt_holes_mm
    goal = (seized[0], seized[1] + 30.0)
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=pixel(canvas, seized[:2]))
    drag_to(canvas, pixel(canvas, goal))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=pixel(canvas, goal))
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    now = canvas.scene.segments[0].bolt_holes_mm
    assert now[0] == stays
    assert np.hypot(*np.subtract(now[1][:2], goal)) < 2.0  # the pointer rests on a whole pixel
    assert document.undo_label == "Change negative terminal's further tabs"
