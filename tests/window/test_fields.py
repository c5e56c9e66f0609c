"""Fields: what is typed is asked for once, wrong entries are explained and never asked for."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from layout_app.window.panels.fields import ChoiceField, NumberField, TextField


@pytest.fixture
def asked():
    return []


def number(qtbot, asked, **options):
    def request(value, refuse):
        asked.append(value)
        if value is not None and value < 0:
            refuse("It must be at least 0.")

    field = NumberField("Gap", "mm", request, **options)
    field.show_value(1.5)
    frame = QWidget()  # a window of its own size: the offscreen platform cannot pass size hints on
    frame.resize(320, 90)
    field.setParent(frame)
    field.resize(320, 90)
    # kept until closed: frame and field hold each other, and collected with the focus the field asks while it goes
    qtbot.addWidget(frame, before_close_func=lambda _closing, _kept=frame: None)
    frame.show()
    field.frame = frame
    return field


def type_in(qtbot, field, text, key=Qt.Key.Key_Return):
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)
    qtbot.keyClick(field.editor, key)


@pytest.mark.parametrize(("text", "value"), [("2", 2.0), ("2.25", 2.25), ("2,25", 2.25), (" 3 ", 3.0)])
def test_an_entry_is_asked_for_when_enter_is_pressed(qtbot, asked, text, value):
    type_in(qtbot, number(qtbot, asked), text)
    assert asked == [value]


@pytest.mark.parametrize("text", ["two", "1.5.2", "inf", "nan", ""])
def test_what_is_no_number_is_explained_and_not_asked_for(qtbot, asked, text):
    field = number(qtbot, asked)
    field.editor.selectAll()
    qtbot.keyClick(field.editor, Qt.Key.Key_Delete)
    type_in(qtbot, field, text)
    assert asked == []
    assert "number" in field.wrong


def test_a_refusal_is_shown_beside_the_field_and_escape_brings_the_value_back(qtbot, asked):
    field = number(qtbot, asked)
    type_in(qtbot, field, "-2")
    assert field.wrong == "It must be at least 0."
    assert field.editor.text() == "-2"
    field.show_value(1.5)  # the layout is shown again because something else changed
    assert field.editor.text() == "-2"
    qtbot.keyClick(field.editor, Qt.Key.Key_Escape)
    assert field.editor.text() == "1.5"
    assert field.wrong == ""


def test_arrow_keys_step(qtbot, asked):
    field = number(qtbot, asked, step=0.5)
    qtbot.keyClick(field.editor, Qt.Key.Key_Up)
    qtbot.keyClick(field.editor, Qt.Key.Key_PageDown)
    assert asked == [2.0, -3.5]


def test_nothing_typed_means_none_where_none_is_allowed(qtbot, asked):
    field = number(qtbot, asked, none_text="from the cell")
    field.editor.selectAll()
    qtbot.keyClick(field.editor, Qt.Key.Key_Delete)
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    assert asked == [None]


def test_showing_a_value_is_not_asking_for_it(qtbot, asked):
    field = number(qtbot, asked)
    field.show_value(7.0)
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    assert asked == []
    assert field.editor.text() == "7"


def test_a_refused_choice_goes_back(qtbot):
    field = ChoiceField("Cell", [("a", "A"), ("b", "B")], lambda value, refuse: refuse("does not fit"))
    qtbot.addWidget(field)
    field.show_value("a")
    field.editor.activated.emit(1)
    assert field.editor.currentText() == "A"
    assert field.wrong == "Does not fit"


def test_a_text_too_long_for_its_field_shows_its_beginning_and_tells_the_rest_in_the_tip(qtbot):
    field = TextField("Name", lambda *_: None, tip="Name of the module")
    field.resize(240, 40)
    qtbot.addWidget(field)
    field.show()
    field.show_value("the orchard rover's second tray, as of the third drawing")
    assert field.editor.cursorPosition() == 0
    assert "third drawing" in field.editor.toolTip()
    field.show_value("tray")
    assert field.editor.toolTip() == "Name of the module"


def test_the_list_of_a_choice_is_wide_enough_for_its_words(qtbot):
    words = "Copper, annealed, of a very long description"
    field = ChoiceField("Material", [(1, words), (2, "Nickel")], lambda *_: None)
    qtbot.addWidget(field)
    list_ = field.editor.view()
    assert list_.minimumWidth() > list_.fontMetrics().horizontalAdvance(words)
