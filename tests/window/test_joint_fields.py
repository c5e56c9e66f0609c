"""The settings of joints: typed in as an engineer would, shown only where they mean something."""

import pytest
from PySide6.QtCore import Qt

from layout_app.model.catalogues import wire_metal


def typed(qtbot, workbench, label, text):
    """Type into a setting and leave it with Enter."""
    field = workbench.settings.fields[label]
    field.editor.setFocus()
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    return field


@pytest.mark.parametrize(
    ("label", "text", "field", "value"),
    [
        ("Wire diameter", "0.2", "wire_diameter_mm", 0.2),
        ("Wire length", "12", "wire_length_mm", 12.0),
        ("Wires in a joint", "3", "n_wires", 3),
        ("Foot resistance", "0.1", "foot_ohm", 1e-4),  # shown in milliohms
        ("Busbar temperature", "60", "busbar_c", 60.0),
    ],
)
def test_a_joint_setting_is_typed_and_undone_as_one_step(workbench, qtbot, label, text, field, value):
    before = workbench.document.current
    typed(qtbot, workbench, label, text)
    assert getattr(workbench.document.current.joints, field) == pytest.approx(value)
    workbench.document.undo()
    assert workbench.document.current is before


def test_a_wire_of_no_thickness_is_refused_beside_the_field(workbench, qtbot):
    before = workbench.document.current
    field = typed(qtbot, workbench, "Wire diameter", "0")
    assert "Wire diameter is 0" in field.wrong
    assert workbench.document.current is before


def test_wires_give_way_to_tongues_and_only_what_counts_is_shown(workbench):
    fields = workbench.settings.fields
    assert not fields["Wire length"].isHidden()
    assert fields["Weld resistance"].isHidden()
    fields["Joined by"].editor.activated.emit(1)
    assert workbench.document.current.joints.weld_ohm is not None
    assert fields["Wire length"].isHidden()
    assert not fields["Weld resistance"].isHidden()
    fields["Joined by"].editor.activated.emit(0)
    assert workbench.document.current.joints.weld_ohm is None


def test_another_wire_metal_brings_all_its_values(workbench):
    field = workbench.settings.fields["Wire metal"]
    ids = ["aluminium-wire", "copper-wire"]
    field.editor.activated.emit(ids.index("copper-wire"))
    assert workbench.document.current.joints.wire_metal == wire_metal("copper-wire")


def test_figures_and_findings_follow_the_joints(workbench, qtbot):
    document = workbench.document
    qtbot.waitUntil(lambda: document.is_settled and document.currents is not None, timeout=10000)
    before = {figure.key: figure.value for figure in document.figures}
    typed(qtbot, workbench, "Wires in a joint", "1")
    qtbot.waitUntil(lambda: document.is_settled and document.currents_of is document.current, timeout=10000)
    after = {figure.key: figure.value for figure in document.figures}
    # derived: half the wires, twice the joints' loss, but for how the cells share
    assert after["joint_loss_w"] == pytest.approx(2 * before["joint_loss_w"], rel=0.01)
