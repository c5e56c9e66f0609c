"""Choosing, moving, copying cells and editing groups with mouse and keys; each gesture one step, Esc no trace."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from .gestures import cell_pixel, drag_to, pixel

LEFT, NONE = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
CTRL, SHIFT, ALT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.AltModifier,
)


def drag(qtbot, canvas, start, *ways, modifiers=NONE, is_released=True):
    """Press, pass over places (device pixels), release."""
    qtbot.mousePress(canvas, LEFT, modifiers, start)
    for place in ways:
        drag_to(canvas, place, modifiers=modifiers)
    if is_released:
        qtbot.mouseRelease(canvas, LEFT, modifiers, ways[-1])


def off(canvas, cell, dx_mm, dy_mm):
    """The pixel so far from a cell's centre."""
    return pixel(canvas, canvas.scene.layout.cells.centres_mm[cell] + (dx_mm, dy_mm))


def centres(workbench):
    return workbench.document.current.cells.centres_mm


# 6 groups of 20 cells in 10 rows: cell = 10 · column + row, two columns a group; odd rows stand 11 mm further right


def test_a_box_chooses_the_cells_inside_it_and_control_takes_some_away(workbench, qtbot):
    canvas = workbench.canvas
    drag(qtbot, canvas, off(canvas, 0, -11, -9), off(canvas, 12, 13, 9))
    assert canvas.chosen_cells == {0, 1, 2, 10, 11, 12}
    drag(qtbot, canvas, off(canvas, 10, -9, -9), off(canvas, 22, 13, 9), modifiers=CTRL)
    assert canvas.chosen_cells == {0, 1, 2, 20, 21, 22}
    assert workbench.document.undo_label is None


def test_escape_while_drawing_a_box_brings_the_old_choice_back(workbench, qtbot):
    canvas = workbench.canvas
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 50))
    drag(qtbot, canvas, off(canvas, 0, -11, -9), off(canvas, 12, 13, 9), is_released=False)
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    assert canvas.chosen_cells == {50}


def test_a_loop_with_alt_takes_what_it_surrounds(workbench, qtbot):
    canvas = workbench.canvas
    corners = [off(canvas, 0, -11, -9), off(canvas, 2, -11, 9), off(canvas, 12, 13, 9), off(canvas, 10, 13, -9)]
    drag(qtbot, canvas, *corners, modifiers=ALT)
    assert canvas.chosen_cells == {0, 1, 2, 10, 11, 12}


def test_a_double_click_takes_the_whole_group(workbench, qtbot):
    canvas = workbench.canvas
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 25))
    qtbot.mouseDClick(canvas, LEFT, pos=cell_pixel(canvas, 25))
    assert canvas.chosen_cells == set(range(20, 40))


def test_keys_widen_and_narrow_the_choice(workbench, qtbot):
    canvas, window = workbench.canvas, workbench.window
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 55))
    qtbot.keyClick(window, Qt.Key.Key_Plus)
    assert len(canvas.chosen_cells) == 7  # a hexagonal lattice: six neighbours
    qtbot.keyClick(window, Qt.Key.Key_Minus)
    assert canvas.chosen_cells == {55}
    qtbot.keyClick(window, Qt.Key.Key_R, CTRL)
    assert canvas.chosen_cells == set(range(5, 120, 10))
    qtbot.keyClick(window, Qt.Key.Key_I, CTRL)
    assert len(canvas.chosen_cells) == 108
    qtbot.keyClick(window, Qt.Key.Key_A, CTRL)
    assert len(canvas.chosen_cells) == 120
    qtbot.keyClick(window, Qt.Key.Key_A, CTRL | SHIFT)
    assert not canvas.chosen_cells


