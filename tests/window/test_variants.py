"""What if and the adviser in the window: asked with the keyboard, answered beside, kept as one step."""

import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFontMetricsF

from layout_app.advising.measures import ROWS
from layout_app.advising.questions import LostJoint, OtherThickness
from layout_app.edits import ChangePlates
from layout_app.window.variants.what_if import _answer
from tests.plates.modules import banded


@pytest.fixture
def what_if(workbench, qtbot):
    """The panel of questions, shown, with the currents worked out."""
    workbench.window.show()
    workbench.actions["what_if"].trigger()
    qtbot.waitUntil(lambda: workbench.document.is_settled and workbench.document.currents is not None, timeout=10000)
    return workbench.docks["what_if"].widget()


@pytest.fixture
def adviser(workbench, qtbot):
    """The adviser's panel, shown, with the currents worked out."""
    workbench.window.show()
    workbench.actions["advice"].trigger()
    qtbot.waitUntil(lambda: workbench.document.is_settled and workbench.document.currents is not None, timeout=10000)
    return workbench.docks["advice"].widget()


def answered(qtbot, panel):
    qtbot.waitUntil(lambda: panel.table.isEnabled() and len(panel.answers) == len(panel.questions) > 0, timeout=20000)


def column(panel, place):
    return [panel.table.item(row, place).text() for row in range(len(ROWS))]


def kind(panel, words):
    panel.form.kind.setCurrentIndex([panel.form.kind.itemText(k) for k in range(panel.form.kind.count())].index(words))


def typed(qtbot, field, text):
    field.editor.setFocus()
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)


def test_a_thicker_sheet_is_answered_beside_the_layout_and_kept_as_one_step(workbench, what_if, qtbot):
    before = workbench.document.current
    kind(what_if, "Other sheet thickness")
    typed(qtbot, what_if.form.fields["thickness_mm"], f"{2 * before.plates.thickness_mm:g}")
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    rows = [row.field for row in ROWS]
    loss_w = [float(column(what_if, k)[rows.index("segment_loss_w")].split()[0]) for k in (0, 1)]
    assert loss_w[1] == pytest.approx(loss_w[0] / 2, rel=0.02)  # derived: half the metal's resistance
    assert "+100.0 %" in column(what_if, 1)[rows.index("metal_mass_g")]
    assert not any("nan" in text.lower() for text in column(what_if, 0) + column(what_if, 1))
    what_if.table.setCurrentCell(0, 1)
    qtbot.mouseClick(what_if.keep, Qt.MouseButton.LeftButton)
    assert workbench.document.current.plates.thickness_mm == pytest.approx(2 * before.plates.thickness_mm)
    workbench.document.undo()
    assert workbench.document.current is before


def test_a_lost_joint_is_a_fault_and_nothing_to_keep(workbench, what_if, qtbot):
    kind(what_if, "Joint lost")
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)
    assert "Which cell?" in what_if.told.text()
    workbench.canvas.choose(frozenset({2}))
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    assert what_if.table.horizontalHeaderItem(1).text() == "Joint of cell 3 lost"
    what_if.table.setCurrentCell(0, 1)
    assert not what_if.keep.isEnabled()
    assert what_if.remove.isEnabled()


def test_a_question_without_an_answer_says_why_in_its_column(workbench, what_if, qtbot):
    kind(what_if, "Joint lost")
    typed(qtbot, what_if.form.fields["cell"], "9999")
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    assert "no cell 9999" in column(what_if, 1)[0]


