"""Settings beside a layout: typing, undoing, and what the keys mean while a field has the focus."""

import pytest
from PySide6.QtCore import Qt

from layout_app.edits import ChangeTerminal

CTRL = Qt.KeyboardModifier.ControlModifier


def typed(qtbot, workbench, label, text, key=Qt.Key.Key_Tab):
    """Type into a setting and leave it."""
    field = workbench.settings.fields[label]
    field.editor.setFocus()
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)
    if key:
        qtbot.keyClick(field.editor, key)
    return field


@pytest.fixture
def shown(workbench, qtbot):
    """The workbench with the keyboard's focus in its window."""
    workbench.window.show()
    workbench.window.activateWindow()
    qtbot.waitExposed(workbench.window)
    return workbench


@pytest.mark.parametrize("key", [Qt.Key.Key_Tab, Qt.Key.Key_Return])
def test_undo_takes_back_the_setting_just_typed_though_a_field_has_the_focus(shown, qtbot, key):
    before = shown.document.current
    typed(qtbot, shown, "Sheet thickness", "0.8", key)
    assert shown.document.current.plates.thickness_mm == 0.8
    qtbot.keyClick(shown.window.focusWidget(), Qt.Key.Key_Z, CTRL)
    assert shown.document.current is before
    qtbot.keyClick(shown.window.focusWidget(), Qt.Key.Key_Z, CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert shown.document.current.plates.thickness_mm == 0.8


def test_undo_takes_back_a_name_just_typed(shown, qtbot):
    before = shown.document.current
    typed(qtbot, shown, "Name", "canal tender", Qt.Key.Key_Return)
    qtbot.keyClick(shown.window.focusWidget(), Qt.Key.Key_Z, CTRL)
    assert shown.document.current is before


def test_undo_in_a_field_being_typed_in_takes_back_the_typing_only(shown, qtbot):
    typed(qtbot, shown, "Sheet thickness", "0.8")
    after = shown.document.current
    field = typed(qtbot, shown, "Setback", "7", key=None)
    qtbot.keyClick(field.editor, Qt.Key.Key_Z, CTRL)
    assert shown.document.current is after
    assert field.editor.text() == f"{after.plates.setback_mm:g}"


def test_a_terminal_segment_is_called_one_and_every_segment_tells_its_neck(workbench, qtbot):
    document, last = workbench.document, workbench.document.current.n_segments - 1
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    for number, name, neck in ((0, "negative terminal", "Neck"), (1, "", "Neck"), (last, "positive", "Neck")):
        workbench.actions[workbench.document.current.face_of(number)].trigger()
        workbench.canvas.choose(segment=number)
        text = workbench.facts.label.text()
        assert name in text
        assert neck in text


def test_the_place_of_a_tab_is_shown_as_where_its_bolt_hole_really_is(workbench, qtbot):
    document, fields = workbench.document, workbench.settings.fields
    x0, y0, _, y1 = document.current.housing.outline.bounds_mm
    document.request(ChangeTerminal(is_positive=False, changes={"near_mm": (x0 + 5.0, (y0 + y1) / 2 + 3.0)}))
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    hole = document.segments[0].bolt_hole_mm
    shown = [float(fields[f"− Tab at {axis}"].editor.text()) for axis in "xy"]
    assert shown == pytest.approx(hole[:2], abs=0.01)
    fields["− Tab at y"]._ask(round(hole[1]) + 20.0)
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    moved = document.segments[0].bolt_hole_mm
    assert moved[1] > hole[1] + 10.0
    assert float(fields["− Tab at y"].editor.text()) == pytest.approx(moved[1], abs=0.01)


def test_a_terminal_gets_two_tabs_at_quarter_points_and_one_again(workbench, qtbot):
    before = workbench.document.current
    field = workbench.settings.fields["− Tabs"]
    field.editor.activated.emit(1)
    assert len(workbench.document.current.terminals[0].places_mm) == 2
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10000)
    assert len(workbench.document.segments[0].bolt_holes_mm) == 2
    field.editor.activated.emit(0)
    assert len(workbench.document.current.terminals[0].places_mm) == 1
    workbench.document.undo()
    workbench.document.undo()
    assert workbench.document.current is before


def test_two_tabs_where_there_is_no_room_are_refused_beside_the_field(workbench, qtbot):
    workbench.document.request(ChangeTerminal(is_positive=False, changes={"width_mm": 500.0}))
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10000)
    before = workbench.document.current
    field = workbench.settings.fields["− Tabs"]
    field.editor.activated.emit(1)
    assert "no edge long enough" in field.wrong
    assert workbench.document.current is before


def test_the_groups_and_a_chosen_cell_tell_how_the_current_is_shared(workbench, qtbot):
    document = workbench.document
    qtbot.waitUntil(lambda: document.is_settled and document.currents is not None, timeout=10_000)
    assert all("× mean" in workbench.groups.list.item(row).text() for row in range(workbench.groups.list.count()))
    workbench.canvas.choose(frozenset({3}))
    assert f"{document.currents.solved.cell_current_a[3]:.3g} A" in workbench.facts.label.text()
