import math
from collections import deque
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.arrays import rotation
from layout_app.geometry.neighbours import neighbour_pairs, neighbours
from layout_app.planning.grouping import REACH_PITCHES, divide, steps

PITCH_MM = 22.0
REACH_MM = REACH_PITCHES * PITCH_MM


def filled(shape, kind="hexagonal", angle_rad=0.0):
    """Sites of a lattice inside a shape given in pitches."""
    row_mm = PITCH_MM * (math.sqrt(3) / 2 if kind == "hexagonal" else 1)
    row, column = np.mgrid[-40:41, -40:41]
    shift = row % 2 / 2 if kind == "hexagonal" else 0
    points = np.column_stack([((column + shift) * PITCH_MM).ravel(), (row * row_mm).ravel()]) @ rotation(angle_rad).T
    shape = shapely.affinity.scale(shape, PITCH_MM, PITCH_MM, origin=(0, 0)).buffer(1e-6)
    return points[shapely.contains_xy(shape, points)]


def grid(n_rows, n_columns):
    return filled(shapely.box(0, 0, n_columns - 1, n_rows - 1), "square")


def neighbours_of(points):
    around = {k: set() for k in range(len(points))}
    for i, j in neighbour_pairs(points, REACH_MM).tolist():
        around[i].add(j)
        around[j].add(i)
    return around


def reached(around, start, allowed):
    """Cells that can be walked to from `start` through allowed ones."""
    seen, queue = {start}, deque([start])
    while queue:
        for other in around[queue.popleft()] & allowed - seen:
            seen.add(other)
            queue.append(other)
    return seen


def faults(points, groups, n_series):
    """What an independent walk over the cells finds wrong."""
    around, found = neighbours_of(points), []
    members = [set(np.flatnonzero(groups == k).tolist()) for k in range(1, n_series + 1)]
    found += [f"{k} split" for k, cells in enumerate(members, 1) if reached(around, min(cells), cells) != cells]
    for k, (here, there) in enumerate(pairwise(members), 1):
        if not any(around[cell] & there for cell in here):
            found.append(f"{k} apart from {k + 1}")
    return found


def divided(points, n_series, n_parallel, chain="straight", start_rad=None):
    return divide(points, pitch_mm=PITCH_MM, n_series=n_series, n_parallel=n_parallel, chain=chain, start_rad=start_rad)


def assert_sound(points, division, n_series, n_parallel):
    sizes = np.bincount(division.groups, minlength=n_series + 1)[1:]
    assert (sizes == n_parallel).all()
    assert faults(points, division.groups, n_series) == []
    assert division.is_sound, division.defects


def test_columns_of_a_grid_become_the_groups_of_a_straight_chain():
    points = grid(4, 7)
    groups = divided(points, 7, 4).groups
    np.testing.assert_array_equal(groups, np.round(points[:, 0] / PITCH_MM) + 1)  # begins on the left by default


@pytest.mark.parametrize(
    ("start_rad", "axis", "sign"), [(0.0, 0, -1), (math.pi, 0, 1), (math.pi / 2, 1, -1), (-math.pi / 2, 1, 1)]
)
def test_the_chain_begins_at_the_edge_asked_for(start_rad, axis, sign):
    points = grid(6, 6)
    groups = divided(points, 6, 6, start_rad=start_rad).groups
    expected = np.round(points[:, axis] / PITCH_MM)
    np.testing.assert_array_equal(groups, expected + 1 if sign > 0 else 6 - expected)


def test_a_straight_chain_ends_opposite_and_a_folded_one_beside_its_start():
    points = grid(6, 12)
    straight, folded = divided(points, 6, 12).groups, divided(points, 6, 12, "folded").groups
    x = points[:, 0] / PITCH_MM
    assert x[straight == 1].max() < 2.5
    assert x[straight == 6].min() > 8.5
    assert x[folded == 1].max() < 4.5
    assert x[folded == 6].max() < 4.5
    around = neighbours_of(points)
    last = set(np.flatnonzero(folded == 6).tolist())
    assert any(around[cell] & last for cell in np.flatnonzero(folded == 1).tolist())


