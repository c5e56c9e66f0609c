"""Loose edges joined into loops: gaps, duplicates, junctions, overlaps, and what is left over."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.edges import Edges, bulges_with_radii
from layout_app.geometry.loops import find_loops

FEW = settings(max_examples=40, deadline=None)
QUARTER = math.tan(math.pi / 8)
#   3 --- 2
#   |     |      the square most drawings here are made of
#   0 --- 1
SQUARE = [(0, 0, 10, 0), (10, 0, 10, 10), (10, 10, 0, 10), (0, 10, 0, 0)]


def edges(*rows):
    """Edges from (x0, y0, x1, y1) or (x0, y0, x1, y1, bulge)."""
    table = np.array([(*row, 0.0)[:5] for row in rows], dtype=float).reshape(-1, 5)
    return Edges(table[:, :2], table[:, 2:4], table[:, 4])


def areas(found):
    return sorted(round(loop.contour.area_mm2, 9) for loop in found.loops)


def of_contour(contour):
    return Edges(contour.vertices_mm, contour.ends_mm, contour.bulges)


def shuffled(given_edges, rng):
    order = rng.permutation(len(given_edges))
    mixed = given_edges.taken(order)
    turn = rng.random(len(order)) < 0.5
    back = mixed.reversed()
    return Edges(
        np.where(turn[:, None], back.starts_mm, mixed.starts_mm),
        np.where(turn[:, None], back.ends_mm, mixed.ends_mm),
        np.where(turn, back.bulges, mixed.bulges),
    )


@given(
    n=st.integers(3, 15),
    seed=st.integers(0, 10**6),
    gap=st.sampled_from([0.0, 1e-8, 0.004]),
    far=st.sampled_from([0, 1e6]),
)
@FEW
def test_any_loop_taken_apart_shuffled_and_turned_is_found_again(n, seed, gap, far):
    rng = np.random.default_rng(seed)
    angles = 2 * math.pi * np.arange(n) / n
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(50, 200, n)[:, None] + far
    whole = Contour(corners, rng.choice([0.0, 0.0, 0.1, QUARTER, -0.2], n))
    apart = of_contour(whole)
    loose = Edges(
        apart.starts_mm + rng.uniform(-gap, gap, (n, 2)), apart.ends_mm + rng.uniform(-gap, gap, (n, 2)), apart.bulges
    )
    found = find_loops(shuffled(loose, rng), 4 * gap + 0.001)
    assert len(found.loops) == 1
    assert not found.open_chains
    loop = found.loops[0].contour
    assert len(loop.bulges) == n
    assert loop.area_mm2 == pytest.approx(whole.area_mm2, abs=1e-4 + 4 * gap * whole.perimeter_mm)
    assert np.abs(np.sort(loop.vertices_mm[:, 0]) - np.sort(whole.vertices_mm[:, 0])).max() <= 1e-7 + 4 * gap


def test_identical_and_reversed_copies_are_idle():
    found = find_loops(edges(*SQUARE, *SQUARE, (10, 0, 0, 0)), 0.01)
    assert areas(found) == [100]
    assert found.idle == (4, 5, 6, 7, 8)


def test_copies_with_gaps_are_still_joined():
    gappy = [(0.005, 0, 10, 0), (10, 0.004, 10, 10), (10, 10, 0, 10), (0, 10, 0, 0)]
    assert areas(find_loops(edges(*gappy, *gappy), 0.01)) == [100]


def test_gap_wider_than_the_joining_distance_stays_open():
    found = find_loops(edges((0.02, 0, 10, 0), *SQUARE[1:]), 0.01)
    assert not found.loops
    (chain,) = found.open_chains
    assert sorted(chain.ends_mm.tolist()) == [[0, 0], [0.02, 0]]
    assert areas(find_loops(edges((0.02, 0, 10, 0), *SQUARE[1:]), 0.03)) == [100]


def test_line_end_comes_to_the_arc_and_the_arc_stays():
    # stadium: two lines, two half circles; one line is 0.005 short of the tangent point
    stadium = edges((0.005, 0, 20, 0), (20, 0, 20, 10, 1.0), (20, 10, 0, 10), (0, 10, 0, 0, 1.0))
    (loop,) = find_loops(stadium, 0.01).loops
    assert loop.contour.area_mm2 == pytest.approx(200 + math.pi * 25, rel=1e-12)  # derived: 20 x 10 and a circle
    assert [0.0, 0.0] in loop.contour.vertices_mm.tolist()


def test_two_lines_meet_where_they_cross_so_neither_tilts():
    (loop,) = find_loops(edges((0.006, 0, 10, 0), *SQUARE[1:3], (0, 10, 0, 0.004)), 0.01).loops
    assert loop.contour.area_mm2 == pytest.approx(100, rel=1e-12)


def test_arcs_with_a_gap_keep_their_radius():
    # a circle of radius 50 in four quarters, each end moved outward along the tangent by 2 µm
    angles = np.arange(4) * math.pi / 2
    slip = 0.002 / 50
    start, end = angles + slip, angles + math.pi / 2 - slip
    ring = Edges(
        50 * np.column_stack([np.cos(start), np.sin(start)]),
        50 * np.column_stack([np.cos(end), np.sin(end)]),
        np.tan((end - start) / 4),
    )
    (loop,) = find_loops(ring, 0.01).loops
    np.testing.assert_allclose(loop.contour.arc_radii_mm, 50, rtol=1e-12)
    assert len(loop.contour.bulges) == 4
    assert loop.contour.area_mm2 == pytest.approx(math.pi * 2500, rel=1e-6)


def test_an_arc_that_nearly_closes_is_a_circle():
    sweep = 2 * math.pi - 0.005
    nearly = edges((1, 0, math.cos(sweep), math.sin(sweep), math.tan(sweep / 4)))
    (loop,) = find_loops(nearly, 0.01).loops
    assert loop.contour.as_circle == pytest.approx((0, 0, 1), abs=1e-9)


def test_chords_shorter_than_the_joining_distance_do_not_collapse():
    angles = np.linspace(0, 2 * math.pi, 5001)
    points = np.column_stack([np.cos(angles), np.sin(angles)])  # chords of 1.3 µm
    points[-1] = points[0]
    (loop,) = find_loops(Edges(points[:-1], points[1:], np.zeros(5000)), 0.01).loops
    assert len(loop.contour.bulges) == 5000
    assert loop.contour.area_mm2 == pytest.approx(math.pi, rel=1e-6)  # derived: 1 - 2 pi² / 3 n²


@pytest.mark.parametrize(
    "centre_line",
    [
        (-5, 0, 15, 0),  # along a side and beyond both corners
        (-5, 0, 5, 0),  # along half a side
        (0, 0, 4, 3),  # from a corner inward
        (5, 0, 5, 4),  # from the middle of a side inward
        (10, 10, 15, 15),  # from a corner outward
        (-5, 5, 15, 5),  # across, crossing both sides
    ],
)
def test_centre_lines_touching_the_outline_are_left_out(centre_line):
    found = find_loops(edges(*SQUARE, centre_line), 0.01)
    (loop,) = found.loops
    assert loop.contour.area_mm2 == 100
    assert len(loop.contour.bulges) == 4
    assert {index for chain in found.open_chains for index in chain.edges} == {4}


@pytest.mark.parametrize("line", [(0, 0, 10, 10), (5, 0, 5, 10), (0, 4, 10, 4)])
def test_a_straight_line_from_wall_to_wall_is_a_partition(line):
    found = find_loops(edges(*SQUARE, line), 0.01)
    assert areas(found) == [100]
    assert found.partitions == (4,)


def test_partitions_in_pieces_and_crossing_each_other_are_partitions():
    cross = [(5, 0, 5, 5), (5, 5, 5, 10), (0, 5, 5, 5), (5, 5, 10, 5)]
    found = find_loops(edges(*SQUARE, *cross), 0.01)
    assert areas(found) == [100]
    assert found.partitions == (4, 5, 6, 7)


def test_a_boss_growing_out_of_the_wall_is_a_loop_of_its_own():
    found = find_loops(edges(*SQUARE, (6, 0, 4, 0, 1.0)), 0.01)
    assert areas(found) == [pytest.approx(math.pi / 2), 100]


def test_a_square_post_in_a_corner_is_a_loop_of_its_own():
    found = find_loops(edges(*SQUARE, (2, 0, 2, 2), (2, 2, 0, 2)), 0.01)
    assert areas(found) == [4, 100]


def test_an_overshooting_line_is_cut_at_the_corner():
    found = find_loops(edges((0, 0, 10, 0), (10, -3, 10, 10), *SQUARE[2:]), 0.01)
    (loop,) = found.loops
    assert loop.contour.area_mm2 == 100


def test_a_side_drawn_twice_in_other_pieces_counts_once():
    found = find_loops(edges(*SQUARE, (0, 0, 5, 0), (5, 0, 10, 0)), 0.01)
    (loop,) = found.loops
    assert loop.contour.area_mm2 == 100
    assert loop.edges == (0, 1, 2, 3)


def test_two_loops_joined_by_a_line_stay_two():
    found = find_loops(edges(*SQUARE, (10, 10, 20, 10), (20, 10, 30, 10), (30, 10, 30, 20), (30, 20, 20, 10)), 0.01)
    assert areas(found) == [50, 100]


def test_two_loops_touching_in_a_corner_stay_two():
    assert areas(find_loops(edges(*SQUARE, (10, 10, 20, 10), (20, 10, 20, 20), (20, 20, 10, 10)), 0.01)) == [50, 100]


def test_a_loop_touching_the_wall_from_inside_is_found():
    inner = [(0, 0, 4, 2), (4, 2, 2, 4), (2, 4, 0, 0)]
    assert areas(find_loops(edges(*SQUARE, *inner), 0.01)) == [6, 100]


def test_pieces_of_a_straight_side_stay_pieces():
    found = find_loops(edges((0, 0, 4, 0), (4, 0, 10, 0), *SQUARE[1:]), 0.01)
    (loop,) = found.loops
    assert len(loop.contour.bulges) == 5


def test_line_tangent_to_an_arc_does_not_confuse_the_way_round():
    found = find_loops(
        edges((0, 0, 10, 0), (10, 0, 10, 10, 1.0), (10, 10, 0, 10), (0, 10, 0, 0, 1.0), (-20, 0, 30, 0)), 0.01
    )
    (loop,) = found.loops
    assert loop.contour.area_mm2 == pytest.approx(100 + math.pi * 25)


def test_nothing_gives_nothing():
    found = find_loops(Edges.together([]), 0.01)
    assert found.loops == found.open_chains == found.idle == ()


def test_edges_without_length_are_idle():
    found = find_loops(edges(*SQUARE, (3, 3, 3, 3)), 0.01)
    assert areas(found) == [100]
    assert found.idle == (4,)


@given(
    bulge=st.floats(-30, 30).filter(lambda b: abs(b) > 1e-3), fraction=st.floats(0.0, 1.0), side=st.floats(-0.5, 0.5)
)
@FEW
def test_nearest_place_on_an_arc_is_found_from_beside_it(bulge, fraction, side):
    arc = edges((3, 4, 9, -2, bulge))
    on_arc = arc.points_at(np.array([fraction]))
    beside = on_arc + side * (on_arc - arc.centres_mm)
    assert arc.nearest_fractions(beside)[0] == pytest.approx(fraction, abs=1e-6)


@given(bulge=st.floats(-5, 5), begin=st.floats(0.0, 0.5), end=st.floats(0.6, 1.0))
@FEW
def test_part_of_an_edge_lies_on_it(bulge, begin, end):
    arc = edges((3, 4, 9, -2, bulge))
    part = arc.part(np.array([begin]), np.array([end]))
    assert part.lengths_mm[0] == pytest.approx((end - begin) * arc.lengths_mm[0], rel=1e-9)
    np.testing.assert_allclose(part.points_at(np.array([0.5])), arc.points_at(np.array([(begin + end) / 2])), atol=1e-9)


@given(bulge=st.floats(-20, 20).filter(lambda b: abs(b) > 1e-3), stretch=st.floats(0.9, 1.0))
@FEW
def test_bulges_over_other_chords_keep_the_radius(bulge, stretch):
    before = edges((0, 0, 10, 0, bulge))
    after = bulges_with_radii(before.chords_mm * stretch, before.radii_mm, before.bulges)
    assert edges((0, 0, 10 * stretch, 0, after[0])).radii_mm[0] == pytest.approx(before.radii_mm[0], rel=1e-9)
    assert np.sign(after[0]) == np.sign(bulge)


@pytest.mark.parametrize("seed", range(5))
def test_any_heap_of_edges_is_sorted_out_completely(seed):
    # edges between few grid points: every kind of duplicate, overlap, crossing and junction turns up
    rng = np.random.default_rng(seed)
    for _ in range(60):
        n, grid = rng.integers(1, 40), rng.integers(2, 7)
        starts, ends = rng.integers(0, grid, (2, n, 2)).astype(float)
        heap = Edges(starts + rng.choice([0, 0.004], (n, 2)), ends, rng.choice([0, 0, 0, 0.3, -1, 1, 2.5], n))
        found = find_loops(heap, 0.01)
        told = {k for loop in found.loops for k in loop.edges} | {k for c in found.open_chains for k in c.edges}
        assert told | set(found.idle) | set(found.partitions) == set(range(n))
        assert not set(found.idle) & told
