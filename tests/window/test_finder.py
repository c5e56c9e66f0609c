"""Every action is found by typing a part of its name, and Enter does it or says why not."""

import pytest
from PySide6.QtCore import Qt

from layout_app.edits import EraseCells
from layout_app.window.actions import ENTRIES
from layout_app.window.finder import Finder, listed


@pytest.fixture
def finder(workbench, qtbot):
    finder = Finder(workbench.window)
    qtbot.addWidget(finder)
    finder.show()
    return finder


def names(finder):
    return [finder.tree.topLevelItem(row).text(0) for row in range(finder.tree.topLevelItemCount())]


def test_typing_a_part_of_the_name_and_enter_does_it(workbench, finder, qtbot):
    qtbot.keyClicks(finder.line, "bott")
    assert names(finder)[0] == "Bottom face"
    qtbot.keyClick(finder.line, Qt.Key.Key_Return)
    assert not finder.isVisible()
    assert workbench.canvas.scene.side == "bottom"


def test_words_in_any_order_and_words_of_the_tip_find_it_too(finder, qtbot):
    qtbot.keyClicks(finder.line, "face both")
    assert names(finder)[0] == "Both faces"
    finder.line.clear()
    qtbot.keyClicks(finder.line, "mirrored")
    assert names(finder) == ["Bottom face"]


def test_what_cannot_be_done_now_says_why_and_stays(workbench, finder, qtbot):
    qtbot.keyClicks(finder.line, "undo")
    assert names(finder)[0] == "Undo"
    assert "Nothing has been done yet" in finder.words.text()
    qtbot.keyClick(finder.line, Qt.Key.Key_Return)
    assert finder.isVisible()
    workbench.document.request(EraseCells((0,)))
    finder.run()
    assert len(workbench.document.current.cells) == 120


def test_arrow_keys_move_through_the_list(finder, qtbot):
    qtbot.keyClicks(finder.line, "zoom")
    first = finder.current.name
    qtbot.keyClick(finder.line, Qt.Key.Key_Down)
    assert finder.current.name != first
    qtbot.keyClick(finder.line, Qt.Key.Key_Up)
    assert finder.current.name == first


def test_nothing_found_is_said_and_enter_does_nothing(finder, qtbot):
    qtbot.keyClicks(finder.line, "xyzzy")
    assert names(finder) == []
    qtbot.keyClick(finder.line, Qt.Key.Key_Return)
    assert finder.isVisible()
    assert "No action" in finder.words.text()


def test_every_action_is_listed_with_a_name_a_place_and_a_tip(workbench):
    entries = listed(workbench.window)
    assert {entry.action.objectName() for entry in entries} >= set(ENTRIES)
    assert all(entry.name and entry.place for entry in entries)


def test_an_action_is_found_first_by_its_own_name(workbench, finder):
    for entry in listed(workbench.window):
        finder.line.setText(entry.name)
        assert finder.current.name == entry.name


def test_it_opens_on_the_start_page_too(program, qtbot):
    window = program.new_window()
    finder = Finder(window)
    qtbot.addWidget(finder)
    finder.line.setText("open")
    assert "Open" in names(finder)


def test_no_two_actions_share_a_key(workbench):
    keys = [key.toString() for entry in listed(workbench.window) for key in entry.action.shortcuts()]
    assert sorted(keys) == sorted(set(keys))
