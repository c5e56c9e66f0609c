"""A drawing before it is used: loops to choose from, units and layers to read it by."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt

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
