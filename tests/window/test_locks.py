"""Locking with keys and menus: locked cells are marked, told, and left alone by every tool, which says so."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from layout_app.edits import ChangeFill, LockCells

from .gestures import cell_pixel, drag_to, pixel, stroke

LEFT = Qt.MouseButton.LeftButton
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def locked(workbench, qtbot):
    """6 groups of 20 cells in 10 rows, two columns a group; cells 1 to 10, the first column, are locked."""
    workbench.canvas.choose(frozenset(range(10)))
    qtbot.keyClick(workbench.window, Qt.Key.Key_K)
    workbench.canvas.choose()
    return workbench


def groups(workbench):
    return workbench.document.current.cells.groups


def said(workbench):
    return workbench.tool_line.hint.text()


def test_a_key_locks_the_chosen_cells_and_another_unlocks_them_as_one_step_each(workbench, qtbot):
    before = workbench.document.current
    workbench.canvas.choose(frozenset({3, 4}))
    qtbot.keyClick(workbench.window, Qt.Key.Key_K)
    assert np.flatnonzero(workbench.document.current.cells.locked).tolist() == [3, 4]
    assert workbench.document.undo_label == "Lock 2 cells"
    qtbot.keyClick(workbench.window, Qt.Key.Key_K)
    assert "locked already" in said(workbench)
    qtbot.keyClick(workbench.window, Qt.Key.Key_K, SHIFT)
    assert not workbench.document.current.cells.has_locks
    assert workbench.document.undo_label == "Unlock 2 cells"
    workbench.document.undo()
    workbench.document.undo()
    assert workbench.document.current is before


def test_locking_takes_a_choice(workbench, qtbot):
    qtbot.keyClick(workbench.window, Qt.Key.Key_K)
    assert "No cell is chosen" in said(workbench)
    assert workbench.document.undo_label is None


def test_locking_makes_no_metal_anew(workbench, qtbot):
    before = workbench.document.segments
    workbench.document.request(LockCells((3,)))
    assert all(one is other for one, other in zip(before, workbench.document.segments, strict=True))


def test_a_lock_is_drawn_on_its_cell_and_goes_when_it_is_unlocked(workbench, qtbot):
    canvas = workbench.canvas
    x, y = cell_pixel(canvas, 44).x(), cell_pixel(canvas, 44).y()
    radius = round(canvas.scene.layout.cell_type.diameter_mm / 2 * canvas.view.px_per_mm)
    plain = canvas.grab().toImage()
    workbench.document.request(LockCells((44,)))
    marked = canvas.grab().toImage()
    canvas.picture.forget()
    assert canvas.grab().toImage() == marked  # what was brought up to date is what painting all of it gives
    spots = [(x + dx, y + dy) for dx in range(-radius, radius) for dy in range(-radius, radius)]
    differ = {(a - x, b - y) for a, b in spots if plain.pixel(a, b) != marked.pixel(a, b)}
    assert len(differ) > 20
    assert all(dx > 0 and dy > 0 for dx, dy in differ)  # at the lower right, clear of sign and number
    workbench.document.undo()
    again = canvas.grab().toImage()
    assert all(plain.pixel(a, b) == again.pixel(a, b) for a, b in spots)


def test_hovering_and_the_panel_of_the_chosen_tell_a_lock(locked, qtbot):
    canvas = locked.canvas
    drag_to(canvas, cell_pixel(canvas, 3), Qt.MouseButton.NoButton)
    assert "locked" in locked.readout.text()
    drag_to(canvas, cell_pixel(canvas, 33), Qt.MouseButton.NoButton)
    assert "locked" not in locked.readout.text()
    canvas.choose(frozenset({3}))
    assert "keeps place and group" in locked.facts.label.text()
    canvas.choose(frozenset({3, 33, 34}))
    assert "1 of 3" in locked.facts.label.text()
    canvas.choose(frozenset({33}))
    assert "Locked" not in locked.facts.label.text()


def test_locked_cells_are_chosen_by_one_of_them(locked, qtbot):
    qtbot.mouseClick(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 3))
    qtbot.keyClick(locked.window, Qt.Key.Key_L, CTRL | SHIFT)
    assert locked.canvas.chosen_cells == set(range(10))


def test_a_stroke_paints_past_locked_cells_and_names_them(locked, qtbot):
    locked.actions["paint"].trigger()
    locked.set_group(3)
    stroke(qtbot, locked.canvas, [5, 15, 25])
    assert groups(locked)[[5, 15, 25]].tolist() == [1, 3, 3]
    assert said(locked) == "Cell 6 is locked and stays as it was."
    assert locked.document.undo_label == "Paint 2 cells into group 3"
    before = locked.document.current
    stroke(qtbot, locked.canvas, [4, 5])
    assert locked.document.current is before
    assert "Cells 5 and 6 are locked and cannot be put into another group" in said(locked)


def test_a_stroke_begun_on_a_locked_cell_and_given_up_leaves_no_trace(locked, qtbot):
    before = locked.document.current
    locked.actions["erase"].trigger()
    qtbot.mousePress(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 5))
    drag_to(locked.canvas, cell_pixel(locked.canvas, 15))
    assert len(locked.document.layout.cells) == 119
    qtbot.keyClick(locked.canvas, Qt.Key.Key_Escape)
    qtbot.mouseRelease(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 15))
    assert locked.document.layout is before


def test_delete_takes_the_others_and_keeps_the_locked_chosen(locked, qtbot):
    locked.canvas.choose(frozenset({5, 15, 25}))
    qtbot.keyClick(locked.window, Qt.Key.Key_Delete)
    assert len(groups(locked)) == 118
    assert locked.canvas.chosen_cells == {5}
    assert locked.document.undo_label == "Erase 2 cells"
    qtbot.keyClick(locked.window, Qt.Key.Key_Delete)
    assert len(groups(locked)) == 118
    assert "Cell 6 is locked and cannot be erased" in said(locked)


def test_a_drag_moves_what_is_free_and_a_locked_cell_cannot_be_seized(locked, qtbot):
    canvas, before = locked.canvas, locked.document.current
    canvas.choose(frozenset({9, 119}))
    start = cell_pixel(canvas, 119)
    free_mm = before.cells.centres_mm[119] + (0.0, 44.0)
    qtbot.mousePress(canvas, LEFT, pos=start)
    drag_to(canvas, pixel(canvas, free_mm))
    canvas.grab()
    qtbot.mouseRelease(canvas, LEFT, pos=pixel(canvas, free_mm))
    moved = locked.document.current.cells.centres_mm - before.cells.centres_mm
    assert np.flatnonzero(moved.any(axis=1)).tolist() == [119]
    assert said(locked) == "Cell 10 is locked and stays as it was."
    assert locked.document.undo_label == "Move 1 cell"
    now = locked.document.current
    qtbot.mousePress(canvas, LEFT, pos=cell_pixel(canvas, 9))
    drag_to(canvas, cell_pixel(canvas, 9) + pixel(canvas, free_mm) - start)
    canvas.grab()
    qtbot.mouseRelease(canvas, LEFT, pos=pixel(canvas, free_mm))
    assert locked.document.current is now
    assert "Cell 10 is locked and cannot be moved" in said(locked)


def test_arrows_move_no_locked_cell_and_say_so(locked, qtbot):
    before = locked.document.current
    locked.canvas.choose(frozenset({0, 1}))
    qtbot.keyClick(locked.canvas, Qt.Key.Key_Left)
    assert locked.document.current is before
    assert "Cells 1 and 2 are locked and cannot be moved" in said(locked)


def test_a_region_is_filled_around_locked_cells(locked, qtbot):
    locked.actions["fill"].trigger()
    locked.set_group(3)
    drag_to(locked.canvas, cell_pixel(locked.canvas, 15), Qt.MouseButton.NoButton)
    locked.canvas.grab()
    qtbot.mouseClick(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 15))
    assert groups(locked)[:20].tolist() == [1] * 10 + [3] * 10
    assert said(locked) == "Cells 1, 2, 3, 4 and 6 more are locked and stay as they were."


def test_a_locked_cell_swaps_with_none(locked, qtbot):
    before = locked.document.current
    locked.actions["swap"].trigger()
    qtbot.mouseClick(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 45))
    qtbot.mouseClick(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 5))
    assert locked.document.current is before
    assert "Cell 6 is locked and keeps its group" in said(locked)
    qtbot.mouseClick(locked.canvas, LEFT, pos=cell_pixel(locked.canvas, 65))  # the first still waits
    assert groups(locked)[[45, 65]].tolist() == [4, 3]


def test_pasted_copies_of_locked_cells_are_free(locked, qtbot):
    canvas = locked.canvas
    canvas.choose(frozenset({0, 1}))
    qtbot.keyClick(locked.window, Qt.Key.Key_C, CTRL)
    qtbot.keyClick(locked.window, Qt.Key.Key_V, CTRL)
    target = pixel(canvas, locked.document.current.cells.centres_mm[119] + (44.0, 0.0))
    drag_to(canvas, target, Qt.MouseButton.NoButton)
    qtbot.mouseClick(canvas, LEFT, pos=target)
    assert locked.document.current.cells.locked.tolist() == [True] * 10 + [False] * 112


def test_filling_again_is_refused_and_done_once_unlocked(locked, qtbot):
    refused = []
    locked.document.request(ChangeFill(gap_mm=0.8), refused.append)
    qtbot.waitUntil(lambda: bool(refused), timeout=5000)
    assert "Cells 1, 2, 3, 4 and 6 more are locked" in refused[0]
    locked.canvas.choose(frozenset(range(10)))
    locked.actions["unlock"].trigger()
    locked.document.request(ChangeFill(gap_mm=0.8), refused.append)
    qtbot.waitUntil(lambda: locked.document.undo_label == "Change cell gap", timeout=10_000)


def test_locks_are_saved_and_opened_again(locked, program, qtbot, tmp_path):
    from layout_app.model.saved_file import load, save

    save(locked.document.current, tmp_path / "rover.busweave")
    assert load(tmp_path / "rover.busweave") == locked.document.current


def test_many_cells_locked_at_once_are_all_marked_in_the_picture_that_is_patched(workbench, qtbot):
    canvas = workbench.canvas
    canvas.grab()
    workbench.document.request(LockCells(tuple(range(3, 118))))
    patched = canvas.grab().toImage()
    canvas.picture.forget()
    assert canvas.grab().toImage() == patched
