"""Corners put in and taken out: the shape stays while it can, and arcs stay arcs of the same circle."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.corners import nearest_edge, with_corner, without_corner

LOOPS = st.sampled_from([
    Contour.rectangle(40.0, 30.0), Contour.rectangle(40.0, 30.0, 6.0).moved(1e5, -2e5), Contour.circle(3.0, 4.0, 20.0),
    Contour([(0, 0), (50, 0), (50, 20), (0, 20)], [0.0, 1.0, -0.2, 0.0]),  # half a disc outward, a shallow arc inward
    Contour([(0, 0), (10, 0)], [5.0, 0.0]),  # an arc of most of a turn over a chord
])  # fmt: skip


@given(loop=LOOPS, data=st.data(), fraction=st.floats(0.01, 0.99))
@settings(deadline=None, max_examples=200)
def test_a_corner_put_in_changes_no_shape_and_taken_out_leaves_the_loop_of_before(loop, data, fraction):
    edge = data.draw(st.integers(0, len(loop.bulges) - 1))
    more = with_corner(loop, edge, fraction)
    assert len(more.bulges) == len(loop.bulges) + 1
    assert more.area_mm2 == pytest.approx(loop.area_mm2, rel=1e-9)
    assert more.perimeter_mm == pytest.approx(loop.perimeter_mm, rel=1e-9)
    np.testing.assert_allclose(more.lengths_mm[edge], fraction * loop.lengths_mm[edge], rtol=1e-6)
    if loop.is_arc[edge]:
        for half in (edge, edge + 1):
            np.testing.assert_allclose(more.arc_centres_mm[half], loop.arc_centres_mm[edge], atol=1e-6)
            assert more.arc_radii_mm[half] == pytest.approx(loop.arc_radii_mm[edge], rel=1e-7)
    again = without_corner(more, edge + 1)
    np.testing.assert_allclose(again.vertices_mm, loop.vertices_mm, atol=1e-12)
    np.testing.assert_allclose(again.bulges, loop.bulges, atol=1e-6)


def test_a_half_turn_is_halved_into_two_quarters():
    # tan of a quarter of the angle, as DXF has it: 180° is 1, 90° is tan 22.5° = √2 − 1
    half = with_corner(Contour.circle(0.0, 0.0, 5.0), 0)
    np.testing.assert_allclose(half.vertices_mm, [(-5, 0), (0, -5), (5, 0)], atol=1e-12)
    np.testing.assert_allclose(half.bulges, [math.sqrt(2) - 1, math.sqrt(2) - 1, 1.0])


def test_a_corner_pulled_away_takes_both_edges_with_it():
    roof = with_corner(Contour.rectangle(4.0, 3.0), 2, 0.5, (2.0, 5.0))
    assert roof.vertices_mm.tolist() == [[0, 0], [4, 0], [4, 3], [2, 5], [0, 3]]
    assert roof.area_mm2 == 4 * 3 + 4 * 2 / 2  # the rectangle and a triangle on top


def test_an_arc_and_a_straight_edge_become_a_straight_edge():
    loop = Contour.rectangle(4.0, 3.0, 1.0)
    cut = without_corner(without_corner(loop, 1), 1)  # both ends of the lower right arc
    assert len(cut.bulges) == 6
    # the triangle (1, 0), (4, 0), (4, 2), less what the round corner had taken of it
    assert cut.area_mm2 == pytest.approx(loop.area_mm2 - (3 - (1 - math.pi / 4)))
    assert not cut.is_arc[0]
    assert cut.vertices_mm[1].tolist() == [4.0, 2.0]


def test_the_first_corner_is_taken_out_like_any_other():
    left = without_corner(Contour([(0, 0), (4, 0), (5, 2), (4, 4), (0, 4)], [0, 0, 0, 0, 0.3]), 0)
    assert left.vertices_mm.tolist() == [[4, 0], [5, 2], [4, 4], [0, 4]]
    assert left.bulges.tolist() == [0, 0, 0, 0]


@given(loop=LOOPS, x=st.floats(-80, 80), y=st.floats(-80, 80))
@settings(deadline=None, max_examples=100)
def test_no_point_of_the_loop_is_nearer_than_the_nearest(loop, x, y):
    x0, y0, _, _ = loop.bounds_mm
    place = (x0 + x, y0 + y)
    edge, fraction, away_mm = nearest_edge(loop, place)
    found = loop.points_along(np.array([edge]), np.array([fraction]))[0]
    assert math.dist(found, place) == pytest.approx(away_mm, abs=1e-7)
    edges = np.repeat(np.arange(len(loop.bulges)), 200)
    points = loop.points_along(edges, np.tile(np.linspace(0, 1, 200), len(loop.bulges)))
    assert away_mm <= np.hypot(*(points - place).T).min() + 1e-7
