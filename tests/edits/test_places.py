"""Row gaps, keep-outs and outline, overrides of segments: what they change and that all else stays."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits import (
    AddKeepOut,
    ChangeGrouping,
    ChangeLoop,
    OpenRows,
    OverrideSegment,
    RemoveKeepOut,
    ResetSegment,
)
from layout_app.edits.housings import OUTLINE
from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import material
from layout_app.model.errors import LayoutError
from layout_app.model.saved_file import dumps, loads
from layout_app.workings import Workings

from .modules import PITCH_MM, module

LAYOUT = module()  # four rows of five, row r at y = 12.5 + 22 r


def test_a_gap_opens_between_two_rows_half_to_either_side():
    after = OpenRows((5, 10), 6.0).apply(LAYOUT)  # rows 2 and 3
    y = after.cells.centres_mm[::5, 1] - LAYOUT.cells.centres_mm[::5, 1]
    np.testing.assert_allclose(y, [-3, -3, 3, 3], atol=1e-9)
    np.testing.assert_allclose(after.cells.centres_mm[:, 0], LAYOUT.cells.centres_mm[:, 0], atol=1e-9)


def test_three_chosen_rows_open_two_gaps():
    after = OpenRows((0, 5, 10), 4.0).apply(LAYOUT)
    gaps = np.diff(after.cells.centres_mm[::5, 1]) - PITCH_MM
    np.testing.assert_allclose(gaps, [4, 4, 0], atol=1e-9)


@given(gap_mm=st.floats(0.01, 50))
@settings(deadline=None, max_examples=30)
def test_a_gap_closed_again_brings_the_cells_back(gap_mm):
    again = OpenRows((5, 10), -gap_mm).apply(OpenRows((5, 10), gap_mm).apply(LAYOUT))
    np.testing.assert_allclose(again.cells.centres_mm, LAYOUT.cells.centres_mm, atol=1e-9)


def test_rows_closed_so_far_that_cells_overlap_or_a_single_row_are_refused():
    with pytest.raises(LayoutError, match="overlap"):
        OpenRows((5, 10), -2.0).apply(LAYOUT)  # gap of 1 mm between cans
    with pytest.raises(LayoutError, match="two neighbouring rows"):
        OpenRows((5, 6), 2.0).apply(LAYOUT)
    with pytest.raises(LayoutError, match="two neighbouring rows"):
        OpenRows((0, 10), 2.0).apply(LAYOUT)  # a row lies between


def test_keep_outs_come_and_go_and_no_cell_moves():
    boss = Contour.circle(60.0, 45.0, 4.0)
    added = AddKeepOut(boss).apply(LAYOUT)
    assert added.housing.keep_outs == (boss,)
    assert added.cells is LAYOUT.cells
    wider = ChangeLoop(0, Contour.circle(60.0, 45.0, 6.0)).apply(added)
    assert wider.housing.keep_outs[0].as_circle == pytest.approx((60, 45, 6))
    assert RemoveKeepOut(0).apply(wider).housing == LAYOUT.housing
    assert ChangeLoop(0, boss).apply(added) is added


def test_loops_that_cross_themselves_and_loops_that_are_not_there_are_refused():
    crossed = Contour([(0, 0), (10, 10), (10, 0), (0, 10)])
    for edit in (AddKeepOut(crossed), ChangeLoop(OUTLINE, crossed)):
        with pytest.raises(LayoutError, match="cross or touch itself"):
            edit.apply(LAYOUT)
    with pytest.raises(LayoutError, match="keep-out"):
        RemoveKeepOut(0).apply(LAYOUT)
    with pytest.raises(LayoutError, match="needs a housing"):
        RemoveKeepOut(OUTLINE).apply(LAYOUT)


def test_an_override_changes_one_segment_and_leaves_the_others_the_same_objects():
    before = Workings(LAYOUT)
    assert len(before.segments) == 5
    after = OverrideSegment(2, {"thickness_mm": 1.0, "material": material("aluminium-1050")}).apply(LAYOUT)
    segments = Workings(after, before).segments
    assert (segments[2].thickness_mm, segments[2].material.id) == (1.0, "aluminium-1050")
    assert [new is old for new, old in zip(segments, before.segments, strict=True)] == [True, True, False, True, True]


def test_a_wider_setback_and_an_extra_keep_out_take_metal_from_one_segment_only():
    base = Workings(LAYOUT)
    hole = Contour.circle(12.5 + 1.5 * PITCH_MM, 12.5 + 1.5 * PITCH_MM, 2.0)  # amid four cells of rows 2 and 3
    override = OverrideSegment(2, {"keep_outs": (hole,)})  # segment 2 joins groups 2 and 3
    segments = Workings(override.apply(LAYOUT), base).segments
    lost = base.segments[2].area_mm2 - segments[2].area_mm2
    assert lost == pytest.approx(math.pi * (2.0 + LAYOUT.plates.setback_mm) ** 2, rel=1e-3)
    back = Workings(OverrideSegment(2, {"setback_mm": 4.0}).apply(LAYOUT), base).segments
    assert back[2].area_mm2 < base.segments[2].area_mm2
    assert back[1] is base.segments[1]


def test_overrides_are_saved_and_files_without_them_stay_as_they_were():
    after = OverrideSegment(2, {"thickness_mm": 1.0, "keep_outs": (Contour.circle(50, 50, 3),)}).apply(LAYOUT)
    assert loads(dumps(after)).overrides == after.overrides
    assert "overrides" not in dumps(LAYOUT)


def test_resetting_a_segment_and_taking_its_last_difference_away_are_the_same():
    changed = OverrideSegment(2, {"thickness_mm": 1.0}).apply(LAYOUT)
    assert ResetSegment(2).apply(changed).overrides == ()
    assert OverrideSegment(2, {"thickness_mm": None}).apply(changed).overrides == ()
    assert ResetSegment(2).apply(LAYOUT) is LAYOUT


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (OverrideSegment(9, {"thickness_mm": 1.0}), "segment"),
        (OverrideSegment(2, {"thickness_mm": -1.0}), "sheet thickness"),
        (OverrideSegment(2, {"setback_mm": float("nan")}), "setback"),
    ],
)
def test_overrides_out_of_range_are_refused(edit, said):
    with pytest.raises(LayoutError, match=f"(?i){said}"):
        edit.apply(LAYOUT)


def test_a_chain_of_another_length_drops_the_overrides():
    changed = OverrideSegment(4, {"thickness_mm": 1.0}).apply(LAYOUT)
    assert ChangeGrouping(n_series=2, n_parallel=10).apply(changed).overrides == ()
    assert ChangeGrouping(chain="folded").apply(changed).overrides == changed.overrides
