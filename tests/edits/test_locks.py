"""Locked cells keep place and group through every edit; what cannot be done without changing one says so."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits import (
    AddCorner,
    AddKeepOut,
    AlignCells,
    ArrayCells,
    BalanceGroups,
    ChangeBrief,
    ChangeCellType,
    ChangeFill,
    ChangeGrouping,
    ChangeJoints,
    ChangeLimits,
    ChangeLoop,
    ChangePlates,
    ChangeTerminal,
    Clip,
    DivideAnew,
    EraseCells,
    History,
    LockCells,
    MergeGroups,
    MirrorCells,
    MoveCells,
    MoveGroup,
    OpenRows,
    OverrideSegment,
    PaintCells,
    PasteCells,
    PlaceCells,
    RemoveCorner,
    RemoveKeepOut,
    ResetSegment,
    ReverseChain,
    SetHousing,
    SplitGroup,
    SwapCells,
    SwapGroups,
    TurnCells,
    UnlockCells,
    choosing,
)
from layout_app.edits.consequences import left_alone
from layout_app.edits.locks import LockedCellsError, named_cells
from layout_app.edits.repairs import ChangeClearance, MendGroups, PutCells
from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import cell_types
from layout_app.model.cells import Cells
from layout_app.model.errors import CellsOutOfRangeError, LayoutError
from layout_app.model.housings import Housing

from .modules import PITCH_MM, module

LAYOUT = module()  # four rows of five cells, a group each: cell = 5 · row + column
SOME = st.lists(st.integers(0, 19), min_size=1, max_size=20, unique=True).map(tuple)
ANY_GROUP, GROUP = st.integers(0, 4), st.integers(1, 4)
GROUPS = st.lists(GROUP, min_size=1, max_size=4, unique=True).map(tuple)
LENGTHS = st.sampled_from([0.0, 1.0, -3.0, PITCH_MM, -2 * PITCH_MM, 150.0])
BOX = Contour.rectangle(9.0, 6.0)
EDITS = st.one_of(
    st.builds(PaintCells, SOME, ANY_GROUP),
    st.builds(PlaceCells, st.just(((122.5, 12.5), (122.5, 34.5))), ANY_GROUP),
    st.builds(EraseCells, SOME),
    st.builds(MoveCells, SOME, LENGTHS, LENGTHS),
    st.builds(TurnCells, SOME, st.sampled_from([0.1, math.pi / 2, math.pi])),
    st.builds(MirrorCells, SOME, st.sampled_from(["left to right", "top to bottom"])),
    st.builds(AlignCells, SOME),
    st.builds(ArrayCells, SOME, st.integers(1, 2), LENGTHS, LENGTHS),
    st.builds(lambda cells, x, y: PasteCells(Clip.of(LAYOUT, cells), (x, y)), SOME, LENGTHS, LENGTHS),
    st.builds(PutCells, st.just((3, 4)), st.just(((122.5, 12.5), (122.5, 34.5)))),
    st.builds(OpenRows, SOME, st.sampled_from([4.0, 0.0, -0.5])),
    st.builds(SwapCells, st.integers(0, 19), st.integers(0, 19)),
    st.builds(SwapGroups, GROUP, GROUP),
    st.builds(MoveGroup, GROUP, GROUP),
    st.just(ReverseChain()),
    st.builds(SplitGroup, GROUP),
    st.builds(MergeGroups, GROUPS),
    st.builds(BalanceGroups, st.just(()) | GROUPS),
    st.builds(DivideAnew, GROUPS),
    st.just(MendGroups()),
    st.sampled_from([
        ChangeGrouping(), ChangeGrouping(chain="folded"), ChangeGrouping(n_series=5, n_parallel=4),
        ChangeGrouping(n_parallel=4), ChangeGrouping(first_group_up=False), ChangeFill(gap_mm=0.8),
        ChangeFill(lattice="hexagonal"), ChangeCellType(cell_types()["18650-energy"]),
        ChangeCellType(replace(LAYOUT.cell_type, capacity_ah=3.0)),
        SetHousing(Housing(outline=Contour.rectangle(180.0, 120.0))), ChangeClearance(wall_mm=0.5),
        ChangePlates({"gap_mm": 2.0}), ChangeJoints({"n_wires": 2}), ChangeLimits({"cell_gap_mm": 0.7}),
        ChangeTerminal(True, {"bolt": "M6"}), ChangeBrief({"notes": "locked"}), AddKeepOut(BOX), ChangeLoop(-1, BOX),
        RemoveKeepOut(0), AddCorner(-1, 0), RemoveCorner(-1, 1), AddKeepOut(BOX, segment=2),
        OverrideSegment(2, {"thickness_mm": 1.0}), ResetSegment(2),
    ]),
)  # fmt: skip


def locked(layout, *cells):
    """Return the layout with these cells locked, by number from 0."""
    return LockCells(cells).apply(layout)


def rows_of_locked(layout):
    cells = layout.cells
    return np.column_stack([cells.centres_mm, cells.groups])[cells.locked].tolist()


def sizes(layout):
    return layout.group_sizes.tolist()


# -- the law --------------------------------------------------------------------------------------------------------


@given(cells=SOME, edits=st.lists(EDITS, min_size=1, max_size=5))
@settings(deadline=None, max_examples=120)
def test_no_edit_changes_a_locked_cell_and_undo_hands_back_the_first_layout(cells, edits):
    first = locked(LAYOUT, *cells)
    history, kept = History(first), rows_of_locked(first)
    for edit in edits:
        try:
            after = history.apply(edit)
        except LayoutError:
            continue
        assert rows_of_locked(after) == kept  # to the last bit, and none is locked that was not
    while history.undo_label:
        history.undo()
    assert history.current is first


@given(cells=SOME, edit=EDITS)
@settings(deadline=None, max_examples=120)
def test_where_nothing_is_locked_a_lock_taken_off_again_makes_no_difference(cells, edit):
    unlocked = UnlockCells(cells).apply(locked(LAYOUT, *cells))
    assert unlocked == LAYOUT
    results = []
    for layout in (LAYOUT, unlocked):
        try:
            results.append(edit.apply(layout))
        except LayoutError as error:
            results.append(str(error))
    assert results[0] == results[1]


@given(cells=SOME, free=SOME)
@settings(deadline=None, max_examples=60)
def test_an_edit_of_some_locked_cells_does_what_it_would_with_the_others_alone(cells, free):
    alone = tuple(sorted(set(cells) - set(free)))
    layout = locked(LAYOUT, *free)
    for make in (lambda c: MoveCells(c, 0.0, -150.0), lambda c: PaintCells(c, 0), EraseCells):
        if alone:
            assert make(cells).apply(layout) == make(alone).apply(layout)


# -- locking --------------------------------------------------------------------------------------------------------


def test_locking_and_unlocking_name_how_many_and_change_nothing_else():
    after = locked(LAYOUT, 2, 7)
    assert np.flatnonzero(after.cells.locked).tolist() == [2, 7]
    assert after.cells.centres_mm is LAYOUT.cells.centres_mm
    assert LockCells((2, 7)).label == "Lock 2 cells"
    assert UnlockCells((2,)).label == "Unlock 1 cell"
    assert LockCells((2,)).apply(after) is after
    assert UnlockCells((3,)).apply(after) is after
    assert np.flatnonzero(UnlockCells((2,)).apply(after).cells.locked).tolist() == [7]
    with pytest.raises(LayoutError, match="no cell 21"):
        LockCells((20,)).apply(LAYOUT)


def test_locks_are_true_or_false_and_one_for_each_cell():
    with pytest.raises(CellsOutOfRangeError, match="2 cells need as many locks, not 1"):
        Cells([(0, 0), (30, 0)], [1, 1], [True])
    with pytest.raises(CellsOutOfRangeError, match="true or false"):
        Cells([(0, 0), (30, 0)], [1, 1], [1, 0])


def test_cells_differ_when_their_locks_do():
    one, other = Cells([(0, 0)], [1]), Cells([(0, 0)], [1], [True])
    assert one != other
    assert hash(one) == hash(Cells([(0, 0)], [1], [False]))


def test_other_groups_share_the_array_of_locks():
    cells = locked(LAYOUT, 4).cells
    assert cells.regrouped(cells.groups * 0).locked is cells.locked


def test_copies_are_not_locked():
    layout = locked(LAYOUT, *range(20))
    pasted = PasteCells(Clip.of(layout, (0, 1)), (300.0, 300.0)).apply(layout)
    assert pasted.cells.locked.tolist() == [True] * 20 + [False] * 2
    array = ArrayCells((0, 1), 2, 0.0, -100.0).apply(layout)
    assert array.cells.locked.tolist() == [True] * 20 + [False] * 4


def test_locked_cells_are_chosen_together():
    layout = locked(LAYOUT, 2, 7, 9)
    assert choosing.WIDENINGS["lock"](layout, frozenset({7})) == {2, 7, 9}
    assert choosing.WIDENINGS["lock"](layout, frozenset({0})) == set(range(20)) - {2, 7, 9}


# -- what is refused, and what is left alone ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (MoveCells((2, 7), 5.0, 0.0), "Cells 3 and 8 are locked and cannot be moved. Unlock them first."),
        (EraseCells((2,)), "Cell 3 is locked and cannot be erased. Unlock it first."),
        (PaintCells((2,), 4), "Cell 3 is locked and cannot be put into another group. Unlock it first."),
        (SwapCells(0, 7), "Cell 8 is locked and would come from group 2 into 1."),
        (ReverseChain(), "Cells 3 and 8 are locked and would come into other groups."),
        (MoveGroup(4, 1), "would come into other groups"),
        (SplitGroup(1), "Cell 8 is locked and would come from group 2 into 3"),
        (ChangeFill(gap_mm=0.8), "filling the housing again places every cell anew"),
        (ChangeCellType(cell_types()["18650-energy"]), "filling the housing again places every cell anew"),
        (SetHousing(Housing(outline=Contour.rectangle(180.0, 120.0))), "places every cell anew"),
        (ChangeGrouping(chain="folded"), "“Divide anew” of chosen groups leaves locked cells alone"),
        (OpenRows((2, 7), 3.0), "stand on more than one side of the gaps"),
    ],
)
def test_what_would_change_a_locked_cell_says_which_and_what_to_do(edit, says):
    with pytest.raises(LockedCellsError) as refused:
        edit.apply(locked(LAYOUT, 2, 7))
    assert says in str(refused.value)
    assert str(refused.value).endswith(("Unlock them first.", "Unlock it first."))
    assert set(refused.value.cells) <= {2, 7}


def test_what_leaves_place_and_group_alone_is_done_in_spite_of_locks():
    layout = locked(LAYOUT, 2, 7)
    assert PaintCells((2, 7), 2).apply(locked(LAYOUT, 7)).cells.groups[2] == 2
    assert PaintCells((2,), 1).apply(layout) is layout  # it is in group 1 already
    assert SwapCells(2, 3).apply(layout) is layout
    assert SwapGroups(3, 4).apply(layout).cells.groups[10] == 4
    assert MergeGroups((3, 4)).apply(layout).n_series == 3
    assert not ChangeGrouping(first_group_up=False).apply(layout).first_group_up
    assert ChangeCellType(replace(layout.cell_type, capacity_ah=3.0)).apply(layout).cells is layout.cells


def test_rows_open_away_from_the_side_that_is_locked():
    after = OpenRows((2, 7), 3.0).apply(locked(LAYOUT, 2))  # between rows 1 and 2; row 1 holds the locked cell
    moved = after.cells.centres_mm - LAYOUT.cells.centres_mm
    np.testing.assert_allclose(moved, [[0, 0]] * 5 + [[0, 3]] * 15, atol=1e-12)
    after = OpenRows((2, 7), 3.0).apply(locked(LAYOUT, 12))
    moved = after.cells.centres_mm - LAYOUT.cells.centres_mm
    np.testing.assert_allclose(moved, [[0, -3]] * 5 + [[0, 0]] * 15, atol=1e-12)


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (MoveCells((2, 3), 0.0, -50.0), "Cell 3 is locked and stays as it was."),
        (PaintCells((2, 3, 7), 1), "Cell 8 is locked and stays as it was."),  # cell 3 is in group 1 anyway
        (EraseCells((2, 7, 8)), "Cells 3 and 8 are locked and stay as they were."),
        (BalanceGroups(), "Cells 3 and 8 are locked and stay as they were."),
        (DivideAnew((2, 3)), "Cell 8 is locked and stays as it was."),
        (OpenRows((7, 12), 3.0), "Rows with locked cells stayed: cells 3 and 8."),
        (MoveCells((3,), 0.0, -50.0), ""),
        (DivideAnew((3, 4)), ""),
        (ArrayCells((2,), 1, 0.0, 200.0), ""),
        (LockCells((2,)), ""),
    ],
)
def test_locked_cells_left_alone_are_named(edit, says):
    assert left_alone(edit, locked(LAYOUT, 2, 7)) == says
    assert left_alone(edit, LAYOUT) == ""


def test_many_locked_cells_are_counted():
    assert named_cells([0]) == "cell 1"
    assert named_cells(range(4)) == "cells 1, 2, 3 and 4"
    assert named_cells(range(20)) == "cells 1, 2, 3, 4 and 16 more"


# -- trading around locked cells ------------------------------------------------------------------------------------


def test_balance_trades_around_locked_cells():
    # group 1 has 7 cells, group 2 has 3: two must change hands
    uneven = PaintCells((5, 6), 1).apply(LAYOUT)
    plain = BalanceGroups((1, 2)).apply(uneven)
    traded = int(np.flatnonzero(plain.cells.groups != uneven.cells.groups)[0])  # so another must go in its place
    after = BalanceGroups((1, 2)).apply(locked(uneven, traded))
    assert sizes(after) == sizes(plain) == [5, 5, 5, 5]
    assert after.cells.groups[traded] == 1


def test_balance_says_that_locks_are_in_the_way():
    uneven = PaintCells((5, 6), 1).apply(LAYOUT)
    with pytest.raises(LayoutError, match="moving a locked one"):
        BalanceGroups((1, 2)).apply(locked(uneven, *range(7)))


def test_mending_leaves_locked_cells_where_they_are():
    uneven = PaintCells((5, 6), 1).apply(LAYOUT)
    traded = int(np.flatnonzero(MendGroups().apply(uneven).cells.groups != uneven.cells.groups)[0])
    after = MendGroups().apply(locked(uneven, traded))
    assert sizes(after) == [5, 5, 5, 5]
    assert after.cells.groups[traded] == 1


@given(cells=st.lists(st.integers(0, 11), min_size=1, max_size=4, unique=True), data=st.data())
@settings(deadline=None, max_examples=40)
def test_divided_anew_groups_hold_their_locked_cells_in_one_piece(cells, data):
    wide = module(2, 6)
    groups = np.array(data.draw(st.permutations([1] * 6 + [2] * 6)))
    layout = locked(replace(wide, cells=wide.cells.regrouped(groups)), *cells)
    try:
        after = DivideAnew((1, 2)).apply(layout)
    except LayoutError as refused:
        assert "leave the locked" in str(refused)  # noqa: PT017  # an edit may also go through: no raises block fits
        return
    for group in (1, 2):
        members = np.flatnonzero(after.cells.groups == group)
        assert len(members) > 0
        reached, front = {int(members[0])}, [int(members[0])]
        while front:
            place = after.cells.centres_mm[front.pop()]
            away = np.hypot(*(after.cells.centres_mm[members] - place).T)
            fresh = set(members[away < 1.1 * PITCH_MM].tolist()) - reached
            reached |= fresh
            front += fresh
        assert reached == set(members.tolist())


@given(cells=SOME)
@settings(deadline=None, max_examples=40)
def test_groups_that_are_sound_can_always_be_divided_anew_whatever_is_locked_in_them(cells):
    after = DivideAnew((1, 2, 3, 4)).apply(locked(LAYOUT, *cells))  # at worst they stay as they are
    assert sizes(after) == [5] * 4


def test_a_split_group_keeps_locked_cells_in_its_first_half():
    last = 4
    for cell in (15, 19):  # either end of the row
        after = SplitGroup(last).apply(locked(LAYOUT, cell))
        assert after.cells.groups[cell] == last
        assert sizes(after)[3:] in ([2, 3], [3, 2])
