"""Edits of whole groups: laws of swapping, moving, reversing, splitting, merging; balancing breaks no group."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout_app.edits import (
    BalanceGroups,
    DivideAnew,
    History,
    MergeGroups,
    MoveGroup,
    OverrideSegment,
    PaintCells,
    ReverseChain,
    SplitGroup,
    SwapCells,
    SwapGroups,
)
from layout_app.geometry.neighbours import neighbour_pairs
from layout_app.model.errors import LayoutError

from .modules import PITCH_MM, module

LAYOUT = OverrideSegment(2, {"thickness_mm": 1.0}).apply(module())
WIDE = module(n_series=4, n_parallel=8)
GROUPS = st.integers(1, 4)
PAINTED = st.lists(st.integers(0, 4), min_size=20, max_size=20)
EDITS = st.one_of(
    st.builds(SwapCells, st.integers(0, 19), st.integers(0, 19)),
    st.builds(SwapGroups, GROUPS, GROUPS),
    st.builds(MoveGroup, GROUPS, st.integers(0, 6)),
    st.just(ReverseChain()),
    st.builds(SplitGroup, GROUPS),
    st.builds(lambda groups: MergeGroups(tuple(groups)), st.lists(GROUPS, max_size=3)),
    st.builds(lambda groups: BalanceGroups(tuple(groups)), st.lists(GROUPS, max_size=3)),
    st.builds(lambda groups: DivideAnew(tuple(groups)), st.lists(GROUPS, max_size=3)),
    st.builds(lambda cells, group: PaintCells(tuple(cells), group), st.lists(st.integers(0, 19), max_size=5), GROUPS),
)


def painted(groups):
    return replace(LAYOUT, cells=LAYOUT.cells.regrouped(groups))


def n_pieces(layout, group):
    """How many pieces a group is in, counted by hand: flood over neighbours."""
    members = set(layout.cells.of_group(group).tolist())
    pairs = neighbour_pairs(layout.cells.centres_mm, 1.5 * PITCH_MM)
    around = {cell: set() for cell in members}
    for a, b in pairs.tolist():
        if a in members and b in members:
            around[a].add(b)
            around[b].add(a)
    n = 0
    while members:
        n += 1
        front = [members.pop()]
        while front:
            fresh = around[front.pop()] & members
            members -= fresh
            front += fresh
    return n


@given(edits=st.lists(EDITS, max_size=6))
@settings(deadline=None, max_examples=40)
def test_cells_stay_where_they_are_and_undo_hands_back_the_first_layout(edits):
    history = History(LAYOUT)
    for edit in edits:
        try:
            after = history.apply(edit)
        except LayoutError:
            continue
        assert after.cells.centres_mm is LAYOUT.cells.centres_mm
        assert after.group_sizes.sum() <= 20
        assert len(after.group_sizes) == after.n_series
    while history.undo_label:
        history.undo()
    assert history.current is LAYOUT


@given(groups=PAINTED, one=GROUPS, other=GROUPS)
@settings(deadline=None, max_examples=30)
def test_swapping_and_reversing_twice_and_moving_back_are_no_change(groups, one, other):
    layout = painted(groups)
    for there, back in (
        (SwapGroups(one, other), SwapGroups(one, other)),
        (SwapCells(3, 11), SwapCells(11, 3)),
        (MoveGroup(one, other), MoveGroup(other, one)),
        (ReverseChain(), ReverseChain()),
    ):
        again = back.apply(there.apply(layout))
        np.testing.assert_array_equal(again.cells.groups, groups)
        assert (again.overrides, again.terminals) == (layout.overrides, layout.terminals)
        assert again.first_group_up == layout.first_group_up


@pytest.mark.parametrize("n_series", [3, 4])
def test_reversing_turns_every_cell_over_and_leaves_the_metal_where_it_is(n_series):
    from layout_app.workings import Workings

    before = module(n_series=n_series)
    after = ReverseChain().apply(before)
    np.testing.assert_array_equal(after.positive_up, ~before.positive_up)
    old, new = Workings(before).segments, Workings(after).segments
    for k in range(n_series + 1):
        assert new[n_series - k].face == old[k].face
        assert new[n_series - k].pieces[0].area_mm2 == pytest.approx(old[k].pieces[0].area_mm2, rel=1e-9)


def test_reversing_takes_an_override_and_the_tabs_along():
    assert [each.segment for each in ReverseChain().apply(LAYOUT).overrides] == [2]  # 4 − 2
    moved = OverrideSegment(1, {"thickness_mm": 2.0}).apply(module())
    assert [each.segment for each in ReverseChain().apply(moved).overrides] == [3]


def test_a_split_group_makes_two_even_halves_in_one_piece_each():
    after = SplitGroup(2).apply(LAYOUT)
    assert after.n_series == 5
    assert sorted(after.group_sizes[1:3].tolist()) == [2, 3]
    assert [n_pieces(after, group) for group in (2, 3)] == [1, 1]
    assert after.group_sizes[[0, 3, 4]].tolist() == [5, 5, 5]
    assert [each.segment for each in after.overrides] == [3]  # segment 2, behind the group, is number 3 now


def test_merging_what_was_split_gives_the_groups_back():
    again = MergeGroups((2, 3)).apply(SplitGroup(2).apply(LAYOUT))
    np.testing.assert_array_equal(again.cells.groups, LAYOUT.cells.groups)
    assert (again.n_series, again.overrides) == (4, LAYOUT.overrides)


def test_moving_a_group_shifts_those_between():
    after = MoveGroup(1, 3).apply(LAYOUT)
    first_of_row = after.cells.groups[[0, 5, 10, 15]]
    assert first_of_row.tolist() == [3, 1, 2, 4]


@given(cells=st.lists(st.integers(0, 31), min_size=1, max_size=8), group=GROUPS)
@settings(deadline=None, max_examples=40)
def test_balancing_evens_counts_without_breaking_a_group_that_was_whole(cells, group):
    uneven = PaintCells(tuple(cells), group).apply(WIDE)
    sizes = uneven.group_sizes
    assume(sizes.min() > 0)
    was_whole = [k for k in range(1, 5) if n_pieces(uneven, k) == 1]
    try:
        after = BalanceGroups().apply(uneven)
    except LayoutError:
        return
    assert np.ptp(after.group_sizes) <= np.ptp(sizes)
    assert after.group_sizes.sum() == sizes.sum()
    for k in was_whole:
        assert n_pieces(after, k) == 1


def test_balancing_makes_the_counts_even():
    # rows of eight; group 2 has taken two cells from group 1: 6, 10, 8, 8
    uneven = PaintCells((0, 1), 2).apply(WIDE)
    assert uneven.group_sizes.tolist() == [6, 10, 8, 8]
    assert BalanceGroups().apply(uneven).group_sizes.tolist() == [8, 8, 8, 8]


def test_only_the_chosen_groups_trade():
    uneven = PaintCells((8, 9), 3).apply(PaintCells((0, 1), 2).apply(WIDE))  # 6, 8, 10, 8
    after = BalanceGroups((2, 3)).apply(uneven)
    assert after.group_sizes.tolist() == [6, 9, 9, 8]


def test_groups_divided_anew_hold_the_same_cells_and_the_others_are_untouched():
    mixed = replace(WIDE, cells=WIDE.cells.regrouped(np.where(np.arange(32) // 8 == 1, 2, WIDE.cells.groups)))
    jumbled = PaintCells((8, 10, 12, 14), 3).apply(PaintCells((16, 18, 20, 22), 2).apply(mixed))
    after = DivideAnew((2, 3)).apply(jumbled)
    assert after.group_sizes.tolist() == [8, 8, 8, 8]
    assert [n_pieces(after, group) for group in (2, 3)] == [1, 1]
    np.testing.assert_array_equal(after.cells.groups[:8], 1)
    np.testing.assert_array_equal(after.cells.groups[24:], 4)
    assert set(after.cells.of_group(2).tolist()) <= set(range(8, 24))


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (MergeGroups((2,)), "two groups"),
        (DivideAnew((2,)), "two groups or more"),
        (SwapGroups(0, 2), "from 1 to 4"),
        (MoveGroup(1, 9), "from 1 to 4"),
        (SplitGroup(9), "from 1 to 4"),
        (SwapCells(0, 99), "cells 1 to 20"),
    ],
)
def test_what_cannot_be_done_is_explained(edit, said):
    with pytest.raises(LayoutError, match=f"(?i){said}"):
        edit.apply(LAYOUT)


def test_a_group_of_one_cell_is_not_split():
    lone = PaintCells(tuple(range(1, 5)), 2).apply(module())
    with pytest.raises(LayoutError, match="splitting takes two"):
        SplitGroup(1).apply(lone)
