"""A housing from numbers, the brief after it, and the way back: nothing typed is lost, nothing wrong goes on."""

import pytest
from PySide6.QtCore import Qt


@pytest.fixture
def window(program, qtbot):
    window = program.new_window()
    window.start_from_numbers()
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    return window


def type_in(qtbot, page, name, text):
    """Type a number and leave the field."""
    editor = page.fields[name].editor
    editor.setFocus()
    editor.selectAll()
    qtbot.keyClicks(editor, text)
    qtbot.keyClick(editor, Qt.Key.Key_Tab)
    return page.fields[name]


def click(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def test_a_wrong_number_is_gone_to_instead_of_the_next_page(window, qtbot):
    page = window.pages.currentWidget()
    width = type_in(qtbot, page, "width", "-5")
    type_in(qtbot, page, "height", "150")
    assert width.wrong
    click(qtbot, page.use)
    assert window.pages.currentWidget() is page
    assert window.focusWidget() is width.editor
    type_in(qtbot, page, "width", "250")
    click(qtbot, page.use)
    assert window.pages.currentWidget() is not page


def test_a_radius_that_no_longer_fits_is_told_at_the_radius_and_goes_on_once_it_does(window, qtbot):
    page = window.pages.currentWidget()
    type_in(qtbot, page, "corner", "90")
    width = type_in(qtbot, page, "width", "150")
    assert not width.wrong
    assert "75" in page.fields["corner"].wrong  # derived: half the width
    click(qtbot, page.use)
    assert window.focusWidget() is page.fields["corner"].editor
    type_in(qtbot, page, "width", "190")
    assert not page.fields["corner"].wrong
    assert page.housing().outline.bounds_mm == pytest.approx((0, 0, 190, 200))


def test_a_wrong_number_in_the_brief_opens_nothing(window, qtbot):
    click(qtbot, window.pages.currentWidget().use)
    brief = window.pages.currentWidget()
    qtbot.waitUntil(lambda: brief.lay.isEnabled(), timeout=20_000)
    wrong = type_in(qtbot, brief, "n_parallel", "0")
    assert wrong.wrong
    click(qtbot, brief.lay)
    qtbot.wait(100)
    assert window.workbench is None
    assert window.focusWidget() is wrong.editor


def test_back_leads_to_the_page_before_as_it_was_left_and_forward_to_the_brief_as_typed(window, qtbot):
    numbers = window.pages.currentWidget()
    type_in(qtbot, numbers, "width", "310")
    click(qtbot, numbers.use)
    brief = window.pages.currentWidget()
    type_in(qtbot, brief, "n_series", "7")
    click(qtbot, brief.back)
    assert window.pages.currentWidget() is numbers
    assert numbers.fields["width"].editor.text() == "310"
    click(qtbot, numbers.use)
    brief = window.pages.currentWidget()
    assert brief.fields["n_series"].editor.text() == "7"
    assert brief.housing.outline.bounds_mm[2] == pytest.approx(310)
    click(qtbot, brief.back)
    click(qtbot, numbers.back)
    assert window.pages.currentWidget() is window.start_page
    assert window.pages.count() == 1
