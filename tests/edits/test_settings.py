"""Changes of metal, terminals, brief and limits."""

import dataclasses

import pytest

from layout_app.edits import ChangeBrief, ChangeLimits, ChangePlates, ChangeTerminal
from layout_app.model.errors import LayoutError
from layout_app.model.limits import Limits

from .modules import module


def test_each_edit_changes_its_field_and_shares_the_rest():
    before = module()
    after = ChangePlates({"gap_mm": 2.5}).apply(before)
    assert after.plates.gap_mm == 2.5
    assert after.cells is before.cells
    assert after.housing is before.housing


def test_one_terminal_changes_alone():
    before = module()
    after = ChangeTerminal(is_positive=True, changes={"bolt": "M8"}).apply(before)
    assert after.terminals[1].bolt == "M8"
    assert after.terminals[0] is before.terminals[0]


@pytest.mark.parametrize(
    "edit",
    [
        ChangePlates({"gap_mm": 1.5}),
        ChangeTerminal(is_positive=False, changes={"bolt": "M5"}),
        ChangeBrief({"design_current_a": 20.0}),
        ChangeLimits({"touch_voltage_v": 60.0}),
    ],
)
def test_a_value_that_is_already_there_changes_nothing(edit):
    before = module()
    assert edit.apply(before) is before


@pytest.mark.parametrize(
    ("edit", "named"),
    [
        (ChangePlates({"gap_mm": -1.0}), "insulation gap"),
        (ChangePlates({"thickness_mm": float("nan")}), "sheet thickness"),
        (ChangeTerminal(is_positive=False, changes={"width_mm": 3.0}), "tab width"),
        (ChangeBrief({"design_current_a": float("inf")}), "design current"),
        (ChangeLimits({"cell_gap_mm": -0.1}), "least cell gap is -0.1 mm"),
    ],
)
def test_values_that_cannot_be_are_refused_naming_the_field(edit, named):
    with pytest.raises(LayoutError, match=named):
        edit.apply(module())


def test_labels_use_the_engineers_words():
    assert ChangePlates({"gap_mm": 2.0}).label == "Change insulation gap"
    assert ChangeTerminal(is_positive=False, changes={"bolt": "M6"}).label == "Change negative terminal's bolt"


def test_every_limit_has_words_and_a_source():
    names = {field.name for field in dataclasses.fields(Limits)}
    assert set(Limits.WORDS) == names
    assert set(Limits.SOURCES) == names
