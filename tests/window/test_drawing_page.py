"""A drawing before it is used: loops to choose from, units and layers to read it by."""

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from layout_app.window.housing_view import _label_place
from layout_app.window.metal_paths import path_of
from layout_app.window.view_transform import ViewTransform

DATA = Path(__file__).parents[1] / "data" / "footprints"


@pytest.fixture
def page(program, qtbot):
    window = program.new_window()
    window.open_path(DATA / "orchard_rover_tray.dxf")
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: page.drawing is not None, timeout=20_000)
    return page


def test_every_loop_is_listed_and_used_at_first(page):
    assert page.loops.count() == 7  # the inner wall and six bosses
    assert page.loops.item(0).text().startswith("Inner wall: 420 × 236 mm")
    assert len(page.housing().keep_outs) == 6


def test_a_keep_out_without_its_tick_is_left_out(page, qtbot):
    loops = page.loops
    loops.setCurrentRow(2)
    qtbot.keyClick(loops, Qt.Key.Key_Space)
    kept = page.housing().keep_outs
    assert len(kept) == 5
    assert page.drawing.keep_outs[1] not in kept
    assert page.view._left_out == {2}


def test_other_units_scale_the_housing_before_it_is_used(page, qtbot):
    before = page.drawing
    page.units.setCurrentIndex(page.units.findData("inch"))
    page.units.activated.emit(page.units.currentIndex())
    qtbot.waitUntil(lambda: page.drawing is not before, timeout=20_000)
    assert page.drawing.outline.bounds_mm[2] == pytest.approx(before.outline.bounds_mm[2] * 25.4)  # an inch is 25.4 mm


def test_only_the_chosen_layer_is_read(page, qtbot):
    before = page.drawing
    page.layers.setCurrentIndex(page.layers.findData("INNER_WALL"))
    page.layers.activated.emit(page.layers.currentIndex())
    qtbot.waitUntil(lambda: page.drawing is not before, timeout=20_000)
    assert len(page.housing().keep_outs) == 0
    assert page.loops.count() == 1


def opened(program, qtbot, path):
    window = program.new_window()
    window.open_path(path)
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: page.problem.text() != "" or page.drawing is not None, timeout=20_000)
    return page


def test_an_open_outline_is_shown_with_its_gap_and_closes_when_ends_further_apart_are_joined(program, qtbot):
    page = opened(program, qtbot, DATA / "broken_open_outline.dxf")
    assert not page.use.isEnabled()
    assert not page.view._ignored.isEmpty()
    (x0, y0), (x1, y1) = page.view._gap_mm
    assert ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 == pytest.approx(3.0)  # source: how the drawing was made
    page.view.resize(500, 400)
    shown = page.view.grab().toImage()
    page.join.editor.selectAll()
    qtbot.keyClicks(page.join.editor, "3.1")
    qtbot.keyClick(page.join.editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.drawing is not None, timeout=20_000)
    assert page.use.isEnabled()
    assert page.view.grab().toImage() != shown


@pytest.mark.parametrize("text", ["0", "-1", "30"])
def test_a_joining_distance_is_refused_where_it_makes_no_sense_and_nothing_goes_on(page, qtbot, text):
    page.join.editor.selectAll()
    qtbot.keyClicks(page.join.editor, text)
    qtbot.keyClick(page.join.editor, Qt.Key.Key_Return)
    assert bool(page.join.wrong) == (text != "0")  # ends that meet exactly are joined all the same


def test_a_file_that_is_no_drawing_gets_no_advice_to_mend_it(program, qtbot, tmp_path):
    note = tmp_path / "note.dxf"
    note.write_text("Dear all, the tray is late.\n", encoding="utf-8")
    page = opened(program, qtbot, note)
    assert "another file" in page.words.text()
    assert "Mend" not in page.words.text()


def test_round_keep_outs_are_listed_by_diameter_and_place(page):
    assert (
        page.loops.item(1).text() == "Keep-out 1: Ø 10 mm at x 1340, y 468 mm"
    )  # source: the drawing (circle entities)


def test_numbers_of_small_keep_outs_stand_inside_the_wall(page):
    page.view.resize(700, 700)
    view = ViewTransform().resized(700, 700).fitted(page.drawing.outline.bounds_mm, 44.0)
    left, right = view.to_screen(np.array([(page.drawing.outline.bounds_mm[k], 0.0) for k in (0, 2)]))[:, 0]
    for loop in page.drawing.keep_outs:
        place = _label_place(view.q_transform().map(path_of([loop])).boundingRect(), 350)
        assert left + 11 <= place.x() <= right - 11  # half the label's width
