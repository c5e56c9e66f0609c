"""Curves as few arcs: within tolerance, smooth, exact where the curve is a circle or a line."""

import math

import numpy as np
import pytest

from layout_app.geometry.biarcs import edges_along
from layout_app.geometry.contours import Contour

TOLERANCE_MM = 0.002


def ellipse(a, b):
    def place(t):
        return np.column_stack([a * np.cos(t), b * np.sin(t)]), np.column_stack([-a * np.sin(t), b * np.cos(t)])

    return place


def distance_to(edges, points):
    """From each point to the nearest edge, mm."""
    gaps = []
    for k in range(len(edges)):
        one = edges.taken(np.full(len(points), k))
        gaps.append(np.hypot(*(one.points_at(one.nearest_fractions(points)) - points).T))
    return np.min(gaps, axis=0)


def bearings(edges):
    """Directions at the start and the end of each edge."""
    chord = np.arctan2(*(edges.ends_mm - edges.starts_mm).T[::-1])
    return chord - 2 * np.arctan(edges.bulges), chord + 2 * np.arctan(edges.bulges)


@pytest.mark.parametrize(("a", "b"), [(100.0, 60.0), (1000.0, 300.0), (100.0, 99.9), (60.0, 1.0)])
def test_ellipse_is_followed_within_tolerance_by_smooth_arcs(a, b):
    edges = edges_along(ellipse(a, b), np.linspace(0, 2 * math.pi, 5), TOLERANCE_MM)
    points, _ = ellipse(a, b)(np.linspace(0, 2 * math.pi, 2001))
    assert distance_to(edges, points).max() <= TOLERANCE_MM
    loop = Contour(edges.starts_mm, edges.bulges)
    assert loop.area_mm2 == pytest.approx(math.pi * a * b, abs=TOLERANCE_MM * loop.perimeter_mm)  # textbook: pi a b
    leaving, arriving = bearings(edges)
    kinks = np.abs(np.angle(np.exp(1j * (leaving - np.roll(arriving, 1)))))
    assert kinks.max() < 1e-3
    # chords of the same tolerance: r (1 - cos(u/2)) = tolerance needs 2 pi / u of them at the mean radius
    n_chords = math.pi / math.sqrt(2 * TOLERANCE_MM / math.sqrt(a * b))
    assert len(edges) < n_chords


def test_circle_is_four_arcs_exactly():
    edges = edges_along(ellipse(30.0, 30.0), np.linspace(0, 2 * math.pi, 5), TOLERANCE_MM)
    assert len(edges) == 4
    np.testing.assert_allclose(edges.radii_mm, 30.0, rtol=1e-12)


def test_line_is_one_edge():
    def line(t):
        return np.column_stack([3 * t, 4 * t]), np.tile([3.0, 4.0], (len(t), 1))

    edges = edges_along(line, np.array([0.0, 1.0]), TOLERANCE_MM)
    assert len(edges) == 1
    assert edges.lengths_mm[0] == pytest.approx(5)
    assert not edges.bulges.any()


def test_an_s_bends_both_ways():
    def wave(t):
        return np.column_stack([t, 5 * np.sin(t / 10)]), np.column_stack([np.ones_like(t), 0.5 * np.cos(t / 10)])

    edges = edges_along(wave, np.array([0.0, 20 * math.pi]), TOLERANCE_MM)
    assert distance_to(edges, wave(np.linspace(0, 20 * math.pi, 2001))[0]).max() <= TOLERANCE_MM
    assert edges.bulges.min() < 0 < edges.bulges.max()


def test_a_cusp_ends():
    def cusp(t):
        return np.column_stack([t**2, t**3]) * 10, np.column_stack([2 * t, 3 * t**2]) * 10

    edges = edges_along(cusp, np.array([-1.0, 1.0]), TOLERANCE_MM)
    assert distance_to(edges, cusp(np.linspace(-1, 1, 1001))[0]).max() <= TOLERANCE_MM
    assert len(edges) < 200
