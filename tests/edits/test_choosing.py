"""Which cells are chosen: laws of growing and shrinking, rows, groups, loops."""

import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits import ChangeFill, EraseCells, MoveCells, choosing
from layout_app.model.cells import Cells

from .modules import PITCH_MM, module

LAYOUT = module()  # four rows of five: cell = 5 · row + column, one group a row
CHOICES = st.frozensets(st.integers(0, 19))


@given(chosen=CHOICES)
@settings(deadline=None, max_examples=50)
def test_growing_then_shrinking_keeps_what_was_and_the_other_way_round_adds_nothing(chosen):
    # closing is extensive and opening anti-extensive: mathematical morphology on a graph
    assert chosen <= choosing.shrunk(LAYOUT, choosing.grown(LAYOUT, chosen))
    assert choosing.grown(LAYOUT, choosing.shrunk(LAYOUT, chosen)) <= chosen


@given(chosen=CHOICES)
@settings(deadline=None, max_examples=50)
def test_shrinking_is_growing_of_the_rest(chosen):
    rest = choosing.inverted(LAYOUT, chosen)
    assert choosing.shrunk(LAYOUT, chosen) == choosing.inverted(LAYOUT, choosing.grown(LAYOUT, rest))
    assert choosing.inverted(LAYOUT, rest) == chosen


def test_growing_takes_the_four_neighbours_of_a_square_lattice():
    assert choosing.grown(LAYOUT, frozenset({7})) == {7, 2, 12, 6, 8}


@given(chosen=CHOICES)
@settings(deadline=None, max_examples=50)
def test_rows_and_groups_are_whole_and_choosing_them_twice_changes_nothing(chosen):
    wanted = {5 * (cell // 5) + column for cell in chosen for column in range(5)}
    assert choosing.whole_rows(LAYOUT, chosen) == wanted
    assert choosing.whole_groups(LAYOUT, chosen) == wanted  # one group a row


def test_a_cell_moved_a_little_stays_in_its_row():
    moved = MoveCells((6,), 0.0, 0.5).apply(LAYOUT)
    assert choosing.whole_rows(moved, frozenset({5})) == {5, 6, 7, 8, 9}


def test_same_polarity_takes_every_second_group():
    assert choosing.same_polarity(LAYOUT, frozenset({0})) == {*range(5), *range(10, 15)}


def test_a_box_takes_centres_inside_it_from_either_corner():
    low, high = (12.0, 12.0), (12.5 + PITCH_MM, 12.5 + PITCH_MM)
    assert choosing.in_box(LAYOUT, low, high) == choosing.in_box(LAYOUT, high, low) == {0, 1, 5, 6}


@given(n=st.integers(3, 40), turn=st.floats(0, 2 * math.pi), radius=st.floats(5, 100))
@settings(deadline=None, max_examples=50)
def test_a_round_loop_takes_what_its_inner_circle_holds_and_nothing_beyond_the_outer(n, turn, radius):
    middle = np.array([60.0, 45.0])
    angle = turn + np.arange(n) * 2 * math.pi / n
    loop = middle + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    taken = choosing.in_loop(LAYOUT, loop)
    away = np.hypot(*(LAYOUT.cells.centres_mm - middle).T)
    assert set(np.flatnonzero(away < radius * math.cos(math.pi / n) - 1e-9).tolist()) <= taken
    assert taken <= set(np.flatnonzero(away <= radius + 1e-9).tolist())


def test_a_region_ends_at_cells_of_other_groups():
    groups = LAYOUT.cells.groups.copy()
    groups[7] = 1  # row 2: 5 6 | 8 9 hang together no longer
    cut = Cells(LAYOUT.cells.centres_mm, groups)
    assert choosing.region_around(replace(LAYOUT, cells=cut), 5) == {5, 6}


def test_the_choice_follows_the_cells_when_others_are_erased():
    after = EraseCells((0, 3)).apply(LAYOUT)
    assert choosing.after_edit(frozenset({2, 3, 4}), LAYOUT, after) == {1, 2}
    assert choosing.after_edit(frozenset({1, 2}), after, LAYOUT) == {2, 4}


def test_cells_are_no_longer_chosen_when_the_layout_is_laid_out_anew():
    before = module()
    assert choosing.after_edit(frozenset({2, 3}), before, ChangeFill(gap_mm=0.5).apply(before)) == frozenset()


def test_chosen_cells_are_found_by_place_when_they_are_numbered_anew():
    before = module()
    order = np.roll(np.arange(len(before.cells)), 3)  # the cell before number k now has number k + 3
    after = replace(before, cells=Cells(before.cells.centres_mm[order], before.cells.groups[order]))
    assert choosing.after_edit(frozenset({2, 4}), before, after) == {5, 7}


def test_cells_moved_or_swapped_with_others_in_group_only_stay_chosen():
    before = module()
    moved = MoveCells((3, 4), 0.25, 0.0).apply(before)
    assert choosing.after_edit(frozenset({3, 7}), before, moved) == {3, 7}
    assert choosing.after_edit(frozenset({3, 7}), moved, before) == {3, 7}
