"""The list of steps names what was done and goes there."""

import pytest
from PySide6.QtCore import Qt

from layout_app.edits import ChangePlates, EraseCells, PaintCells


@pytest.fixture
def steps(workbench):
    """The list, after three steps, in front of its tab."""
    for edit in (PaintCells((0,), 2), EraseCells((5, 6)), ChangePlates({"gap_mm": 2.0})):
        workbench.document.request(edit)
    workbench.docks["steps"].raise_()
    return workbench.steps.list


def rows(steps):
    return [steps.item(row).text() for row in range(steps.count())]


def click(qtbot, steps, row):
    place = steps.visualItemRect(steps.item(row)).center()
    qtbot.mouseClick(steps.viewport(), Qt.MouseButton.LeftButton, pos=place)


def test_every_step_has_a_row_with_its_name_and_the_last_is_current(steps):
    assert rows(steps)[:3] == ["As opened", "Paint 1 cell into group 2", "Erase 2 cells"]
    assert steps.currentRow() == 3


def test_a_click_goes_there_and_back(workbench, steps, qtbot):
    last = workbench.document.current
    click(qtbot, steps, 1)
    assert len(workbench.document.current.cells) == 120
    assert workbench.document.undo_label == "Paint 1 cell into group 2"
    assert [steps.item(row).font().italic() for row in range(4)] == [False, False, True, True]
    click(qtbot, steps, 3)
    assert workbench.document.current is last
    assert not any(steps.item(row).font().italic() for row in range(4))


def test_the_keyboard_goes_there_too(workbench, steps, qtbot):
    steps.setFocus()
    qtbot.keyClick(steps, Qt.Key.Key_Home)
    qtbot.keyClick(steps, Qt.Key.Key_Return)
    assert workbench.document.step == 0


def test_what_was_undone_is_forgotten_when_something_else_is_done(workbench, steps, qtbot):
    workbench.document.undo()
    workbench.document.undo()
    assert len(rows(steps)) == 4
    workbench.document.request(EraseCells((0,)))
    assert rows(steps) == ["As opened", "Paint 1 cell into group 2", "Erase 1 cell"]
    assert steps.currentRow() == 2
    assert not steps.item(2).font().italic()
