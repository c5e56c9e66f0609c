"""B-splines against a general-purpose reference library and closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from layout_app.geometry.splines import Spline


def clamped(n, degree, rng):
    """A clamped spline with random knots, some of them repeated."""
    inner = np.sort(rng.choice(np.linspace(0.1, 0.9, 9), n - degree - 1))
    knots = np.concatenate([np.zeros(degree + 1), inner, np.ones(degree + 1)])
    return Spline(degree, knots, rng.uniform(-100, 100, (n, 2)), np.ones(n))


@given(degree=st.integers(1, 5), extra=st.integers(1, 8), seed=st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_points_and_tangents_are_those_of_the_reference(degree, extra, seed):
    spline = clamped(degree + extra, degree, np.random.default_rng(seed))
    t = np.linspace(0, 1, 101)[np.abs(np.linspace(0, 1, 101)[:, None] - spline.knots).min(axis=1) > 1e-3]
    t = np.concatenate([[0.0], t])
    points, tangents = spline.points_and_tangents(t)
    reference = BSpline(spline.knots, spline.poles_mm, degree)
    np.testing.assert_allclose(points, reference(t), atol=1e-9)
    np.testing.assert_allclose(tangents[1:], reference(t[1:], nu=1), rtol=1e-9, atol=1e-6)


@given(degree=st.integers(1, 5), extra=st.integers(1, 8), seed=st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_clamped_spline_starts_and_ends_in_its_outer_control_points(degree, extra, seed):
    spline = clamped(degree + extra, degree, np.random.default_rng(seed))
    points, _ = spline.points_and_tangents(np.array([spline.begin, spline.end]))
    np.testing.assert_allclose(points, spline.poles_mm[[0, -1]], atol=1e-9)


def test_rational_quarter_lies_on_the_circle_and_is_square_to_the_radius():
    # textbook: control points of a quarter circle, middle weight cos 45°
    quarter = Spline(
        2, np.array([0.0, 0, 0, 1, 1, 1]), np.array([[5.0, 0], [5, 5], [0, 5]]), np.array([1, math.sqrt(0.5), 1])
    )
    points, tangents = quarter.points_and_tangents(np.linspace(0, 1, 21))
    np.testing.assert_allclose(np.hypot(*points.T), 5.0, rtol=1e-14)
    np.testing.assert_allclose((points * tangents).sum(axis=1), 0.0, atol=1e-12)


def test_unclamped_periodic_spline_closes():
    angles = np.arange(11) * 2 * math.pi / 8  # eight control points, the first three again
    poles = np.column_stack([np.cos(angles), np.sin(angles)])
    ring = Spline(3, np.arange(15.0), poles, np.ones(11))
    points, tangents = ring.points_and_tangents(np.array([ring.begin, ring.end]))
    np.testing.assert_allclose(points[0], points[1], atol=1e-12)
    np.testing.assert_allclose(tangents[0], tangents[1], atol=1e-12)


def test_kinks_are_knots_repeated_degree_times():
    knots = np.array([0.0, 0, 0, 1, 2, 2, 3, 3, 3])
    assert Spline(2, knots, np.zeros((6, 2)), np.ones(6)).kinks().tolist() == [2.0]


@pytest.mark.parametrize(
    ("degree", "knots", "n", "weights"),
    [
        (0, [0, 1, 2], 2, [1, 1]),
        (3, [0, 0, 1, 1], 2, [1, 1]),
        (1, [0, 0, 1], 2, [1, 1]),
        (1, [0, 1, 0, 1], 2, [1, 1]),
        (1, [0, 0, 0, 0], 2, [1, 1]),
        (1, [0, 0, math.nan, 1], 2, [1, 1]),
        (1, [0, 0, 1, 1], 2, [1, 0]),
        (1, [0, 0, 1, 1], 2, [1]),
    ],
)
def test_numbers_that_make_no_spline_are_refused(degree, knots, n, weights):
    with pytest.raises(ValueError, match=r"knots|weights"):
        Spline(degree, np.array(knots, dtype=float), np.zeros((n, 2)), np.array(weights, dtype=float))
