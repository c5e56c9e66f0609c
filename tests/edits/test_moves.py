"""Moving, turning, mirroring, aligning, copying cells: rigid, refused where cells would overlap, exact to undo."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout_app.edits import AlignCells, ArrayCells, Clip, History, MirrorCells, MoveCells, PasteCells, TurnCells
from layout_app.edits.copies import step_along_rows_mm
from layout_app.model.errors import LayoutError
from layout_app.model.lattices import Lattice
from layout_app.model.sites import nearest_sites_mm, site_step_mm

from .modules import PITCH_MM, module

LAYOUT = module()
SOME = st.lists(st.integers(0, 19), min_size=1, max_size=20, unique=True).map(tuple)
LENGTHS = st.floats(-300, 300)
ANYWHERE = st.builds(MoveCells, SOME, LENGTHS, LENGTHS)
EDITS = st.one_of(
    ANYWHERE,
    st.builds(TurnCells, SOME, st.floats(-7, 7)),
    st.builds(MirrorCells, SOME, st.sampled_from(["left to right", "top to bottom"])),
    st.builds(AlignCells, SOME),
    st.builds(ArrayCells, SOME, st.integers(0, 3), LENGTHS, LENGTHS),
    st.builds(lambda cells, x, y: PasteCells(Clip.of(LAYOUT, cells), (x, y)), SOME, LENGTHS, LENGTHS),
)


def apart_mm(centres):
    return np.hypot(*(centres[:, None] - centres[None]).T)


@given(edits=st.lists(EDITS, max_size=8))
@settings(deadline=None, max_examples=60)
def test_no_edit_makes_cells_overlap_and_undo_hands_back_the_first_layout(edits):
    history = History(LAYOUT)
    for edit in edits:
        try:
            after = history.apply(edit)
        except LayoutError:
            continue
        distances = apart_mm(after.cells.centres_mm)[np.triu_indices(len(after.cells), 1)]
        assert distances.min() > 21.0 - 2e-6  # the cans' diameter
    while history.undo_label:
        history.undo()
    assert history.current is LAYOUT


@given(edit=st.one_of(ANYWHERE, st.builds(TurnCells, SOME, st.floats(-7, 7))))
@settings(deadline=None, max_examples=60)
def test_moved_cells_keep_their_distances_and_the_others_their_places(edit):
    try:
        after = edit.apply(LAYOUT)
    except LayoutError:
        assume(False)
    chosen = list(edit.cells)
    rest = np.setdiff1d(np.arange(20), chosen)
    before_mm, after_mm = LAYOUT.cells.centres_mm, after.cells.centres_mm
    np.testing.assert_allclose(apart_mm(after_mm[chosen]), apart_mm(before_mm[chosen]), atol=1e-9)
    np.testing.assert_array_equal(after_mm[rest], before_mm[rest])
    np.testing.assert_array_equal(after.cells.groups, LAYOUT.cells.groups)


def test_a_move_onto_a_cell_names_both():
    # cell 1 moved by 2 mm towards cell 2, one pitch (22 mm) away: 20 mm apart, cans of 21 mm
    with pytest.raises(LayoutError, match=r"Cell 1 .* would overlap cell 2 by 1\.00 mm"):
        MoveCells((0,), 2.0, 0.0).apply(LAYOUT)


def test_moving_by_nothing_changes_nothing():
    assert MoveCells((0, 1), 0.0, 0.0).apply(LAYOUT) is LAYOUT
    assert MoveCells((), 5.0, 0.0).apply(LAYOUT) is LAYOUT
    assert TurnCells((0, 1), 2 * math.pi).apply(LAYOUT) is LAYOUT
    assert AlignCells(tuple(range(20))).apply(LAYOUT) is LAYOUT


@pytest.mark.parametrize("way", ["left to right", "top to bottom"])
def test_mirroring_all_twice_is_no_change(way):
    edit = MirrorCells(tuple(range(20)), way)
    once = edit.apply(LAYOUT)
    assert not np.allclose(once.cells.centres_mm, LAYOUT.cells.centres_mm)
    np.testing.assert_allclose(edit.apply(once).cells.centres_mm, LAYOUT.cells.centres_mm, atol=1e-9)


def test_cells_pushed_aside_go_back_to_their_sites():
    pushed = MoveCells((0, 1, 2), -4.0, -3.0).apply(LAYOUT)
    np.testing.assert_allclose(AlignCells((0, 1, 2)).apply(pushed).cells.centres_mm, LAYOUT.cells.centres_mm, atol=1e-9)


def test_a_cell_nearest_to_a_taken_site_is_not_put_there():
    # 30 mm below cell 1's site cell 2 stands free; 9 mm below it, cell 1's site is the nearest, and taken
    away = MoveCells((0,), 0.0, -11.9).apply(MoveCells((1,), 0.0, -40.0).apply(LAYOUT))
    beside = MoveCells((1,), -22.0, 7.1).apply(away)  # cell 1 at -11.9, cell 2 at -32.9: both nearest to one site, -22
    with pytest.raises(LayoutError, match="overlap"):
        AlignCells((0, 1)).apply(beside)


@given(
    lattice=st.one_of(
        st.builds(Lattice.hexagonal, st.just(22.0), st.floats(-3, 3)),
        st.builds(Lattice.square, st.just(22.0), st.floats(-3, 3)),
        st.builds(Lattice.compressed, st.just(22.0), st.floats(22.0, 31.0), st.floats(-3, 3)),
    ),
    x=LENGTHS,
    y=LENGTHS,
)
@settings(deadline=None, max_examples=100)
def test_no_site_is_nearer_than_the_nearest(lattice, x, y):
    found = nearest_sites_mm(lattice, np.array([[x, y]]))[0]
    rows, columns = np.meshgrid(np.arange(-40, 41.0), np.arange(-40, 41.0))
    sites = lattice.points_mm(rows.ravel(), columns.ravel())
    away = np.hypot(*(sites - (x, y)).T)
    assert math.dist(found, (x, y)) == pytest.approx(away.min(), abs=1e-9)
    assert np.hypot(*(sites - found).T).min() < 1e-9


@pytest.mark.parametrize("towards_deg", range(0, 360, 15))
@pytest.mark.parametrize("kind", ["hexagonal", "square"])
def test_a_step_leads_from_site_to_site_within_22_degrees_of_the_arrow(kind, towards_deg):
    lattice = getattr(Lattice, kind)(22.0, 0.3)
    step = site_step_mm(lattice, math.radians(towards_deg))
    np.testing.assert_allclose(nearest_sites_mm(lattice, np.array([step]))[0], step, atol=1e-9)
    off = math.remainder(math.atan2(step[1], step[0]) - math.radians(towards_deg), 2 * math.pi)
    assert abs(math.degrees(off)) <= 22.5 + 1e-9


def test_a_pasted_clip_keeps_shape_and_groups():
    clip = Clip.of(LAYOUT, (5, 6, 7))
    after = PasteCells(clip, (400.0, 300.0)).apply(LAYOUT)
    np.testing.assert_allclose(after.cells.centres_mm[20:], [[378, 300], [400, 300], [422, 300]], atol=1e-9)
    assert after.cells.groups[20:].tolist() == [2, 2, 2]
    with pytest.raises(LayoutError, match="overlap"):
        PasteCells(clip, tuple(LAYOUT.cells.centres_mm[6].tolist())).apply(LAYOUT)


def test_an_array_along_the_row_stands_clear_of_the_cells_it_copies():
    cells = np.array([3, 4])
    step = step_along_rows_mm(LAYOUT, cells)
    assert step == pytest.approx((2 * PITCH_MM, 0.0))
    after = ArrayCells((3, 4), 2, *step).apply(LAYOUT)
    first = LAYOUT.cells.centres_mm[3]
    np.testing.assert_allclose(after.cells.centres_mm[20:], first + [[44, 0], [66, 0], [88, 0], [110, 0]], atol=1e-9)