@pytest.mark.parametrize("chain", ["straight", "folded"])
@pytest.mark.parametrize(("n_series", "n_parallel"), [(1, 24), (24, 1), (2, 12), (12, 2), (3, 8), (8, 3), (4, 6)])
def test_a_small_grid_is_divided_in_every_way_that_uses_it_up(chain, n_series, n_parallel):
    points = grid(4, 6)
    assert_sound(points, divided(points, n_series, n_parallel, chain), n_series, n_parallel)


CONVEX = {
    "wide": shapely.box(0, 0, 19, 9),
    "square": shapely.box(0, 0, 12, 12),
    "disc": shapely.Point(0, 0).buffer(7),
    "hexagon": shapely.Polygon([(6 * math.cos(k * math.pi / 3), 6 * math.sin(k * math.pi / 3)) for k in range(6)]),
}
# our own shapes, in pitches: an L, a U, a ring, a disc with a pipe, a tray with notch and bosses
CONCAVE = {
    "L": shapely.box(0, 0, 16, 6) | shapely.box(0, 0, 7, 14),
    "U": shapely.box(0, 0, 16, 12) - shapely.box(5, 4, 11, 13),
    "ring": shapely.Point(0, 0).buffer(8) - shapely.Point(0, 0).buffer(3.5),
    "pipe": shapely.Point(0, 0).buffer(6) - shapely.Point(0, 0).buffer(1.4),
    "tray": shapely.box(0, 0, 18, 9.6) - shapely.box(7, 8, 11, 10) - shapely.MultiPoint([(6, 5), (12, 5)]).buffer(0.75),
}


@given(st.data())
@settings(deadline=None, max_examples=80)
def test_any_division_of_a_convex_footprint_is_sound(data):
    shape = CONVEX[data.draw(st.sampled_from(sorted(CONVEX)), "shape")]
    assert_division_holds(data, shape, always_sound=True)


@given(st.data())
@settings(deadline=None, max_examples=80)
def test_a_division_of_a_concave_footprint_has_full_groups_and_tells_its_faults(data):
    shape = CONCAVE[data.draw(st.sampled_from(sorted(CONCAVE)), "shape")]
    assert_division_holds(data, shape, always_sound=False)