def test_dragged_cells_snap_to_sites_and_come_back_with_one_undo(workbench, qtbot):
    workbench.actions["erase"].trigger()
    qtbot.mouseClick(workbench.canvas, LEFT, pos=cell_pixel(workbench.canvas, 119))
    workbench.actions["choose"].trigger()
    canvas, before = workbench.canvas, workbench.document.current
    free_mm = before.cells.centres_mm[118] + (11.0, 22.0 * np.sqrt(3) / 2)  # where cell 120 stood
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 60))
    start, end = cell_pixel(canvas, 60), pixel(canvas, free_mm + (3.0, -2.0))
    drag(qtbot, canvas, start, end, is_released=False)
    assert workbench.document.current is before  # only a preview
    qtbot.mouseRelease(canvas, LEFT, pos=end)
    np.testing.assert_allclose(centres(workbench)[60], free_mm, atol=1e-6)
    assert workbench.document.undo_label == "Move 1 cell"
    workbench.document.undo()
    assert workbench.document.current is before


def test_the_metal_comes_along_while_cells_are_dragged(workbench, qtbot):
    canvas = workbench.canvas
    canvas.choose(frozenset({0}))
    before, target = canvas.scene.segments, off(canvas, 0, -6, -6)
    drag(qtbot, canvas, cell_pixel(canvas, 0), target, modifiers=ALT, is_released=False)
    qtbot.waitUntil(lambda: canvas.scene.segments is not before, timeout=5000)
    window = canvas.scene.segments[1].windows_mm[canvas.scene.segments[1].window_cells.tolist().index(0)]
    np.testing.assert_allclose(window[:2], canvas.scene.layout.cells.centres_mm[0])
    assert workbench.document.undo_label is None
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, LEFT, ALT, target)
    assert workbench.document.layout is workbench.document.current


def test_alt_moves_freely_and_escape_drops_the_move(workbench, qtbot):
    canvas, before = workbench.canvas, workbench.document.current
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 0))
    target = off(canvas, 0, -40, -40)
    drag(qtbot, canvas, cell_pixel(canvas, 0), target, modifiers=ALT, is_released=False)
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(canvas, LEFT, ALT, target)
    assert workbench.document.current is before
    drag(qtbot, canvas, cell_pixel(canvas, 0), target, modifiers=ALT)
    moved = centres(workbench)[0] - before.cells.centres_mm[0]
    np.testing.assert_allclose(moved, [-40, -40], atol=2 / canvas.view.px_per_mm)


def test_a_move_onto_cells_is_refused_with_a_reason_in_the_tool_line(workbench, qtbot):
    canvas, before = workbench.canvas, workbench.document.current
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 0))
    drag(qtbot, canvas, cell_pixel(canvas, 0), cell_pixel(canvas, 44))
    assert workbench.document.current is before
    assert "would overlap" in workbench.tool_line.hint.text()


def test_arrows_move_by_a_site_or_a_fine_step_as_seen_on_the_screen(workbench, qtbot):
    canvas, before = workbench.canvas, centres(workbench).copy()
    column = frozenset(range(110, 120))
    canvas.choose(column)
    qtbot.keyClick(canvas, Qt.Key.Key_Right)
    np.testing.assert_allclose(centres(workbench)[110:] - before[110:], [[22.0, 0.0]] * 10, atol=1e-9)
    qtbot.keyClick(canvas, Qt.Key.Key_Right, SHIFT)
    np.testing.assert_allclose(centres(workbench)[110:] - before[110:], [[22.1, 0.0]] * 10, atol=1e-9)
    workbench.actions["bottom"].trigger()  # from below, right on the screen is left in the layout
    qtbot.keyClick(canvas, Qt.Key.Key_Right, SHIFT)
    np.testing.assert_allclose(centres(workbench)[110:] - before[110:], [[22.0, 0.0]] * 10, atol=1e-9)
    for _ in range(3):
        workbench.document.undo()
    np.testing.assert_array_equal(centres(workbench), before)


def test_cells_are_copied_and_put_down_with_a_click(workbench, qtbot):
    canvas, window = workbench.canvas, workbench.window
    canvas.choose(frozenset({0, 1}))
    qtbot.keyClick(window, Qt.Key.Key_C, CTRL)
    qtbot.keyClick(window, Qt.Key.Key_V, CTRL)
    target = pixel(canvas, centres(workbench)[119] + (44.0, 0.0))
    drag_to(canvas, target, Qt.MouseButton.NoButton)
    canvas.grab()
    assert len(centres(workbench)) == 120
    qtbot.mouseClick(canvas, LEFT, pos=target)
    assert len(centres(workbench)) == 122
    assert canvas.chosen_cells == {120, 121}
    assert workbench.tool_name == "choose"
    assert workbench.document.undo_label == "Paste 2 cells"
    np.testing.assert_allclose(
        centres(workbench)[121] - centres(workbench)[120], centres(workbench)[1] - centres(workbench)[0]
    )


