"""Painting, placing and erasing with the mouse; undo and redo; Esc."""

import numpy as np
from PySide6.QtCore import QPoint, QPointF, Qt

from .gestures import cell_pixel, drag_to, pixel, stroke


def groups_of(workbench, cells):
    return workbench.document.current.cells.groups[cells].tolist()


def test_a_stroke_paints_every_cell_it_passes_and_is_one_step(workbench, qtbot):
    workbench.actions["paint"].trigger()
    workbench.set_group(3)
    before = workbench.document.current
    stroke(qtbot, workbench.canvas, [5, 25])  # cell 15 lies between them in the row: the way is filled in
    assert groups_of(workbench, [5, 15, 25]) == [3, 3, 3]
    assert workbench.actions["undo"].text() == "&Undo paint 3 cells into group 3"
    workbench.actions["undo"].trigger()
    assert workbench.document.current is before
    workbench.actions["redo"].trigger()
    assert groups_of(workbench, [5, 15, 25]) == [3, 3, 3]


def test_the_stroke_is_previewed_and_escape_leaves_no_trace(workbench, qtbot):
    workbench.actions["paint"].trigger()
    workbench.set_group(3)
    canvas, before = workbench.canvas, workbench.document.current
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 35))
    assert canvas.scene.layout.cells.groups[35] == 3
    assert workbench.document.current is before
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 35))
    assert workbench.document.layout is before
    assert workbench.document.undo_label is None


def test_the_metal_moves_under_the_brush_before_the_button_is_released(workbench, qtbot):
    workbench.actions["paint"].trigger()
    workbench.set_group(3)
    canvas, before = workbench.canvas, workbench.canvas.scene.segments
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 35))
    qtbot.waitUntil(lambda: canvas.scene.segments is not before, timeout=5000)
    changed = [s.number for s, old in zip(canvas.scene.segments, before, strict=True) if s is not old]
    assert 35 in canvas.scene.segments[2].window_cells  # cell 36 was in group 2, between segments 1 and 2
    assert 35 in canvas.scene.segments[3].window_cells  # it is in group 3 now
    assert set(changed) <= {1, 2, 3}
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 35))


def test_a_wide_brush_takes_the_neighbours_too(workbench, qtbot):
    workbench.actions["paint"].trigger()
    workbench.set_group(3)
    workbench.set_brush(7)
    before = workbench.document.current.cells.groups
    stroke(qtbot, workbench.canvas, [35])
    changed = np.flatnonzero(workbench.document.current.cells.groups != before)
    centres = workbench.document.current.cells.centres_mm
    distance = np.hypot(*(centres - centres[35]).T)
    np.testing.assert_array_equal(changed, np.flatnonzero((distance < 1.1 * 22.0) & (before != 3)))


def test_control_click_takes_the_group_from_a_cell(workbench, qtbot):
    workbench.actions["paint"].trigger()
    canvas = workbench.canvas
    at = cell_pixel(canvas, 85)
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, at)
    assert workbench.group == 5
    assert workbench.document.undo_label is None


def test_cells_are_placed_on_free_sites_only(workbench, qtbot):
    workbench.actions["place"].trigger()
    workbench.set_group(6)
    site = workbench.document.free_sites_mm[0].tolist()
    qtbot.mouseClick(workbench.canvas, Qt.MouseButton.LeftButton, pos=pixel(workbench.canvas, site))
    layout = workbench.document.current
    assert len(layout.cells) == 121
    assert layout.cells.centres_mm[-1].tolist() == site
    assert layout.cells.groups[-1] == 6
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10_000)
    assert site not in workbench.document.free_sites_mm.tolist()
    qtbot.mouseClick(workbench.canvas, Qt.MouseButton.LeftButton, pos=pixel(workbench.canvas, site))
    assert len(workbench.document.current.cells) == 121


def test_erased_cells_leave_their_sites_free(workbench, qtbot):
    n_free = len(workbench.document.free_sites_mm)
    workbench.actions["erase"].trigger()
    stroke(qtbot, workbench.canvas, [50, 70])
    assert len(workbench.document.current.cells) == 117
    assert workbench.document.undo_label == "Erase 3 cells"
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10_000)
    assert len(workbench.document.free_sites_mm) == n_free + 3


def test_a_click_tells_the_facts_of_a_cell_and_of_metal(workbench, qtbot):
    canvas = workbench.canvas
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 25))
    assert canvas.chosen_cells == {25}
    assert "Cell 26" in workbench.facts.label.text()
    a, b, c = canvas.scene.layout.cells.centres_mm[[3, 4, 14]]  # three neighbours: metal between them
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=pixel(canvas, (a + b + c) / 3))
    assert not canvas.chosen_cells
    assert f"Segment {canvas.chosen_segment}" in workbench.facts.label.text()


def test_the_hand_drags_without_editing(workbench, qtbot):
    workbench.actions["hand"].trigger()
    canvas, before = workbench.canvas, workbench.canvas.view
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 25))
    drag_to(canvas, cell_pixel(canvas, 80))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=cell_pixel(canvas, 80))
    assert canvas.view != before
    assert workbench.document.undo_label is None


def test_keys_choose_tools_and_groups(workbench, qtbot):
    for key, tool in ((Qt.Key.Key_P, "paint"), (Qt.Key.Key_E, "erase"), (Qt.Key.Key_C, "choose")):
        qtbot.keyClick(workbench.canvas, key)
        assert workbench.tool_name == tool
    qtbot.keyClick(workbench.canvas, Qt.Key.Key_BracketRight)
    assert workbench.group == 2


def test_a_terminal_is_dragged_by_its_sign_too(workbench, qtbot):
    workbench.actions["bottom"].trigger()  # six groups: both terminals lie on the bottom face
    canvas = workbench.canvas
    _, x, y = next(badge for badge in canvas.badges() if not badge[0])
    sign = QPointF(x / canvas.ratio, y / canvas.ratio).toPoint()
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=sign)
    drag_to(canvas, sign + QPoint(0, 40))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=sign + QPoint(0, 40))
    assert workbench.document.undo_label == "Change negative terminal's place"


def test_a_terminal_follows_the_pointer_and_is_one_step(workbench, qtbot):
    workbench.actions["bottom"].trigger()  # six groups: both terminals lie on the bottom face
    canvas, before = workbench.canvas, workbench.document.current
    hole = canvas.scene.segments[0].bolt_hole_mm
    goal = (hole[0], hole[1] + 60.0)
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=pixel(canvas, hole[:2]))
    drag_to(canvas, pixel(canvas, goal))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=pixel(canvas, goal))
    assert workbench.document.undo_label == "Change negative terminal's place"
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10_000)
    moved = canvas.scene.segments[0].bolt_hole_mm
    assert abs(moved[1] - goal[1]) < 2.0  # the pointer rests on a whole pixel
    workbench.document.undo()
    assert workbench.document.current is before
