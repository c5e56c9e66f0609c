import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.arrays import rotation
from layout_app.geometry.neighbours import neighbour_pairs, neighbours

PITCH_MM = 22.0
REACH_MM = 1.5 * PITCH_MM


def hexagonal(n_rows, n_columns):
    row, column = np.mgrid[0:n_rows, 0:n_columns]
    x = (column + row % 2 / 2) * PITCH_MM
    return np.column_stack([x.ravel(), row.ravel() * PITCH_MM * math.sqrt(3) / 2])


def square(n_rows, n_columns):
    row, column = np.mgrid[0:n_rows, 0:n_columns]
    return np.column_stack([column.ravel(), row.ravel()]) * PITCH_MM


def test_no_points_and_one_point_have_no_neighbours():
    assert neighbour_pairs(np.empty((0, 2)), REACH_MM).shape == (0, 2)
    assert neighbour_pairs(np.array([[3.0, 4.0]]), REACH_MM).shape == (0, 2)


def test_points_on_one_line_neighbour_the_next_one():
    points = np.column_stack([np.arange(6) * PITCH_MM, np.full(6, 7.0)])
    assert neighbour_pairs(points, REACH_MM).tolist() == [[k, k + 1] for k in range(5)]


def test_points_beyond_reach_are_no_neighbours():
    assert len(neighbour_pairs(np.array([[0.0, 0.0], [33.1, 0.0]]), REACH_MM)) == 0
    assert len(neighbour_pairs(np.array([[0.0, 0.0], [32.0, 0.0]]), REACH_MM)) == 1


@given(st.integers(1, 9), st.integers(1, 9), st.floats(0, 2 * math.pi), st.floats(-1e6, 1e6))
@settings(deadline=None, max_examples=40)
def test_lattices_have_the_neighbours_counted_by_hand_wherever_they_lie(n_rows, n_columns, angle_rad, shift_mm):
    # derived: along rows r(c-1); between rows of a square lattice c(r-1), of a hexagonal one (r-1)(2c-1)
    along = n_rows * (n_columns - 1)
    turn = rotation(angle_rad).T
    assert len(neighbour_pairs(square(n_rows, n_columns) @ turn + shift_mm, REACH_MM)) == along + n_columns * (
        n_rows - 1
    )
    assert len(neighbour_pairs(hexagonal(n_rows, n_columns) @ turn + shift_mm, REACH_MM)) == along + (n_rows - 1) * (
        2 * n_columns - 1
    )


def test_borders_inside_a_lattice_have_the_side_of_the_hexagon_or_square():
    def of_the_middle(points):
        found = neighbours(points, REACH_MM)
        middle = np.argmin(np.hypot(*(points - points.mean(axis=0)).T))
        return found.borders_mm[(found.pairs == middle).any(axis=1)]

    # derived: a hexagon of width p has the side p / √3, a square of width p the side p
    np.testing.assert_allclose(of_the_middle(hexagonal(7, 7)), [PITCH_MM / math.sqrt(3)] * 6, rtol=1e-9)
    np.testing.assert_allclose(of_the_middle(square(7, 7)), [PITCH_MM] * 4, rtol=1e-9)


def test_a_border_open_to_the_outside_ends_at_half_the_reach():
    # derived: both points are within R = 0.75 p of a point of the bisector up to sqrt(R² - (p/2)²) either way
    expected_mm = 2 * PITCH_MM * math.sqrt(0.75**2 - 0.25)
    found = neighbours(np.array([[0.0, 0.0], [PITCH_MM, 0.0]]), REACH_MM)
    np.testing.assert_allclose(found.borders_mm, [expected_mm], rtol=1e-9)


@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 60)), min_size=2, max_size=14, unique=True))
@settings(deadline=None, max_examples=60)
def test_borders_agree_with_bisectors_cut_point_by_point(places):
    points = np.array(places)
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)) + np.eye(len(points)) * 99
    if apart.min() < 0.5:  # territories of points that all but coincide are a matter of rounding
        return
    least_mm = 1.0
    found = neighbours(points, REACH_MM, least_border_mm=least_mm)
    borders = {tuple(pair): length for pair, length in zip(found.pairs.tolist(), found.borders_mm, strict=True)}
    for i in range(len(points)):
        for j in range(i + 1, len(points)):
            expected = plain_border_mm(points, i, j)
            if (i, j) in borders:
                assert borders[i, j] == pytest.approx(expected, abs=1e-6)
            else:
                assert expected <= least_mm + 1e-6


def plain_border_mm(points, i, j):
    """The common border of two territories, straight from the definition: the part of the bisector no point is nearer
    to, and within half the reach of both."""
    across = points[j] - points[i]
    apart = np.hypot(*across)
    if apart > REACH_MM:
        return 0.0
    along, middle = np.array([-across[1], across[0]]) / apart, (points[i] + points[j]) / 2
    high = math.sqrt((REACH_MM / 2) ** 2 - apart**2 / 4)
    low = -high
    for k in set(range(len(points))) - {i, j}:
        # |m + t a - k|² >= |m + t a - i|²
        slope = 2 * along @ (points[i] - points[k])
        free = (points[i] @ points[i] - points[k] @ points[k]) + 2 * middle @ (points[k] - points[i])
        if abs(slope) < 1e-12:
            if free > 1e-9:
                return 0.0
        elif slope > 0:
            low = max(low, free / slope)
        else:
            high = min(high, free / slope)
    return max(high - low, 0.0)


TWO = np.array([[0.0, 0.0], [PITCH_MM, 0.0]])


def test_a_wall_between_two_cells_closes_their_border_wherever_it_stands():
    for x_mm in (5.0, 11.0, 17.0):
        wall = shapely.box(x_mm - 0.5, -50, x_mm + 0.5, 50)
        assert len(neighbour_pairs(TWO, REACH_MM, wall)) == 0


def test_an_obstacle_takes_the_part_of_the_border_it_covers():
    below = shapely.box(-50, -50, 50, -4)  # covers the bisector x = 11 below y = -4
    found = neighbours(TWO, REACH_MM, below)
    # derived: from -4 up to the upper end at half the reach
    np.testing.assert_allclose(found.borders_mm, [4 + PITCH_MM * math.sqrt(0.75**2 - 0.25)], rtol=1e-9)


def test_an_obstacle_elsewhere_changes_nothing():
    far = shapely.box(-50, 30, 50, 40)
    np.testing.assert_array_equal(neighbours(TWO, REACH_MM, far).borders_mm, neighbours(TWO, REACH_MM).borders_mm)


def test_a_hole_in_a_wall_leaves_a_border_as_wide_as_the_hole():
    wall = shapely.box(10, -50, 12, 50) - shapely.box(10, -3, 12, 3)
    np.testing.assert_allclose(neighbours(TWO, REACH_MM, wall).borders_mm, [6.0])