def assert_division_holds(data, shape, *, always_sound):
    kind = data.draw(st.sampled_from(["hexagonal", "square"]), "lattice")
    angle_rad = data.draw(st.one_of(st.just(0.0), st.just(math.pi / 2), st.floats(0, math.pi)), "angle")
    points = filled(shape, kind, angle_rad)
    n_parallel = data.draw(st.integers(3, len(points) // 2), "parallel")
    n_series = data.draw(st.integers(1, len(points) // n_parallel), "series")
    chain = data.draw(st.sampled_from(["straight", "folded"]), "chain")
    start_rad = data.draw(st.one_of(st.none(), st.floats(0, 2 * math.pi)), "start")
    if len(reached(neighbours_of(points), 0, set(range(len(points))))) < len(points):
        return
    division = divided(points, n_series, n_parallel, chain, start_rad)
    assert (np.bincount(division.groups, minlength=n_series + 1)[1:] == n_parallel).all()
    assert division.is_sound == (not faults(points, division.groups, n_series))
    if always_sound:
        assert division.is_sound, division.defects


@pytest.mark.parametrize("shape", sorted(CONCAVE))
@pytest.mark.parametrize("chain", ["straight", "folded"])
@pytest.mark.parametrize("n_parallel", [1, 2, 3, 5, 8, 13, 21])
def test_concave_footprints_and_those_with_keep_outs_get_sound_chains(shape, chain, n_parallel):
    points = filled(CONCAVE[shape])
    n_series = len(points) // n_parallel
    assert_sound(points, divided(points, n_series, n_parallel, chain), n_series, n_parallel)


def test_bands_follow_a_bend():
    # a U is swept from tip to tip: the middle of the chain is at the bottom, both ends at the tips
    points = filled(CONCAVE["U"])
    groups = divided(points, 20, len(points) // 20).groups
    y = points[:, 1] / PITCH_MM
    assert y[groups == 1].min() > 8
    assert y[groups == 20].min() > 6  # some sites at the last tip are left out
    assert y[(groups == 10) | (groups == 11)].max() < 5


def test_borders_run_across_the_whole_housing_where_a_group_can_span_it():
    points = grid(8, 24)
    found = neighbours(points, REACH_MM)
    chain = steps(points, divided(points, 8, 24).groups, found.pairs, 8, found.borders_mm)
    assert [step.n_pairs for step in chain] == [8] * 7  # derived: bands of three full columns


@given(st.integers(2, 6), st.integers(4, 30), st.floats(0, 2 * math.pi))
@settings(deadline=None, max_examples=25)
def test_sites_are_left_out_so_that_the_rest_hang_together(n_series, n_parallel, start_rad):
    points = filled(shapely.box(0, 0, 16, 10))
    assert len(points) >= n_series * n_parallel
    division = divided(points, n_series, n_parallel, start_rad=start_rad)
    used = set(np.flatnonzero(division.groups).tolist())
    assert len(used) == n_series * n_parallel
    assert reached(neighbours_of(points), min(used), used) == used


def test_a_site_hanging_on_by_one_link_is_left_out_first():
    #    o o o o
    # x o o o o   one spare: x at the start of the chain, not a site at its far end
    points = filled(shapely.box(0, 0, 3.5, 1))
    lone = np.array([[-PITCH_MM, 0.0]])
    groups = divided(np.vstack([lone, points]), 4, 2).groups
    assert len(points) == 8
    assert np.flatnonzero(groups == 0).tolist() == [0]


def test_the_same_cells_are_always_divided_the_same_way():
    points = filled(CONCAVE["tray"])
    first, second = (divided(points, 6, 20).groups for _ in range(2))
    np.testing.assert_array_equal(first, second)


def test_a_division_does_not_depend_on_where_the_drawing_lies():
    points = filled(CONCAVE["tray"])
    near, far = divided(points, 6, 20).groups, divided(points + (125_000.0, -40_000.0), 6, 20).groups
    np.testing.assert_array_equal(near, far)


def test_too_few_cells_give_short_groups_and_say_so():
    division = divided(grid(2, 5), 3, 4)
    assert not division.is_sound
    assert "3 × 4" in division.defects[0]
    assert np.bincount(division.groups, minlength=4)[1:].tolist() == [4, 4, 2]


def test_no_cells_at_all_are_told_apart_from_a_sound_division():
    division = divided(np.empty((0, 2)), 2, 2)
    assert not division.is_sound
    assert len(division.groups) == 0


def test_cells_in_parts_that_do_not_touch_are_named():
    points = np.vstack([grid(3, 4), grid(3, 4) + (200.0, 0.0)])
    division = divided(points, 6, 4)
    assert not division.is_sound
    assert "2 parts" in " ".join(division.defects)


def test_the_larger_of_two_parts_is_used_when_it_suffices():
    points = np.vstack([grid(3, 4), grid(3, 5) + (200.0, 0.0)])
    division = divided(points, 3, 5)
    assert_sound(points, division, 3, 5)
    assert (division.groups[:12] == 0).all()


def test_steps_add_up_the_borders_between_groups():
    # 1 1 2
    # 1 2 2    steps 1→2: three pairs of a square lattice; derived: each border one pitch, or, where it is open to the
    #          outside on one side, half a pitch and sqrt(0.75² - 0.5²) pitches beyond
    points = np.array([[0, 1], [1, 1], [2, 1], [0, 0], [1, 0], [2, 0]]) * PITCH_MM
    found = neighbours(points, REACH_MM)
    (step,) = steps(points, np.array([1, 1, 2, 1, 2, 2]), found.pairs, 2, found.borders_mm)
    open_mm = (0.5 + math.sqrt(0.75**2 - 0.5**2)) * PITCH_MM
    assert (step.number, step.n_pairs) == (1, 3)
    assert step.border_mm == pytest.approx(2 * open_mm + PITCH_MM)


def test_steps_work_out_the_borders_when_they_are_not_given():
    points = filled(shapely.box(0, 0, 8, 8))
    found = neighbours(points, REACH_MM)
    inner = np.arange(len(points)) % 2 + 1
    given_mm = steps(points, inner, found.pairs, 2, found.borders_mm)[0].border_mm
    assert steps(points, inner, found.pairs, 2)[0].border_mm == pytest.approx(given_mm)
