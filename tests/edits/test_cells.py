"""Painting, placing and erasing cells."""

import numpy as np
import pytest

from layout_app.edits import EraseCells, PaintCells, PlaceCells
from layout_app.model.errors import LayoutError

from .modules import PITCH_MM, module


def test_painting_moves_only_the_chosen_cells():
    before = module()
    after = PaintCells((0, 7), 3).apply(before)
    assert np.flatnonzero(after.cells.groups != before.cells.groups).tolist() == [0, 7]
    assert after.cells.groups[[0, 7]].tolist() == [3, 3]


def test_painting_a_group_with_itself_changes_nothing():
    before = module()
    assert PaintCells((0, 1), 1).apply(before) is before
    assert PaintCells((), 2).apply(before) is before


@pytest.mark.parametrize("group", [-1, 5])
def test_painting_into_a_group_outside_the_chain_is_refused(group):
    with pytest.raises(LayoutError, match="from 1 to 4"):
        PaintCells((0,), group).apply(module())


@pytest.mark.parametrize("edit", [PaintCells((20,), 1), EraseCells((20,)), EraseCells((-1,))])
def test_cells_that_do_not_exist_are_refused(edit):
    with pytest.raises(LayoutError, match="cells 1 to 20"):
        edit.apply(module())


def test_placed_cells_come_last():
    free_site = (12.5 + 5 * PITCH_MM, 12.5)
    after = PlaceCells((free_site,), 1).apply(module())
    assert len(after.cells) == 21
    assert after.cells.centres_mm[-1].tolist() == list(free_site)
    assert after.cells.groups[-1] == 1


def test_placing_on_a_cell_is_refused_naming_it():
    # 20 mm from cell 1's centre; cans of 21 mm overlap by 1 mm
    with pytest.raises(LayoutError, match=r"overlap cell 1 by 1\.00 mm"):
        PlaceCells(((12.5, 12.5 - 20.0),)).apply(module())


def test_two_new_cells_may_not_overlap_each_other():
    with pytest.raises(LayoutError, match="overlap cell 21"):
        PlaceCells(((300.0, 0.0), (301.0, 0.0))).apply(module())


@pytest.mark.parametrize("place_mm", [(float("nan"), 0.0), (float("inf"), 0.0), (1e300, 0.0)])
def test_places_that_are_no_numbers_are_refused(place_mm):
    with pytest.raises(LayoutError):
        PlaceCells((place_mm,)).apply(module())


def test_erasing_keeps_the_order_of_the_others():
    before = module()
    after = EraseCells((0, 19)).apply(before)
    np.testing.assert_array_equal(after.cells.centres_mm, before.cells.centres_mm[1:19])


def test_labels_count_in_words():
    assert PaintCells((1,), 2).label == "Paint 1 cell into group 2"
    assert EraseCells((1, 2)).label == "Erase 2 cells"
