"""Outlines by numbers against closed forms, and nonsense refused with a word on what to do."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.shapes import (
    OutlineShapeError,
    circle,
    free_polygon,
    rectangle,
    rectangle_from_text,
    regular_polygon,
)


def test_rectangle_with_round_corners():
    loop = rectangle(420, 236, 14)
    assert loop.area_mm2 == pytest.approx(420 * 236 - (4 - math.pi) * 196, rel=1e-12)  # derived: square less circle
    assert loop.bounds_mm == pytest.approx((0, 0, 420, 236), abs=1e-12)


def test_rectangle_all_corner_is_a_circle():
    assert rectangle(20, 20, 10).as_circle == pytest.approx((10, 10, 10))


@pytest.mark.parametrize("text", ["420x236x14", " 420 X 236 x 14 ", "420×236×14"])
def test_rectangle_in_words(text):
    assert rectangle_from_text(text) == rectangle(420, 236, 14)


def test_rectangle_in_words_without_corner():
    assert rectangle_from_text("4.5x3").area_mm2 == 13.5


@pytest.mark.parametrize("text", ["", "420", "axb", "1x2x3x4", "420x", "nanx5", "-1x5", "5x5x3", "infx2"])
def test_nonsense_in_place_of_a_rectangle_is_refused(text):
    with pytest.raises(LayoutError, match="must be"):
        rectangle_from_text(text)


def test_circle_by_diameter():
    assert circle(265).as_circle == (0.0, 0.0, 132.5)


@pytest.mark.parametrize("diameter", [0, -1, math.nan, math.inf, 1e9])
def test_circle_of_impossible_size_is_refused(diameter):
    with pytest.raises(LayoutError, match="diameter"):
        circle(diameter)


def test_hexagon_across_flats():
    hexagon = regular_polygon(6, across_flats_mm=100)
    assert hexagon.area_mm2 == pytest.approx(math.sqrt(3) / 2 * 100**2, rel=1e-12)  # textbook: 2 sqrt(3) r², r = 50
    x_min, y_min, x_max, y_max = hexagon.bounds_mm
    assert y_max - y_min == pytest.approx(100)
    assert x_max - x_min == pytest.approx(200 / math.sqrt(3))


@given(n=st.integers(3, 60), radius=st.floats(1, 1000), angle=st.floats(-6, 6))
@settings(max_examples=40, deadline=None)
def test_regular_polygon_has_the_textbook_area(n, radius, angle):
    loop = regular_polygon(n, circumradius_mm=radius, angle_rad=angle)
    assert loop.area_mm2 == pytest.approx(n / 2 * radius**2 * math.sin(2 * math.pi / n), rel=1e-9)
    np.testing.assert_allclose(np.hypot(*loop.vertices_mm.T), radius, rtol=1e-12)
    across = regular_polygon(n, across_flats_mm=2 * radius * math.cos(math.pi / n), angle_rad=angle)
    np.testing.assert_allclose(across.vertices_mm, loop.vertices_mm, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(
    ("n", "sizes"),
    [
        (2, {"circumradius_mm": 5}),
        (6, {}),
        (6, {"circumradius_mm": 5, "across_flats_mm": 5}),
        (6, {"across_flats_mm": -1}),
    ],
)
def test_impossible_regular_polygons_are_refused(n, sizes):
    with pytest.raises(LayoutError):
        regular_polygon(n, **sizes)


def test_free_polygon_is_turned_counter_clockwise_and_its_closing_corner_dropped():
    clockwise = free_polygon([(0, 0), (0, 3), (4, 3), (4, 0), (0, 0)])
    assert clockwise.area_mm2 == 12
    assert len(clockwise.bulges) == 4


def test_free_polygon_with_bulges():
    assert free_polygon([(0, 0, 1), (10, 0, 1)]).as_circle == pytest.approx((5, 0, 5))
    stadium = free_polygon([(0, 0), (20, 0, 1), (20, 10), (0, 10, 1)])
    assert stadium.area_mm2 == pytest.approx(200 + 25 * math.pi)
    assert isinstance(stadium, Contour)


def test_free_polygon_that_crosses_itself_says_where():
    with pytest.raises(OutlineShapeError, match=r"crosses or touches itself at \(5, 5\) mm") as caught:
        free_polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    assert caught.value.place_mm == (5.0, 5.0)


@pytest.mark.parametrize(
    ("corners", "word"),
    [
        ([], "number of corners"),
        ([(0, 0)], "number of corners"),
        ([(0, 0), (1, 0)], "enclose no area"),
        ([(0, 0), (1, 0), (2, 0)], "touches itself|no area"),
        ([(0, 0), (1, 0), (1, 0), (0, 1)], "Corners 2 and 3"),
        ([(0, 0), (1, math.nan), (0, 1)], "y of corner 2"),
        ([(0, 0), (1e12, 0), (0, 1)], "x of corner 2"),
        ([(0, 0), (2e5, 0), (0, 2e5)], "at most 100000 mm"),
        ([(0, 0, 1e9), (1, 0), (0, 1)], "bulge of corner 1"),
        ([(0, 0), (1, 0, 0, 0), (0, 1)], "corner 2"),
    ],
)
def test_corners_that_make_no_outline_are_refused(corners, word):
    with pytest.raises(LayoutError, match=word):
        free_polygon(corners)
