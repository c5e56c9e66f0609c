"""Repairs: what is offered does away with its finding, makes no new error, and is one undoable edit."""

from dataclasses import replace

import numpy as np
import pytest

from layout_app.edits import ChangeCellType, ChangePlates, EraseCells, History, LockCells, PaintCells
from layout_app.edits.repairs import ChangeClearance, MendGroups, PutCells
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.repairs import OFFERING, offers
from layout_app.repairs.limits import SETTINGS, setting_behind
from layout_app.workings import Workings
from tests.edits.modules import PITCH_MM, module


def said(layout, rule):
    return [finding for finding in Workings(layout).findings if finding.rule == rule]


def offered(layout, rule, words):
    """Return the offer for the first finding of a rule whose words begin so."""
    finding = said(layout, rule)[0]
    found = [o for o in offers(finding, layout) if o.words.startswith(words)]
    assert found, [o.words for o in offers(finding, layout)]
    return found[0]


def with_cells(layout, *added, group=0):
    """Return the layout with more cells at given places."""
    centres = np.vstack([layout.cells.centres_mm, np.array(added)])
    groups = np.concatenate([layout.cells.groups, np.full(len(added), group)])
    return replace(layout, cells=Cells(centres, groups))


def moved(layout, cell, dx_mm, dy_mm):
    centres = layout.cells.centres_mm.copy()
    centres[cell] += (dx_mm, dy_mm)
    return replace(layout, cells=Cells(centres, layout.cells.groups))


def painted(layout, cell, group):
    return PaintCells((cell,), group).apply(layout)


def plates(layout, **changes):
    return replace(layout, plates=replace(layout.plates, **changes))


def terminal(layout, **changes):
    return replace(layout, terminals=(replace(layout.terminals[0], **changes), layout.terminals[1]))