def test_answers_follow_the_layout(workbench, what_if, qtbot):
    qtbot.mouseClick(what_if.usual, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    before = column(what_if, 0)
    edited = workbench.settings.fields["Sheet thickness"]
    typed(qtbot, edited, "2")
    qtbot.keyClick(edited.editor, Qt.Key.Key_Return)
    assert not what_if.table.isEnabled()
    answered(qtbot, what_if)
    assert column(what_if, 0) != before


def test_answers_come_one_by_one_until_nobody_wants_them():
    layout, heard = banded(n_columns=6, n_rows=4, n_series=3), []
    questions = (OtherThickness(1.0), LostJoint(0), LostJoint(9999), LostJoint(1))

    def hand_over(told):
        heard.append(told[2])
        return len(heard) < 3

    _answer(layout, None, questions, hand_over)
    assert [len(answers) for answers in heard] == [1, 2, 3]
    assert "no cell 10000" in heard[-1][2]


def test_delete_takes_a_column_away_and_no_cell(workbench, what_if, qtbot):
    qtbot.mouseClick(what_if.usual, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    n_questions, before = len(what_if.questions), workbench.document.current
    workbench.canvas.choose(frozenset({0}))
    what_if.table.setFocus()
    what_if.table.setCurrentCell(0, 2)
    gone = what_if.table.horizontalHeaderItem(2).text()
    qtbot.keyClick(what_if.table, Qt.Key.Key_Delete)
    assert len(what_if.questions) == n_questions - 1
    assert gone not in [question.label for question in what_if.questions]
    assert workbench.document.current is before


def test_advice_is_ranked_taken_as_one_step_and_grows_old(workbench, adviser, qtbot):
    before = workbench.document.current
    qtbot.mouseClick(adviser.begin, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: adviser.advice is not None, timeout=60000)
    assert adviser.table.rowCount() == 1 + len(adviser.advice.proposals)
    scores = [float(adviser.table.item(row, 0).text()) for row in range(1, adviser.table.rowCount())]
    assert scores == sorted(scores)
    assert "layouts tried" in adviser.told.text()
    proposal = adviser.advice.proposals[0]
    adviser.table.setCurrentCell(1, 0)
    qtbot.mouseClick(adviser.take, Qt.MouseButton.LeftButton)
    after = workbench.document.current
    assert after == proposal.apply(before)
    assert not adviser.take.isEnabled()
    assert "layout before" in adviser.told.text()
    workbench.document.undo()
    assert workbench.document.current is before
    assert adviser.take.isEnabled()


def test_a_search_ends_when_its_layout_is_changed(workbench, adviser, qtbot):
    qtbot.mouseClick(adviser.begin, Qt.MouseButton.LeftButton)
    workbench.document.request(ChangePlates({"thickness_mm": 0.8}))
    assert adviser.begin.isEnabled()
    assert "has changed" in adviser.told.text()
    assert adviser.advice is None


def test_the_column_asked_for_comes_into_view(workbench, what_if, qtbot):
    qtbot.mouseClick(what_if.usual, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)  # one more than there is room for
    answered(qtbot, what_if)
    assert what_if.table.currentColumn() == len(what_if.questions)
    right = what_if.table.columnViewportPosition(len(what_if.questions)) + what_if.table.columnWidth(
        len(what_if.questions)
    )
    assert right <= what_if.table.viewport().width()


def test_a_search_given_up_leaves_what_was_found_before(workbench, adviser, qtbot):
    qtbot.mouseClick(adviser.begin, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(adviser.cancel, Qt.MouseButton.LeftButton)
    assert adviser.advice is None
    assert adviser.begin.isEnabled()
    assert "given up" in adviser.told.text()


def test_the_words_of_every_question_stand_whole_over_their_column(workbench, what_if, qtbot):
    qtbot.mouseClick(what_if.ask, Qt.MouseButton.LeftButton)  # a terminal elsewhere, whose words are the longest
    answered(qtbot, what_if)
    qtbot.mouseClick(what_if.usual, Qt.MouseButton.LeftButton)
    answered(qtbot, what_if)
    table, header = what_if.table, what_if.table.horizontalHeader()
    font = header.font()
    font.setBold(True)  # as over the chosen column
    assert table.columnCount() > 3
    for place in range(table.columnCount()):
        room = QRectF(0, 0, table.columnWidth(place) - 8, 1e4)  # its own margins, from memory
        words = table.horizontalHeaderItem(place).text()
        taken = QFontMetricsF(font).boundingRect(room, int(Qt.TextFlag.TextWordWrap), words)
        assert taken.height() <= header.height(), words
        assert taken.width() <= room.width(), words
