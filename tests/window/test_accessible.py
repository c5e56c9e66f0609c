"""Everything that can be used has a name a screen reader can say, can be reached by keyboard, and has a tip."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QLineEdit,
    QMenu,
    QTextEdit,
    QToolButton,
    QWidget,
)

from layout_app.window.canvas import Canvas
from layout_app.window.finder import Finder, listed

CONTROLS = (QAbstractButton, QLineEdit, QComboBox, QAbstractSpinBox, QAbstractItemView, QTextEdit, Canvas)
DATA = Path(__file__).parents[1] / "data" / "footprints"


def controls(window: QWidget) -> list[QWidget]:
    """Every control of a window but the parts that Qt's own controls are made of."""
    found = [widget for widget in window.findChildren(QWidget) if isinstance(widget, CONTROLS)]
    return [widget for widget in found if not is_part(widget)]


def is_part(widget: QWidget) -> bool:
    parent = widget.parentWidget()
    inside = (QComboBox, QAbstractSpinBox, QAbstractItemView, QLineEdit)
    name = widget.objectName()
    if name.startswith(("qt_", "Scroll")) or widget.metaObject().className().startswith("QDockWidget"):
        return True
    while parent is not None:
        if isinstance(parent, inside) or parent.metaObject().className() == "QComboBoxPrivateContainer":
            return True
        parent = parent.parentWidget()
    return False


def spoken(widget: QWidget) -> str:
    """What a screen reader says of a widget: its name, which may be that of its label."""
    return QAccessible.queryAccessibleInterface(widget).text(QAccessible.Text.Name).strip()


def nameless(window: QWidget) -> list[str]:
    return [
        f"{type(widget).__name__} in {type(widget.parentWidget()).__name__}"
        for widget in controls(window)
        if not spoken(widget)
    ]


def test_every_control_of_the_workbench_has_a_name(workbench):
    assert len(controls(workbench.window)) > 60  # the search itself finds something
    assert nameless(workbench.window) == []


def test_every_control_of_the_pages_before_it_has_a_name(program, qtbot):
    window = program.new_window()
    assert nameless(window) == []
    window.start_from_numbers()
    assert nameless(window) == []
    window.open_path(DATA / "orchard_rover_tray.dxf")
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: page.drawing is not None, timeout=20_000)
    assert nameless(window) == []
    page.use.click()
    brief = window.pages.currentWidget()
    qtbot.waitUntil(lambda: bool(brief.found), timeout=20_000)
    assert nameless(window) == []


def test_every_control_of_dialogs_help_and_walk_has_a_name(program, workbench, qtbot):
    from layout_app.window.export_dialog import ExportDialog
    from layout_app.window.walk import WalkBar

    for dialog in (ExportDialog(workbench.window, workbench.document), Finder(workbench.window)):
        qtbot.addWidget(dialog)
        assert nameless(dialog) == []
    program.help.show()
    assert nameless(program.help.window) == []
    workbench.walk = WalkBar(workbench)
    assert nameless(workbench.walk) == []
    workbench.walk.finish()


@pytest.mark.parametrize("kind", ["recovered", "message"])
def test_what_is_offered_and_asked_has_names(workbench, qtbot, kind):
    from layout_app.window import recovery
    from layout_app.window.recovery_offers import RecoveryOffers

    if kind == "message":
        workbench.message.ask("?", "A question", {"One answer": print, "Another": print})
        assert nameless(workbench.message) == []
        return
    recovery.new_slot("rover").release()
    slot = recovery.new_slot("tender")
    slot.write(b"{}", recovery.Note("tender"), 1)
    slot.release()
    offers = RecoveryOffers()
    qtbot.addWidget(offers)
    offers.refresh()
    assert {spoken(button) for button in controls(offers)} == {"Open tender", "Discard… tender"}


def test_every_action_has_words_a_tip_and_its_key_in_the_tip(workbench):
    for entry in listed(workbench.window):
        assert entry.name, entry.place
        assert entry.action.toolTip(), entry.name
        keys = entry.action.shortcuts()
        if keys and entry.action in workbench.actions.values():
            assert keys[0].toString() in entry.action.toolTip(), entry.name


def test_every_menu_can_be_opened_by_a_letter_of_its_own(workbench):
    titles = [action.text() for action in workbench.window.menuBar().actions()]
    letters = [title[title.index("&") + 1].lower() for title in titles]
    assert len(letters) == len(set(letters)), titles


def test_in_no_menu_two_entries_share_a_letter(workbench):
    clashes = {}
    for menu in workbench.window.findChildren(QMenu):
        texts = [action.text() for action in menu.actions() if "&" in action.text()]
        letters = [text[text.index("&") + 1].lower() for text in texts]
        doubled = sorted({text for text, letter in zip(texts, letters, strict=True) if letters.count(letter) > 1})
        if doubled:
            clashes[menu.title()] = doubled
    assert clashes == {}


def test_all_fields_panels_and_the_drawing_are_reached_with_the_tab_key(workbench, qtbot):
    """Buttons of tool bars repeat menu entries and are left out, as desktops do."""
    workbench.canvas.setFocus()
    reached, widget = set(), workbench.canvas
    while widget not in reached:
        reached.add(widget)
        widget = widget.nextInFocusChain()
    for control in controls(workbench.window):
        if isinstance(control, QToolButton) or not control.isVisible() or not control.isEnabled():
            continue
        assert control in reached
        assert control.focusPolicy() & Qt.FocusPolicy.TabFocus, (type(control).__name__, spoken(control))


def test_icons_alone_never_carry_the_meaning(workbench):
    for button in workbench.window.findChildren(QToolButton):
        if button.isVisible() and not button.text() and not is_part(button):
            assert button.toolTip(), spoken(button)
