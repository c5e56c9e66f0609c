"""Corners of outline and keep-outs, and keep-outs of single segments: each edit changes the loop it names alone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits import AddCorner, AddKeepOut, ChangeLoop, OverrideSegment, OwnKeepOut, RemoveCorner, RemoveKeepOut
from layout_app.edits.housings import OUTLINE, loop_name, loop_of
from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.saved_file import dumps, loads
from layout_app.workings import Workings

from .modules import PITCH_MM, module

AMID = (12.5 + 1.5 * PITCH_MM, 12.5 + 1.5 * PITCH_MM)  # amid four cells of groups 2 and 3, under segment 2
BOX = Contour.rectangle(4.0, 3.0).moved(AMID[0] - 2, AMID[1] - 1.5)
LAYOUT = AddKeepOut(BOX.moved(PITCH_MM, 0.0), segment=2).apply(
    AddKeepOut(BOX, segment=2).apply(AddKeepOut(Contour.circle(60.0, 45.0, 3.0)).apply(module()))
)
LOOPS = [OUTLINE, 0, OwnKeepOut(2, 0), OwnKeepOut(2, 1)]


def loops(layout):
    return [loop_of(layout, index) for index in LOOPS]


@pytest.mark.parametrize("index", LOOPS)
@given(data=st.data(), fraction=st.floats(0.05, 0.95))
@settings(deadline=None, max_examples=25)
def test_a_corner_added_and_removed_leaves_the_loop_as_it_was_and_the_others_alone(index, data, fraction):
    loop = loop_of(LAYOUT, index)
    edge = data.draw(st.integers(0, len(loop.bulges) - 1))
    after = AddCorner(index, edge, fraction).apply(LAYOUT)
    assert len(loop_of(after, index).bulges) == len(loop.bulges) + 1
    assert loop_of(after, index).area_mm2 == pytest.approx(loop.area_mm2, rel=1e-9)
    changed = [one is not other for one, other in zip(loops(LAYOUT), loops(after), strict=True)]
    assert changed == [each == index for each in LOOPS]
    if len(loop.bulges) >= 3:
        again = loop_of(RemoveCorner(index, edge + 1).apply(after), index)
        np.testing.assert_allclose(again.vertices_mm, loop.vertices_mm, atol=1e-9)
        np.testing.assert_allclose(again.bulges, loop.bulges, atol=1e-6)
    assert after.cells is LAYOUT.cells


@pytest.mark.parametrize(
    ("edit", "label"),
    [
        (AddCorner(OUTLINE, 0), "Add a corner to the outline"),
        (RemoveCorner(0, 3), "Remove corner 4 of keep-out 1"),
        (ChangeLoop(OwnKeepOut(2, 1), BOX), "Change keep-out 2 of segment 2"),
        (RemoveKeepOut(OwnKeepOut(2, 0)), "Remove keep-out 1 of segment 2"),
        (AddKeepOut(BOX, segment=3), "Add keep-out to segment 3"),
        (AddKeepOut(BOX), "Add keep-out"),
    ],
)
def test_steps_name_the_loop(edit, label):
    assert edit.label == label


def test_a_loop_of_three_corners_keeps_them():
    triangle = Contour([(50, 40), (60, 40), (55, 48)])
    layout = AddKeepOut(triangle).apply(LAYOUT)
    with pytest.raises(LayoutError, match="Keep-out 2 has 3 corners; with fewer than 3 it would enclose nothing"):
        RemoveCorner(1, 0).apply(layout)


def test_a_corner_whose_absence_would_let_the_loop_cross_itself_is_kept_and_the_place_is_named():
    # without its corner (0, 20) the edge from (20, 20) to (0, 0) would cut the one from (20, 0) to (4, 12):
    # derived: x = y on x = 20 − 16 t, y = 12 t gives t = 5 / 7, so 60 / 7 = 8.5714 from (40, 30) on
    hook = Contour([(0, 0), (20, 0), (4, 12), (20, 20), (0, 20)]).moved(40.0, 30.0)
    with pytest.raises(LayoutError, match=r"Keep-out 2 would cross or touch itself at \(48\.5714, 38\.5714\)"):
        RemoveCorner(1, 4).apply(AddKeepOut(hook).apply(LAYOUT))


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (AddCorner(OUTLINE, 99), "edge is 100; it must be one of the 8 there are"),
        (AddCorner(OUTLINE, 0, 0.0), "more than 0 and less than 1"),
        (AddCorner(OUTLINE, 0, float("nan")), "more than 0 and less than 1"),
        (AddCorner(OUTLINE, 0, 0.5, (60.0, 400.0)), "cross or touch itself"),
        (RemoveCorner(OUTLINE, -1), "corner is 0; it must be one of the 8 there are"),
        (RemoveCorner(5, 0), "keep-out is 6; it must be one of the 1 there are"),
        (RemoveKeepOut(OwnKeepOut(2, 2)), "keep-out is 3; it must be one of the 2 there are"),
        (RemoveKeepOut(OwnKeepOut(1, 0)), "keep-out is 1; it must be one of the 0 there are"),
        (AddKeepOut(BOX, segment=9), "segment is 9"),
        (AddKeepOut(Contour([(0, 0), (9, 9), (9, 0), (0, 9)]), segment=2), "cross or touch itself"),
    ],
)
def test_what_cannot_be_says_why(edit, says):
    with pytest.raises(LayoutError) as refused:
        edit.apply(LAYOUT)
    assert says in str(refused.value)


def test_a_keep_out_of_a_segment_changes_its_metal_and_no_other():
    before = Workings(LAYOUT)
    assert len(before.segments) == 5
    moved = ChangeLoop(OwnKeepOut(2, 0), BOX.moved(0.5, 0.0)).apply(LAYOUT)
    segments = Workings(moved, before).segments
    assert [new is old for new, old in zip(segments, before.segments, strict=True)] == [True, True, False, True, True]


def test_the_last_keep_out_of_a_segment_goes_with_its_override():
    layout = AddKeepOut(BOX, segment=3).apply(module())
    assert layout.override_of(3).keep_outs == (BOX,)
    assert loads(dumps(layout)) == layout
    assert RemoveKeepOut(OwnKeepOut(3, 0)).apply(layout).overrides == ()
    thick = OverrideSegment(3, {"thickness_mm": 1.0}).apply(layout)
    assert RemoveKeepOut(OwnKeepOut(3, 0)).apply(thick).override_of(3).changes == {"thickness_mm": 1.0}


def test_the_same_loop_again_is_no_change():
    for index in LOOPS:
        assert ChangeLoop(index, loop_of(LAYOUT, index)).apply(LAYOUT) is LAYOUT
    assert [loop_name(index) for index in LOOPS[-2:]] == ["keep-out 1 of segment 2", "keep-out 2 of segment 2"]
