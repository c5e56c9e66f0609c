"""Comparing in the window: figures told against a reference, the two side by side, differences marked on the canvas."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from layout_app.edits import ChangePlates, EraseCells, LockCells, MoveCells, PaintCells, PlaceCells
from layout_app.model.saved_file import save
from layout_app.window.app import Program
from layout_app.window.panels.figures import DIFFERENCE, LABEL, PIN, VALUE

from .gestures import cell_pixel
from .modules import module
from .test_canvas import pixels


def settle(qtbot, workbench):
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=15_000)
    qtbot.waitUntil(lambda: not workbench.desk.reference._tell_timer.isActive(), timeout=1_000)


def keep(qtbot, workbench):
    qtbot.keyClick(workbench.window, Qt.Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: workbench.desk.reference.kept is not None, timeout=5_000)
    qtbot.waitUntil(lambda: workbench.desk.reference.kept.is_settled, timeout=15_000)


def row_of(panel, label):
    return next(row for row in range(panel.table.rowCount()) if panel.table.item(row, LABEL).text() == label)


def shown(workbench) -> np.ndarray:
    """The canvas with everything drawn over it."""
    image = workbench.canvas.grab().toImage()
    return np.frombuffer(image.constBits(), np.uint8).copy()


@pytest.fixture
def kept(workbench, qtbot):
    """A workbench on 6 groups of 20, kept as it is to compare with."""
    keep(qtbot, workbench)
    return workbench


def test_without_a_reference_no_difference_is_shown_and_the_actions_say_why(workbench):
    assert workbench.figures.table.isColumnHidden(DIFFERENCE)
    assert workbench.figures.against.isHidden()
    for name in ("beside", "forget"):
        assert not workbench.actions[name].isEnabled()


def test_figures_tell_their_difference_from_the_layout_as_it_was(kept, qtbot):
    panel = kept.figures
    assert not panel.table.isColumnHidden(DIFFERENCE)
    kept.document.request(EraseCells((119,)))
    settle(qtbot, kept)
    row = row_of(panel, "Cells")
    assert panel.table.item(row, VALUE).text() == "119"
    assert panel.table.item(row, DIFFERENCE).text() == "−1"
    assert "−1 (−0.8 %)" in panel.table.item(row, DIFFERENCE).toolTip()  # derived: 1 / 120
    assert "1 removed" in panel.against.text()
    assert panel.table.item(row_of(panel, "Groups in series"), DIFFERENCE).text() == ""


def test_undoing_everything_leaves_no_difference(kept, qtbot):
    kept.document.request(PaintCells((20,), 1))
    settle(qtbot, kept)
    assert "regrouped" in kept.figures.against.text()
    kept.actions["undo"].trigger()
    settle(qtbot, kept)
    assert "Nothing differs" in kept.figures.against.text()


def test_a_changed_setting_is_named(kept, qtbot):
    kept.document.request(ChangePlates({"gap_mm": 2.0}))
    settle(qtbot, kept)
    assert "settings: gap_mm" in kept.figures.against.text()
    assert "segments 0, 1, 2, 3, 4, 5, 6" in kept.figures.against.text()


def test_a_file_can_be_the_reference(workbench, tmp_path, qtbot, monkeypatch):
    path = tmp_path / "older.busweave"
    save(EraseCells((0, 1)).apply(workbench.document.current), path)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    workbench.actions["compare"].trigger()
    reference = workbench.desk.reference
    qtbot.waitUntil(lambda: reference.kept is not None and reference.kept.is_settled, timeout=15_000)
    assert "older.busweave" in workbench.figures.against.text()
    qtbot.waitUntil(lambda: "2 added" in workbench.figures.against.text(), timeout=1_000)


def test_a_file_that_cannot_be_read_is_explained_and_leaves_the_reference(kept, tmp_path, qtbot, monkeypatch):
    path, before = tmp_path / "torn.busweave", kept.desk.reference.kept
    path.write_text("{", encoding="utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    kept.actions["compare"].trigger()
    qtbot.waitUntil(lambda: "torn.busweave" in kept.message.text, timeout=5_000)
    assert kept.desk.reference.kept is before


def test_forgetting_the_reference_hides_all_of_it(kept, qtbot):
    kept.actions["beside"].trigger()
    kept.actions["forget"].trigger()
    assert kept.figures.table.isColumnHidden(DIFFERENCE)
    assert kept.desk.beside.isHidden()
    assert not kept.actions["beside"].isChecked()


def test_side_by_side_shows_the_same_part_from_the_same_side(kept, qtbot):
    qtbot.keyClick(kept.window, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    other = kept.desk.beside.canvas
    assert other.isVisible()
    kept.canvas.zoom_by(1.5)
    kept.canvas.pan_by(40, 20)
    qtbot.keyClick(kept.window, Qt.Key.Key_F)
    assert (other.view.x_mm, other.view.y_mm) == (kept.canvas.view.x_mm, kept.canvas.view.y_mm)
    assert other.view.px_per_mm == kept.canvas.view.px_per_mm
    assert other.scene.side == kept.canvas.scene.side == "bottom"
    other.pan_by(-70, 5)
    assert kept.canvas.view.x_mm == other.view.x_mm


def test_the_reference_cannot_be_edited_from_its_view(kept, qtbot):
    kept.actions["beside"].trigger()
    kept.actions["paint"].trigger()
    other, before = kept.desk.beside.canvas, kept.desk.reference.kept.current
    qtbot.mouseClick(other, Qt.MouseButton.LeftButton, pos=cell_pixel(other, 40))
    assert kept.desk.reference.kept.current is before


@pytest.mark.parametrize(
    "edit",
    [
        EraseCells((50,)),
        MoveCells((119,), 22.0, 0.0),
        PaintCells((20,), 1),
        PlaceCells(((1013.0 + 12 * 22.0, 512.0),), 6),
        LockCells((50, 51)),
    ],
    ids=["removed", "moved", "regrouped", "added", "locked"],
)
def test_every_kind_of_difference_is_marked_and_its_layer_hides_the_marks(kept, qtbot, edit):
    kept.document.request(edit)
    settle(qtbot, kept)
    assert not kept.desk.reference.comparison.cells.is_empty
    marked, layer = shown(kept), kept.menus.layers["differences"]
    layer.trigger()
    bare = shown(kept)
    assert not np.array_equal(marked, bare)
    layer.trigger()
    np.testing.assert_array_equal(shown(kept), marked)


def test_marks_leave_the_kept_picture_alone(kept, qtbot):
    before = pixels(kept.canvas)
    kept.actions["forget"].trigger()
    np.testing.assert_array_equal(pixels(kept.canvas), before)


def test_a_pinned_figure_stands_at_the_top_and_is_remembered(workbench, qtbot, program):
    panel = workbench.figures
    row = row_of(panel, "Energy")
    item = panel.table.item(row, PIN)
    panel.table.scrollToItem(item)
    place = panel.table.visualItemRect(item).center()
    qtbot.mouseClick(panel.table.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert panel.table.item(0, LABEL).text() == "Energy"
    assert panel.table.currentRow() == 0
    window = program.new_window()
    window.show_layout(module(2, 3, 3), None)
    qtbot.waitUntil(lambda: window.workbench.document.is_settled, timeout=15_000)
    assert window.workbench.figures.table.item(0, LABEL).text() == "Energy"


def test_the_space_bar_pins_and_unpins(workbench, qtbot):
    panel = workbench.figures
    order = [panel.table.item(row, LABEL).text() for row in range(panel.table.rowCount())]
    panel.table.setCurrentCell(5, LABEL)
    qtbot.keyClick(panel.table, Qt.Key.Key_Space)
    assert panel.table.item(0, LABEL).text() == order[5]
    qtbot.keyClick(panel.table, Qt.Key.Key_Space)
    assert [panel.table.item(row, LABEL).text() for row in range(panel.table.rowCount())] == order


def test_closing_the_window_ends_the_work_of_the_reference(kept, qtbot):
    background = kept.desk.reference.kept._deriving
    kept.document._saved = kept.document.current
    assert isinstance(kept.window.program, Program)
    kept.window.close()
    assert background._is_closed
