"""The brief: proposals follow every key, get their pictures, and one of them opens."""

import pytest
from PySide6.QtCore import Qt

from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.window.housing_view import _spare_mm

# 130 cells of 21 mm at a pitch of 22 mm fit hexagonally (source: trade.md row 10)
HOUSING = Housing(outline=Contour.rectangle(300, 200), wall_clearance_mm=0.0, source="rectangle from numbers")
LACKS = 8


@pytest.fixture
def page(program, qtbot):
    window = program.new_window()
    window._ask_brief(HOUSING)
    page = window.pages.currentWidget()
    page.values["wall_mm"] = 0.0
    page._fit()
    qtbot.waitUntil(lambda: bool(page.table.shown) and len(page.found[0]) == 130, timeout=20_000)
    return page


def type_into(qtbot, page, name, text):
    editor = page.fields[name].editor
    editor.setFocus()
    editor.selectAll()
    qtbot.keyClick(editor, Qt.Key.Key_Delete)
    qtbot.keyClicks(editor, text)
    return editor


def cell_texts(page, row):
    return [page.table.item(row, column).text() for column in range(1, 9)]


def test_the_fullest_module_of_six_groups_is_proposed_at_first(page):
    assert cell_texts(page, 0)[0] == "6 × 21"  # derived: 130 sites hold 6 × 21
    assert cell_texts(page, 0)[5] == "4"
    assert page.lay.text() == "Open 6 × 21"


def test_the_list_follows_every_key_without_enter(page, qtbot):
    editor = type_into(qtbot, page, "n_parallel", "1")
    assert cell_texts(page, 0)[0] == "6 × 1"
    qtbot.keyClicks(editor, "5")
    assert cell_texts(page, 0)[0] == "6 × 15"
    assert editor.text() == "15"


def test_a_number_being_typed_is_not_rewritten(page, qtbot):
    editor = type_into(qtbot, page, "energy_wh", "500.")
    assert editor.text() == "500."
    qtbot.keyClicks(editor, "5")
    assert page.values["energy_wh"] == 500.5


def test_half_a_number_is_explained_beside_the_field_and_changes_nothing(page, qtbot):
    before = page.table.shown
    type_into(qtbot, page, "energy_wh", "-")
    assert "Type a number" in page.fields["energy_wh"].wrong
    assert page.table.shown is before


def test_voltages_in_place_of_series(page, qtbot):
    type_into(qtbot, page, "n_series", "")
    assert "series or a voltage" in page.problem.text()
    assert not page.lay.isEnabled()
    type_into(qtbot, page, "lowest_v", "15")
    type_into(qtbot, page, "highest_v", "26")
    assert page.problem.isHidden()
    assert cell_texts(page, 0)[0].startswith("6 ×")  # derived: 15 / 2.5 to 26 / 4.2


def test_what_a_proposal_lacks_is_said_in_words(page, qtbot):
    type_into(qtbot, page, "n_parallel", "22")
    assert page.table.item(0, LACKS).text() == "2 sites too few"  # derived: 6 × 22 less 130


def test_pictures_come_a_moment_later_and_the_chosen_proposal_shows_its_groups(page, qtbot):
    n_rows = page.table.rowCount()
    qtbot.waitUntil(lambda: all(not page.table.item(r, 0).icon().isNull() for r in range(n_rows)), timeout=30_000)
    assert page.view._layout.n_parallel == page.table.chosen.n_parallel
    page.table.setCurrentCell(n_rows - 1, 1)
    last = page.table.chosen
    assert (page.view._layout.n_parallel, page.view._layout.chain) == (last.n_parallel, last.chain)


def test_the_proposal_picked_is_the_layout_that_opens(page, qtbot):
    folded = next(row for row, p in enumerate(page.table.shown) if p.chain == "folded")
    page.table.setCurrentCell(folded, 1)
    with qtbot.waitSignal(page.accepted, timeout=20_000) as opened:
        qtbot.mouseClick(page.lay, Qt.MouseButton.LeftButton)
    (layout,) = opened.args
    assert (layout.n_series, layout.n_parallel, layout.chain) == (6, 21, "folded")
    assert layout.group_sizes.tolist() == [21] * 6
    assert layout.name == "new module"


def test_opening_one_that_lacks_sites_says_what_would_let_it_fit(page, qtbot):
    type_into(qtbot, page, "n_parallel", "22")
    qtbot.mouseClick(page.lay, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "at most 130 fit" in page.problem.text(), timeout=30_000)


def test_a_double_click_opens_too(page, qtbot):
    place = page.table.visualItemRect(page.table.item(1, 2)).center()
    with qtbot.waitSignal(page.accepted, timeout=20_000):
        qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=place)
        qtbot.mouseDClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=place)


def test_spare_sites_of_the_chosen_proposal_are_told_from_cells(page, qtbot):
    proposal = page.table.chosen
    qtbot.waitUntil(lambda: page.view._layout is not None, timeout=20_000)
    spare = _spare_mm(page.view._centres_mm, page.view._layout.cells.centres_mm)
    assert len(spare) == proposal.n_spare == 4  # derived: 130 sites, 6 × 21 cells