def test_pasting_onto_cells_is_refused_and_escape_drops_what_hangs_there(workbench, qtbot):
    canvas, window, before = workbench.canvas, workbench.window, workbench.document.current
    canvas.choose(frozenset({0}))
    qtbot.keyClick(window, Qt.Key.Key_C, CTRL)
    qtbot.keyClick(window, Qt.Key.Key_V, CTRL)
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 50))
    assert workbench.document.current is before
    assert "overlap" in workbench.tool_line.hint.text()
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    assert canvas.tool is workbench.tools["choose"]


def test_deleted_cells_are_gone_and_the_choice_follows_the_rest_through_undo(workbench, qtbot):
    canvas = workbench.canvas
    canvas.choose(frozenset({3, 4}))
    qtbot.keyClick(workbench.window, Qt.Key.Key_Delete)
    assert len(centres(workbench)) == 118
    assert not canvas.chosen_cells
    canvas.choose(frozenset({10}))  # was cell 12 before two were erased
    workbench.document.undo()
    assert canvas.chosen_cells == {12}


@pytest.mark.parametrize(
    ("action", "said"),
    [
        ("align", "No cell is chosen"), ("delete", "No cell is chosen"), ("copy", "No cell is chosen"),
        ("choose_grow", "No cell is chosen"), ("split", "No group is chosen"), ("merge", "No group is chosen"),
        ("swap_groups", "exactly two groups"), ("later", "No group is chosen"), ("paste", "Nothing was copied"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_yet_says_why_in_the_tool_line(workbench, qapp, action, said):
    qapp.clipboard().clear()
    workbench.actions[action].trigger()
    assert said in workbench.tool_line.hint.text()
    assert workbench.document.undo_label is None


def test_a_region_is_filled_with_one_click(workbench, qtbot):
    workbench.actions["fill"].trigger()
    workbench.set_group(3)
    qtbot.mouseClick(workbench.canvas, LEFT, pos=cell_pixel(workbench.canvas, 5))
    groups = workbench.document.current.cells.groups
    assert groups[:20].tolist() == [3] * 20
    assert workbench.document.undo_label == "Paint 20 cells into group 3"


def test_two_clicks_swap_two_cells_and_escape_puts_the_first_back(workbench, qtbot):
    canvas = workbench.canvas
    workbench.actions["swap"].trigger()
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 0))
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 19))
    qtbot.mouseClick(canvas, LEFT, pos=cell_pixel(canvas, 20))
    groups = workbench.document.current.cells.groups
    assert (groups[0], groups[19], groups[20]) == (1, 2, 1)
    assert workbench.document.undo_label == "Swap cells 20 and 21"


def test_balance_makes_the_counts_even_again(workbench, qtbot):
    from layout_app.edits import PaintCells

    workbench.document.request(PaintCells((18, 19), 2))
    assert workbench.document.current.group_sizes[:2].tolist() == [18, 22]
    qtbot.keyClick(workbench.window, Qt.Key.Key_B)
    assert workbench.document.current.group_sizes.tolist() == [20] * 6


def test_the_list_of_groups_chooses_cells_and_moves_groups(workbench, qtbot):
    panel = workbench.groups
    panel.list.setCurrentRow(1)
    assert workbench.canvas.chosen_cells == set(range(20, 40))
    workbench.actions["later"].trigger()
    assert workbench.document.current.cells.groups[20] == 3
    assert workbench.document.current.cells.groups[40] == 2
    model = panel.list.model()
    model.moveRow(
        panel.list.rootIndex(), 0, panel.list.rootIndex(), 3
    )  # what a drag does: the first line behind the third
    assert workbench.document.current.cells.groups[0] == 3
    assert [panel.list.item(row).data(Qt.ItemDataRole.UserRole) for row in range(6)] == [1, 2, 3, 4, 5, 6]
    assert workbench.document.undo_label == "Make group 1 group 3"


