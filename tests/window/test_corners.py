"""Corners put in and taken out on the drawing, and keep-outs of single segments drawn, dragged and reshaped there."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from layout_app.edits import AddKeepOut, OwnKeepOut
from layout_app.edits.housings import OUTLINE
from layout_app.geometry.contours import Contour

from .gestures import drag_to, pixel

LEFT = Qt.MouseButton.LeftButton
ALT = Qt.KeyboardModifier.AltModifier
BOX = Contour.rectangle(30.0, 20.0).moved(1080.0, 550.0)


@pytest.fixture
def walls(workbench):
    """The workbench with a rectangular keep-out and the tool for the housing in use."""
    workbench.document.request(AddKeepOut(BOX))
    workbench.actions["walls"].trigger()
    return workbench


def keep_out(workbench):
    return workbench.document.current.housing.keep_outs[0]


def tool(workbench):
    return workbench.editing.tools["walls"]


def said(workbench):
    return workbench.tool_line.hint.text()


def near(canvas):
    return 2 / canvas.view.px_per_mm


def double_click(qtbot, canvas, place_mm):
    """What a window system sends: press, release, double click, release."""
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, place_mm))
    qtbot.mouseDClick(canvas, LEFT, ALT, pixel(canvas, place_mm))
    qtbot.mouseRelease(canvas, LEFT, ALT, pixel(canvas, place_mm))


def drag(qtbot, canvas, start_mm, end_mm, is_released=True):
    qtbot.mousePress(canvas, LEFT, ALT, pixel(canvas, start_mm))
    drag_to(canvas, pixel(canvas, end_mm), modifiers=ALT)
    canvas.grab()  # the preview is painted
    if is_released:
        qtbot.mouseRelease(canvas, LEFT, ALT, pixel(canvas, end_mm))


# -- corners put in -------------------------------------------------------------------------------------------------


def test_a_double_click_on_an_edge_puts_a_corner_there_as_one_step(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    double_click(qtbot, canvas, (1090.0, 550.0))
    assert len(keep_out(walls).bulges) == 5
    np.testing.assert_allclose(keep_out(walls).vertices_mm[1], (1090.0, 550.0), atol=near(canvas))
    assert keep_out(walls).vertices_mm[1, 1] == 550.0  # exactly on the edge
    assert keep_out(walls).area_mm2 == pytest.approx(600.0)
    assert walls.document.undo_label == "Add a corner to keep-out 1"
    assert (tool(walls).loop, tool(walls).corner) == (0, 1)
    walls.document.undo()
    assert walls.document.current is before


def test_a_click_on_a_corner_chooses_it_and_moves_nothing(walls, qtbot):
    before = walls.document.current
    qtbot.mouseClick(walls.canvas, LEFT, ALT, pixel(walls.canvas, (1090.0, 550.0)))
    qtbot.mouseClick(walls.canvas, LEFT, ALT, pixel(walls.canvas, (1111.0, 571.0)))  # some pixels beside it
    assert tool(walls).corner == 2
    assert walls.document.current is before


def test_a_double_click_on_a_corner_adds_none(walls, qtbot):
    before = walls.document.current
    qtbot.mouseClick(walls.canvas, LEFT, ALT, pixel(walls.canvas, (1090.0, 550.0)))
    double_click(qtbot, walls.canvas, (1080.0, 550.0))
    assert walls.document.current is before
    assert tool(walls).corner == 0


def test_the_dot_amid_an_edge_pulls_a_corner_out_and_escape_lets_it_go(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, (1090.0, 570.0)))
    canvas.grab()
    drag(qtbot, canvas, (1095.0, 570.0), (1095.0, 585.0), is_released=False)
    assert walls.document.current is before
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, LEFT, ALT, pixel(canvas, (1095.0, 585.0)))
    assert walls.document.current is before
    drag(qtbot, canvas, (1095.0, 570.0), (1095.0, 585.0))
    np.testing.assert_allclose(keep_out(walls).vertices_mm[3], (1095.0, 585.0), atol=near(canvas))
    np.testing.assert_array_equal(np.delete(keep_out(walls).vertices_mm, 3, axis=0), BOX.vertices_mm)
    assert walls.document.undo_label == "Add a corner to keep-out 1"
    assert tool(walls).corner == 3
    walls.document.undo()
    assert walls.document.current is before


def test_a_corner_on_a_round_corner_of_the_outline_leaves_two_arcs_of_its_circle(walls, qtbot):
    canvas, outline = walls.canvas, walls.document.current.housing.outline
    arc = int(np.flatnonzero(outline.is_arc)[0])
    amid = outline.points_along(np.array([arc]), np.array([0.5]))[0]
    for _ in range(6):
        walls.actions["zoom_in"].trigger()
    canvas.go_to([tuple(amid.tolist())])
    double_click(qtbot, canvas, amid)
    after = walls.document.current.housing.outline
    assert len(after.bulges) == len(outline.bulges) + 1
    assert after.area_mm2 == pytest.approx(outline.area_mm2, rel=1e-12)
    np.testing.assert_allclose(after.arc_radii_mm[[arc, arc + 1]], outline.arc_radii_mm[arc])
    assert walls.document.undo_label == "Add a corner to the outline"


def test_a_circle_gets_corners_where_it_is_double_clicked(walls, qtbot):
    canvas = walls.canvas
    walls.document.request(AddKeepOut(Contour.circle(1150.0, 600.0, 12.0)))
    canvas.grab()
    double_click(qtbot, canvas, (1150.0, 588.0))
    assert len(walls.document.current.housing.keep_outs[1].bulges) == 3
    canvas.grab()  # now it shows its corners
    drag(qtbot, canvas, (1150.0, 588.0), (1150.0, 580.0))
    assert walls.document.current.housing.keep_outs[1].as_circle is None
    assert walls.document.current.housing.keep_outs[1].bounds_mm[1] == pytest.approx(580.0, abs=1.0)


def test_a_key_adds_a_corner_after_the_chosen_one(walls, qtbot):
    qtbot.keyClick(walls.window, Qt.Key.Key_Insert)
    assert "No loop is chosen" in said(walls)
    tool(walls).choose(walls.canvas, 0, 3)
    qtbot.keyClick(walls.window, Qt.Key.Key_Insert)
    assert keep_out(walls).vertices_mm[4].tolist() == [1080.0, 560.0]  # amid the edge from corner 4 back to corner 1
    assert tool(walls).corner == 4


# -- corners taken out ----------------------------------------------------------------------------------------------


def test_delete_takes_the_chosen_corner_and_then_the_keep_out(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, (1090.0, 550.0)))
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, (1110.0, 570.0)))
    assert tool(walls).corner == 2
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert keep_out(walls).vertices_mm.tolist() == [[1080, 550], [1110, 550], [1080, 570]]
    assert walls.document.undo_label == "Remove corner 3 of keep-out 1"
    canvas.grab()
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, (1110.0, 550.0)))
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert len(keep_out(walls).bulges) == 3
    assert "Keep-out 1 has 3 corners; with fewer than 3 it would enclose nothing" in said(walls)
    tool(walls).choose(canvas, 0)
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert walls.document.current.housing.keep_outs == ()
    walls.document.undo()
    walls.document.undo()
    assert walls.document.current is before


def test_a_corner_stays_where_the_outline_would_cross_itself_without_it(walls, qtbot):
    hook = Contour([(1080, 550), (1100, 550), (1084, 562), (1100, 570), (1080, 570)])
    walls.document.request(AddKeepOut(hook))
    before = walls.document.current
    tool(walls).choose(walls.canvas, 1, 4)
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert walls.document.current is before
    assert "Keep-out 2 would cross or touch itself" in said(walls)


# -- exact numbers --------------------------------------------------------------------------------------------------


def type_into(qtbot, field, text):
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)


def test_the_panel_chooses_loop_and_corner_and_moves_adds_and_removes_it(walls, qtbot):
    panel = walls.exact.loop
    assert [panel.which.editor.itemText(k) for k in range(panel.which.editor.count())] == ["The outline", "Keep-out 1"]
    panel.which._ask(0)
    assert tool(walls).loop == 0
    type_into(qtbot, panel.fields["corner"], "3")
    assert tool(walls).corner == 2
    type_into(qtbot, panel.fields["corner_x"], "1112.25")
    assert keep_out(walls).vertices_mm[2].tolist() == [1112.25, 570.0]
    panel.add_corner.click()
    assert tool(walls).corner == 3
    type_into(qtbot, panel.fields["corner_y"], "575.5")
    np.testing.assert_allclose(keep_out(walls).vertices_mm[3], (1096.125, 575.5))
    panel.remove_corner.click()
    assert len(keep_out(walls).bulges) == 4
    type_into(qtbot, panel.fields["corner"], "9")
    assert panel.fields["corner"].wrong == "It must be from 1 to 4."
    panel.remove.click()
    assert walls.document.current.housing.keep_outs == ()


# -- keep-outs of one segment ---------------------------------------------------------------------------------------


def on_segment(workbench, number):
    """A place on the metal of a segment, clear of its windows: between two of its cells in a row."""
    segment = workbench.canvas.scene.segments[number]
    centres = segment.window_centres_mm
    middle = centres[np.hypot(*(centres - centres.mean(axis=0)).T).argmin()]
    return middle + (11.0, 0.0)


def own(workbench, number):
    override = workbench.document.current.override_of(number)
    return () if override is None else override.keep_outs


def test_a_keep_out_of_a_segment_is_drawn_where_the_drag_begins_dragged_and_reshaped(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    number = next(s.number for s in canvas.scene.segments if s.face == "top" and 0 < s.number < 6)
    start = on_segment(walls, number)
    area_mm2 = walls.document.segments[number].area_mm2
    canvas.go_to([tuple(start.tolist())])
    canvas.zoom_by(4.0)
    walls.tool_line.show_shape("own rectangle")
    walls.tool_line.shapes.activated.emit(walls.tool_line.shapes.currentIndex())
    drag(qtbot, canvas, start - (2.0, 3.0), start + (2.0, 3.0))
    assert walls.document.undo_label == f"Add keep-out to segment {number}"
    assert own(walls, number)[0].area_mm2 == pytest.approx(24.0, rel=0.3)
    assert walls.document.current.housing is before.housing
    assert tool(walls).loop == OwnKeepOut(number, 0)
    qtbot.waitUntil(lambda: walls.document.segments[number].area_mm2 < area_mm2, timeout=10_000)
    walls.editing.set_shape("edit")
    edge = own(walls, number)[0].vertices_mm[:2].mean(axis=0)
    drag(qtbot, canvas, edge + (1.2, 0.0), edge + (3.2, 0.0))  # between the dot amid the edge and its corner
    moved = own(walls, number)[0]
    assert walls.document.undo_label == f"Change keep-out 1 of segment {number}"
    assert len(moved.bulges) == 4
    np.testing.assert_allclose(moved.vertices_mm[:2].mean(axis=0) - edge, (2.0, 0.0), atol=near(canvas))
    double_click(qtbot, canvas, moved.vertices_mm[:2].mean(axis=0) + (1.0, 0.0))
    assert len(own(walls, number)[0].bulges) == 5
    assert walls.document.undo_label == f"Add a corner to keep-out 1 of segment {number}"
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert len(own(walls, number)[0].bulges) == 4
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert own(walls, number) == ()
    for _ in range(5):
        walls.document.undo()
    assert walls.document.current is before


def test_the_metal_of_a_segment_comes_along_while_its_keep_out_is_dragged(walls, qtbot):
    canvas = walls.canvas
    number = next(s.number for s in canvas.scene.segments if s.face == "top" and 0 < s.number < 6)
    start = on_segment(walls, number)
    canvas.go_to([tuple(start.tolist())])
    canvas.zoom_by(4.0)
    walls.document.request(AddKeepOut(Contour.rectangle(4.0, 4.0).moved(*(start - 2.0)), segment=number))
    qtbot.waitUntil(lambda: walls.document.is_settled, timeout=10_000)
    before, segments = walls.document.current, walls.document.segments
    edge = start + (1.0, -2.0)
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, edge))
    drag(qtbot, canvas, edge, edge + (1.5, 1.0), is_released=False)
    assert canvas.scene.segments[number] is not segments[number]
    assert canvas.scene.segments[number - 1] is segments[number - 1]
    assert walls.document.current is before
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, LEFT, ALT, pixel(canvas, edge))
    assert walls.document.layout is before


def test_a_keep_out_of_a_segment_begins_on_metal(walls, qtbot):
    before = walls.document.current
    walls.editing.set_shape("own circle")
    x0, y0, _, _ = before.housing.outline.bounds_mm
    drag(qtbot, walls.canvas, (x0 - 20.0, y0 - 10.0), (x0 - 10.0, y0 - 10.0))
    assert walls.document.current is before
    assert "Begin on the segment that shall keep off" in said(walls)


def test_only_keep_outs_of_the_face_shown_can_be_seized(walls, qtbot):
    canvas = walls.canvas
    number = next(s.number for s in canvas.scene.segments if s.face == "top" and 0 < s.number < 6)
    place = on_segment(walls, number)
    walls.document.request(AddKeepOut(Contour.rectangle(6.0, 5.0).moved(*place), segment=number))
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, place))
    assert tool(walls).loop == OwnKeepOut(number, 0)
    walls.actions["bottom"].trigger()
    canvas.grab()
    assert tool(walls).contour(canvas) is None
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, place))
    assert tool(walls).loop is None
    assert OUTLINE in tool(walls).loops(canvas)


def test_the_panel_of_a_segment_leads_to_its_keep_outs_on_the_drawing(workbench, qtbot):
    number = 2
    face = workbench.document.current.face_of(number)
    workbench.actions["bottom" if face == "top" else "top"].trigger()
    workbench.canvas.choose(segment=number)
    workbench.exact.segment.reshape.click()
    assert workbench.tool_name == "walls"
    assert face in workbench.canvas.scene.faces
    assert tool(workbench).shape == "own rectangle"
    assert f"Drag over segment {number}" in said(workbench)
    workbench.canvas.choose(segment=number)
    workbench.exact.segment.add_keep_out.button.click()
    assert len(own(workbench, number)) == 1
    workbench.exact.segment.reshape.click()
    assert (tool(workbench).shape, tool(workbench).loop) == ("edit", OwnKeepOut(number, 0))
    assert workbench.exact.loop.fields["diameter"].isVisibleTo(workbench.exact.loop)
    assert workbench.tool_line.shapes.currentData() == "edit"