SOUND = module()  # 4 groups of 5 in rows, a free site at the end of each row
FIRST = SOUND.cells.centres_mm[0].tolist()
BROKEN = {
    "double": (with_cells(SOUND, FIRST), "same place", "Erase cell 21"),
    "overlapping loose cell": (with_cells(SOUND, np.add(FIRST, (11, 11))), "overlap", "Erase cell 21"),
    "overlap, moved": (moved(SOUND, 4, -15, 0), "overlap", "Move cell 5 to a free site"),
    "past the wall": (moved(SOUND, 4, 0, -6), "wall", "Move cell 5 to a free site"),
    "loose past the wall": (with_cells(SOUND, (5.0 * PITCH_MM + 12.5, 8.0)), "wall", "Erase cell 21"),
    "loose": (with_cells(SOUND, (5.0 * PITCH_MM + 12.5, 12.5)), "unassigned", "Erase cell 21"),
    "taken out of its group": (painted(SOUND, 7, 0), "unassigned", "Put them into groups"),
    "erased": (EraseCells((4,)).apply(SOUND), "uneven group", "Place 1 cell beside group 1"),
    "painted over": (painted(SOUND, 7, 1), "uneven group", "Trade border cells"),
    "strayed": (painted(painted(SOUND, 2, 4), 17, 1), "split group", "Trade border cells"),
    "group lost": (PaintCells(tuple(range(5)), 2).apply(SOUND), "missing group", "Form all groups anew"),
    "wide positive window": (plates(SOUND, positive_window_mm=14.5), "window", "Set the positive window to 14.00 mm"),
    "thin web": (plates(SOUND, positive_window_mm=13.0, negative_window_mm=20.0, min_web_mm=1.5), "web", "Make all"),
    "narrow tab": (terminal(SOUND, width_mm=8.0), "terminal", "Widen the negative tab"),
    "bolt over a cell": (terminal(SOUND, place="inside"), "terminal", "Put the negative tab outside"),
    "thin sheet": (plates(replace(SOUND, design_current_a=60.0), thickness_mm=0.2), "neck", "Use sheet of"),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_no_offer_is_refused_or_does_nothing_because_cells_are_locked(case):
    layout, rule, _ = BROKEN[case]
    finding = said(layout, rule)[0]
    for cells in {finding.cells, tuple(range(len(layout.cells)))}:
        locked = LockCells(cells).apply(layout)
        for offer in offers(finding, locked):
            try:
                assert offer.edit.apply(locked) is not locked
            except LayoutError as refused:
                assert "locked" not in str(refused)  # noqa: PT017


@pytest.mark.parametrize("case", BROKEN)
def test_an_offer_does_away_with_its_finding_and_makes_no_new_error(case):
    layout, rule, words = BROKEN[case]
    before = Workings(layout).findings
    history = History(layout)
    after_layout = history.apply(offered(layout, rule, words).edit)
    after = Workings(after_layout).findings
    if rule == "neck":  # one neck after the other: the repair of the worst serves all
        assert len(said(after_layout, rule)) < len(said(layout, rule))
    else:
        assert rule not in {f.rule for f in after}, [f.message for f in after]
    new_errors = {f.rule for f in after if f.severity == "error"} - {f.rule for f in before}
    assert not new_errors
    assert history.undo() is layout


def test_nothing_is_offered_where_only_judgement_helps():
    layout = replace(SOUND, design_current_a=500.0)
    (finding,) = said(layout, "continuous current")
    assert offers(finding, layout) == ()


def test_mending_that_cannot_be_says_what_to_do_instead():
    with pytest.raises(LayoutError, match="Place 1 cells"):
        MendGroups().apply(EraseCells((0,)).apply(SOUND))


def test_mending_sound_groups_changes_nothing():
    assert MendGroups().apply(SOUND) is SOUND


def test_mending_keeps_cells_where_they_are_and_most_of_them_in_their_groups():
    layout = painted(SOUND, 7, 1)
    mended = MendGroups().apply(layout)
    assert mended.cells.centres_mm is layout.cells.centres_mm
    assert (mended.cells.groups != layout.cells.groups).sum() <= 2
    assert mended.group_sizes.tolist() == [5, 5, 5, 5]


def test_a_cell_put_on_a_taken_place_is_refused():
    with pytest.raises(LayoutError, match="overlap"):
        PutCells((0,), (tuple(SOUND.cells.centres_mm[1].tolist()),)).apply(SOUND)


def test_a_clearance_changed_there_leaves_every_cell():
    layout = moved(SOUND, 4, 0, -1.5)
    changed = ChangeClearance(wall_mm=0.4).apply(layout)
    assert changed.cells is layout.cells
    assert said(layout, "wall")
    assert not said(changed, "wall")


LIMITED = {
    "touch voltage": (SOUND, lambda layout: replace(layout, limits=replace(layout.limits, touch_voltage_v=12.0)), 20.0),
    "wall": (SOUND, lambda layout: moved(layout, 4, 0, -1.5), 0.1),
    "window": (SOUND, lambda layout: plates(layout, positive_window_mm=14.5), 0.1),
    "terminal": (SOUND, lambda layout: terminal(layout, width_mm=8.0), 0.1),
    "continuous current": (SOUND, lambda layout: replace(layout, design_current_a=60.0), 20.0),
    "neck": (SOUND, lambda layout: plates(replace(layout, design_current_a=60.0), thickness_mm=0.2), 900.0),
    "cell gap": (SOUND, lambda layout: replace(layout, limits=replace(layout.limits, cell_gap_mm=1.2)), 0.5),
}  # fmt: skip


@pytest.mark.parametrize("rule", LIMITED)
def test_the_limit_of_a_finding_can_be_changed_where_it_is_told(rule):
    layout, spoil, value = LIMITED[rule]
    spoiled = spoil(layout)
    setting = setting_behind(said(spoiled, rule)[0], spoiled)
    assert setting.label
    assert not said(setting.change(value).apply(spoiled), rule)


def test_a_limit_that_follows_from_a_definition_has_no_setting():
    layout = painted(SOUND, 7, 1)
    assert setting_behind(said(layout, "uneven group")[0], layout) is None


def test_repairs_and_settings_are_for_rules_there_are():
    from layout_app.checks.reasons import REASONS

    assert OFFERING.keys() | SETTINGS.keys() <= REASONS.keys()


def test_ratings_of_the_cell_change_without_moving_a_cell():
    layout = replace(SOUND, design_current_a=60.0)
    edit = setting_behind(said(layout, "continuous current")[0], layout).change(15.0)
    assert isinstance(edit, ChangeCellType)
    assert edit.apply(layout).cells is layout.cells


def test_making_windows_smaller_never_closes_them():
    layout = plates(SOUND, min_web_mm=9.0)
    found = said(layout, "web")
    assert found
    for offer in offers(found[0], layout):
        assert isinstance(offer.edit, ChangePlates)
        assert all(value > 0 for value in offer.edit.changes.values())