def test_choosing_on_the_canvas_marks_the_group_in_the_list(workbench, qtbot):
    qtbot.mouseClick(workbench.canvas, LEFT, pos=cell_pixel(workbench.canvas, 45))
    marked = [item.data(Qt.ItemDataRole.UserRole) for item in workbench.groups.list.selectedItems()]
    assert marked == [3]


def test_exact_numbers_move_turn_and_open_rows(workbench, qtbot):
    canvas, before = workbench.canvas, centres(workbench).copy()
    canvas.choose(frozenset(range(110, 120)))
    section = workbench.exact.cells
    for name, text in (("dx", "12.5"), ("dy", "-3")):
        field = section.move.fields[name]
        field.editor.selectAll()
        qtbot.keyClicks(field.editor, text)
        qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    section.move.button.click()
    np.testing.assert_allclose(centres(workbench)[110:] - before[110:], [[12.5, -3.0]] * 10, atol=1e-9)
    workbench.document.undo()
    canvas.choose(frozenset({4, 5}))
    qtbot.keyClick(workbench.window, Qt.Key.Key_O)
    gap = np.diff(centres(workbench)[:10, 1])[4] - 22.0 * np.sqrt(3) / 2
    assert gap == pytest.approx(3.0)


def test_an_override_is_set_in_the_panel_and_reset(workbench, qtbot):
    canvas = workbench.canvas
    canvas.choose(segment=3)
    field = workbench.exact.segment.fields["thickness_mm"]
    qtbot.keyClicks(field.editor, "1.2")
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    assert workbench.document.current.plates_of(3).thickness_mm == 1.2
    assert workbench.document.segments[3].thickness_mm == 1.2
    assert workbench.document.segments[2].thickness_mm == 0.5
    qtbot.keyClicks(field.editor, "0")
    field.editor.setText("-1")
    field.editor.setModified(True)
    field.editor.editingFinished.emit()
    assert "sheet thickness" in field.wrong.lower()
    workbench.exact.segment.reset.click()
    assert workbench.document.current.overrides == ()


def test_a_press_that_hardly_moves_is_a_click(workbench, qtbot):
    canvas = workbench.canvas
    place = cell_pixel(canvas, 25)
    drag(qtbot, canvas, place, place + QPoint(1, 1))
    assert canvas.chosen_cells == {25}


def test_deleting_every_cell_leaves_an_empty_picture(workbench, qtbot):
    workbench.canvas.grab()
    workbench.actions["choose_all"].trigger()
    qtbot.keyClick(workbench.window, Qt.Key.Key_Delete)
    workbench.canvas.grab()  # the metal on the screen is still that of before
    assert len(centres(workbench)) == 0
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10_000)
    workbench.canvas.grab()
    workbench.document.undo()
    assert len(centres(workbench)) == 120


def test_a_mistake_in_painting_goes_to_the_crash_dialog_and_not_up_in_smoke(workbench, qtbot, monkeypatch):
    told = []
    workbench.document.crashed.disconnect()
    workbench.document.crashed.connect(told.append)
    monkeypatch.setattr(workbench.tools["choose"], "paint", lambda painter, canvas: [][0])
    workbench.canvas.repaint()
    workbench.canvas.grab()
    qtbot.waitUntil(lambda: bool(told), timeout=2000)
    assert [type(error) for error in told] == [IndexError]


def test_painting_goes_on_with_the_group_of_the_chosen_cells_unless_another_was_picked(workbench):
    actions, canvas = workbench.actions, workbench.canvas
    cells = workbench.document.current.cells
    canvas.choose(frozenset(cells.of_group(4)[:3].tolist()))
    actions["paint"].trigger()
    assert workbench.group == 4
    actions["choose"].trigger()
    canvas.choose(frozenset(cells.of_group(2)[:3].tolist()))
    actions["next_group"].trigger()  # picked with these cells chosen: it stays
    actions["paint"].trigger()
    assert workbench.group == 5
    actions["choose"].trigger()
    canvas.choose(frozenset([*cells.of_group(1)[:1].tolist(), *cells.of_group(2)[:1].tolist()]))
    actions["fill"].trigger()  # cells of two groups say nothing
    assert workbench.group == 5
