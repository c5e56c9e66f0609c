"""Signed distances against closed forms, and against the same loop cut into chords far finer than the tolerance."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.distances import signed_distances_mm

# a hood: straight sides, a reflex arc, and an arc of more than half a circle
HOOD = Contour([(0, 0), (100, 0), (100, 50), (60, 50), (40, 50), (0, 50)], [0.2, -0.3, 0, 1.0, 0, 1.2])


def test_distance_in_a_rectangle_is_to_the_nearest_side_or_corner():
    points = np.array([[1.0, 5.0], [5.0, 9.0], [13.0, 14.0], [5.0, -2.0]])
    # derived: 1 to the left side, 1 to the top; outside the corner (10, 10) by 3, 4, 5; 2 below
    np.testing.assert_allclose(signed_distances_mm(Contour.rectangle(10, 10), points), [1, 1, -5, -2], atol=1e-12)


def test_distance_in_an_annular_sector_counts_the_arc_only_where_it_faces_the_point():
    # quarter circle of radius 10 about the origin, closed by two straight sides
    quarter = Contour([(0, 0), (10, 0), (0, 10)], [0, math.tan(math.pi / 8), 0])
    points = np.array([[6.0, 6.0], [9.0, 9.0], [-3.0, -4.0], [14.0, -3.0]])
    expected = [10 - 6 * math.sqrt(2), 10 - 9 * math.sqrt(2), -5.0, -5.0]  # derived
    np.testing.assert_allclose(signed_distances_mm(quarter, points), expected, atol=1e-12)


@pytest.mark.parametrize("loop", [HOOD, HOOD.reversed(), HOOD.turned(1.1), Contour.rectangle(90, 60, 20)])
def test_signed_distance_agrees_with_very_fine_chords(loop):
    rng = np.random.default_rng(1)
    points = rng.uniform(-80, 160, (2000, 2))
    chords = loop.polygon(1e-7)
    unsigned = shapely.distance(chords.exterior, shapely.points(points))
    expected = np.where(shapely.contains_xy(chords, *points.T), unsigned, -unsigned)
    np.testing.assert_allclose(signed_distances_mm(loop, points), expected, atol=2e-7)


def test_points_level_with_vertices_and_arc_ends_are_on_the_right_side():
    loop = Contour.rectangle(100, 60, 20)
    y = np.array([0.0, 20.0, 30.0, 40.0, 60.0])
    inside = signed_distances_mm(loop, np.column_stack([np.full(5, 50.0), y]))
    outside = signed_distances_mm(loop, np.column_stack([np.full(5, -7.0), y]))
    np.testing.assert_allclose(inside, [0, 20, 30, 20, 0], atol=1e-12)  # derived
    assert (outside <= -7.0 + 1e-12).all()


@settings(max_examples=50, deadline=None)
@given(st.floats(-math.pi, math.pi), st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_distance_does_not_change_when_loop_and_points_move_together(angle_rad, x, y):
    points = np.random.default_rng(2).uniform(-30, 130, (60, 2))
    moved = Contour(points).turned(angle_rad).moved(x, y).vertices_mm
    expected = signed_distances_mm(HOOD, points)
    np.testing.assert_allclose(signed_distances_mm(HOOD.turned(angle_rad).moved(x, y), moved), expected, atol=1e-9)


def test_edge_that_rises_by_next_to_nothing_has_two_sides_like_any_other():
    # an outline turned by a hair, as rounding leaves it: the step at y = 20 rises by 4e-15
    step = Contour([(0, 0), (100, 0), (100, 20), (40, math.nextafter(20, 21)), (40, 50), (0, 50)])
    inside = signed_distances_mm(step, np.array([[10.0, 20.0], [10.0, math.nextafter(20, 21)], [70.0, 10.0]]))
    assert (inside >= 10.0 - 1e-12).all()
    assert (signed_distances_mm(step.turned(5e-324), np.array([[200.0, 1e-300]])) < 0).all()


def test_no_points_give_no_distances():
    assert signed_distances_mm(HOOD, np.empty((0, 2))).shape == (0,)
