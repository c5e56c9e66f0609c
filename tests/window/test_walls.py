"""The housing edited on the canvas and measured: keep-outs drawn, corners dragged, exact numbers; hatching; inches."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from layout_app.geometry.contours import Contour
from layout_app.window.panels.loop_section import changed_loop

from .gestures import cell_pixel, drag_to, pixel

LEFT = Qt.MouseButton.LeftButton
ALT = Qt.KeyboardModifier.AltModifier


@pytest.fixture
def walls(workbench):
    """The workbench with the tool for the housing in use, snapping held off."""
    workbench.actions["walls"].trigger()
    return workbench


def drag(qtbot, canvas, start_mm, end_mm, modifiers=ALT):
    qtbot.mousePress(canvas, LEFT, modifiers, pixel(canvas, start_mm))
    drag_to(canvas, pixel(canvas, end_mm), modifiers=modifiers)
    canvas.grab()  # the preview is painted
    qtbot.mouseRelease(canvas, LEFT, modifiers, pixel(canvas, end_mm))


def keep_outs(workbench):
    return workbench.document.current.housing.keep_outs


def test_a_round_keep_out_is_drawn_from_its_middle_and_removed_again(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    walls.editing.set_shape("circle")
    assert "from the middle" in walls.tool_line.hint.text()
    drag(qtbot, canvas, (1100.0, 560.0), (1106.0, 560.0))
    x, y, radius = keep_outs(walls)[0].as_circle
    assert (x, y, radius) == pytest.approx((1100.0, 560.0, 6.0), abs=2 / canvas.view.px_per_mm)
    assert walls.document.undo_label == "Add keep-out"
    assert walls.document.current.cells is before.cells
    qtbot.keyClick(walls.window, Qt.Key.Key_Delete)
    assert keep_outs(walls) == ()
    walls.document.undo()
    walls.document.undo()
    assert walls.document.current is before


def test_a_rectangle_is_drawn_corner_to_corner_and_resized_by_numbers(walls, qtbot):
    canvas = walls.canvas
    walls.editing.set_shape("rectangle")
    drag(qtbot, canvas, (1080.0, 550.0), (1110.0, 570.0))
    field = walls.exact.loop.fields["width"]
    field._ask(42.5)
    x0, _, x1, _ = keep_outs(walls)[0].bounds_mm
    assert x1 - x0 == pytest.approx(42.5)
    field._ask(-1.0)
    assert field.wrong == "It must be more than 0."
    assert keep_outs(walls)[0].bounds_mm[2] - x0 == pytest.approx(42.5)


def test_a_corner_of_the_outline_is_dragged_and_escape_leaves_no_trace(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    outline = before.housing.outline
    corner = outline.vertices_mm[3]
    qtbot.mouseClick(
        canvas, LEFT, pos=pixel(canvas, (outline.vertices_mm[2] + corner) / 2)
    )  # choose the loop by an edge
    assert walls.editing.tools["walls"].loop == -1
    qtbot.mousePress(canvas, LEFT, ALT, pixel(canvas, corner))
    drag_to(canvas, pixel(canvas, corner + (20.0, 10.0)), modifiers=ALT)
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, LEFT, ALT, pixel(canvas, corner))
    assert walls.document.current is before
    drag(qtbot, canvas, corner, corner + (20.0, 10.0))
    moved = walls.document.current.housing.outline.vertices_mm - outline.vertices_mm
    np.testing.assert_allclose(moved[3], (20.0, 10.0), atol=2 / canvas.view.px_per_mm)
    assert not np.delete(moved, 3, axis=0).any()
    assert walls.document.undo_label == "Change the outline"


def test_an_outline_that_would_cross_itself_is_refused_with_its_place(walls, qtbot):
    canvas, before = walls.canvas, walls.document.current
    tool, outline = walls.editing.tools["walls"], before.housing.outline
    tool.choose(canvas, -1, 0)
    walls.exact.loop.fields["corner_y"]._ask(float(outline.vertices_mm[:, 1].max()) + 50.0)  # beyond the far side
    assert walls.document.current is before
    assert "cross or touch itself" in walls.exact.loop.fields["corner_y"].wrong


def test_numbers_of_a_loop_change_what_they_name():
    circle = Contour.circle(5.0, 6.0, 2.0)
    assert changed_loop(circle, "diameter", 10.0, None).as_circle == pytest.approx((5, 6, 5))
    assert changed_loop(circle, "x", 1.0, None).as_circle == pytest.approx((1, 6, 2))
    box = Contour.rectangle(4.0, 3.0)
    assert changed_loop(box, "height", 7.0, None).bounds_mm == (0, 0, 4, 7)
    assert changed_loop(box, "corner_y", 5.0, 2).vertices_mm[2].tolist() == [4, 5]
    assert changed_loop(box, "bulge", 1.0, 1).area_mm2 == pytest.approx(12 + np.pi * 1.5**2 / 2)  # half a disc on 3 mm


def test_two_clicks_measure_gap_and_pitch_and_change_nothing(workbench, qtbot):
    canvas, tool = workbench.canvas, workbench.tools["measure"]
    workbench.actions["measure"].trigger()
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 4))
    drag_to(canvas, cell_pixel(canvas, 14), Qt.MouseButton.NoButton)
    canvas.grab()
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 14))
    assert (tool.result.length_mm, tool.result.pitch_mm) == (pytest.approx(1.0), pytest.approx(22.0))
    canvas.grab()
    assert "gap 1.00 mm" in tool.result.text("mm")
    assert "gap 0.0394 inch" in tool.result.text("inch")  # 1 mm / 25.4
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    assert tool.result is None
    assert workbench.document.undo_label is None


def test_the_wall_is_measured_when_the_pointer_is_at_it(workbench, qtbot):
    canvas, tool = workbench.canvas, workbench.tools["measure"]
    workbench.actions["measure"].trigger()
    x0, y0, _, y1 = workbench.document.current.housing.outline.bounds_mm
    qtbot.mouseClick(canvas, LEFT, pos=pixel(canvas, (x0, (y0 + y1) / 2)))
    assert tool.first.name == "the wall"
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 0))
    x, _ = workbench.document.current.cells.centres_mm[0]
    assert tool.result.length_mm == pytest.approx(x - x0 - 10.5)


def test_inches_are_shown_and_not_stored(workbench, qtbot):
    before = workbench.document.current
    workbench.actions["inches"].trigger()
    drag_to(workbench.canvas, cell_pixel(workbench.canvas, 25), Qt.MouseButton.NoButton)
    assert "inch" in workbench.readout.text()
    workbench.canvas.grab()
    assert workbench.document.current is before


def test_hatching_is_off_at_first_and_changes_the_picture_when_on(workbench):
    canvas, action = workbench.canvas, workbench.menus.layers["hatching"]
    assert not action.isChecked()
    before = canvas.grab().toImage()
    action.trigger()
    assert canvas.grab().toImage() != before
    action.trigger()
    assert canvas.grab().toImage() == before


def test_a_cell_is_placed_anywhere_with_alt(workbench, qtbot):
    workbench.actions["place"].trigger()
    canvas = workbench.canvas
    x0, y0, _, _ = canvas.scene.layout.housing.outline.bounds_mm
    place = (x0 - 30.0, y0 + 40.0)
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, place))
    assert workbench.document.current.cells.centres_mm[-1] == pytest.approx(place, abs=2 / canvas.view.px_per_mm)
    qtbot.mouseClick(canvas, LEFT, ALT, pixel(canvas, place))
    assert len(workbench.document.current.cells) == 121
    assert "overlap" in workbench.tool_line.hint.text()
