"""Where cells would overlap others."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits.room import first_clash, first_without_room

#  0   1   2   3    one every 20 mm, 21 mm wide: each overlaps the next by 1 mm
ROW_MM = np.array([[0.0, 0.0], [20.0, 0.0], [40.0, 0.0], [60.0, 0.0]])


def test_first_without_room_is_the_first_new_cell_that_overlaps_one_before_it():
    assert first_without_room(ROW_MM, 2, 21.0) == (2, 1, pytest.approx(1.0))
    assert first_without_room(ROW_MM, 4, 21.0) is None
    assert first_without_room(ROW_MM, 1, 20.0) is None  # they just touch


def test_first_without_room_is_found_beyond_the_first_lot_looked_at():
    centres = np.column_stack([np.arange(600.0) * 30.0, np.zeros(600)])
    centres[599] = centres[5] + (0.0, 4.0)
    assert first_without_room(centres, 10, 21.0) == (599, 5, pytest.approx(17.0))


def test_an_overlap_of_before_that_grows_no_worse_is_passed_over():
    moved = ROW_MM + [[0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [-2.0, 0.0]]
    assert first_clash(moved, np.array([3]), 21.0, before_mm=ROW_MM) == (3, 2, pytest.approx(3.0))
    assert first_clash(ROW_MM + [1.0, 0.0], np.arange(4), 21.0, before_mm=ROW_MM) is None


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=1, max_size=40), st.integers(0, 40))
def test_first_without_room_agrees_with_looking_at_every_pair(places, n_old):
    centres = np.array(places, dtype=float)
    pairs = [
        (new, -(3.0 - gap), old)
        for new in range(n_old, len(centres))
        for old in range(new)
        if (gap := float(np.hypot(*(centres[new] - centres[old])))) < 3.0 - 1e-6
    ]
    found = first_without_room(centres, n_old, 3.0)
    if not pairs:
        assert found is None
    else:
        new, less_overlap, _ = min(pairs)
        assert found is not None
        assert (found[0], found[2]) == (new, pytest.approx(-less_overlap))
