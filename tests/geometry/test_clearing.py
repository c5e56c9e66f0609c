"""Clearing: the space left at a distance from walls and keep-outs, against closed forms."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.clearing import CLEARING_TOLERANCE_MM, cleared, polygons_in, quarter_chords
from layout_app.geometry.contours import Contour

few = settings(max_examples=30, deadline=None)


@few
@given(width=st.floats(40, 400), height=st.floats(40, 400), corner=st.floats(8, 15), distance=st.floats(0, 7))
def test_a_rounded_rectangle_shrinks_to_a_rounded_rectangle(width, height, corner, distance):
    shape = cleared(Contour.rectangle(width, height, corner), (), distance).shape
    # derived: sides and radius less the distance
    w, h, r = width - 2 * distance, height - 2 * distance, corner - distance
    assert shape.area == pytest.approx(
        w * h - (4 - math.pi) * r * r, abs=2 * math.pi * r * CLEARING_TOLERANCE_MM + 1e-6
    )


def test_around_a_square_keep_out_the_clearing_has_round_corners():
    clearing = cleared(Contour.rectangle(100.0, 80.0), [Contour.rectangle(10.0, 10.0).moved(40, 30)], 3.0)
    # derived: 94 × 74 less square, four strips and a disc
    assert clearing.shape.area == pytest.approx(94 * 74 - (100 + 4 * 30 + math.pi * 9), abs=0.02)
    assert clearing.kept_out.area == pytest.approx(100 + 120 + math.pi * 9, abs=0.02)
    about = {(round(x, 6), round(y, 6), r) for x, y, r in clearing.circles_mm if r == 3.0}
    assert about == {(40, 30, 3.0), (50, 30, 3.0), (50, 40, 3.0), (40, 40, 3.0)}


def test_a_reflex_corner_of_the_wall_gives_an_arc_of_the_distance_about_it():
    clearing = cleared(Contour([(0, 0), (60, 0), (60, 30), (30, 30), (30, 60), (0, 60)]), (), 4.0)
    np.testing.assert_allclose(clearing.circles_mm, [[30.0, 30.0, 4.0]])


def test_every_arc_of_the_clearing_lies_on_a_circle_it_names():
    outline = Contour.rectangle(120.0, 90.0, 12.0)
    clearing = cleared(outline, [Contour.circle(50.0, 40.0, 6.0)], 2.5)
    straight_mm = 5.0  # chords are far shorter
    for polygon in polygons_in(clearing.shape):
        for loop in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(loop)
            middles = (points[1:] + points[:-1]) / 2
            short = np.hypot(*np.diff(points, axis=0).T) < straight_mm
            x, y, r = clearing.circles_mm.T
            off = np.abs(np.hypot(middles[:, :1] - x, middles[:, 1:] - y) - r).min(axis=1)
            assert off[short].max() < 2 * CLEARING_TOLERANCE_MM


@few
@given(radius=st.floats(1e-3, 5000))
def test_chords_of_a_quarter_circle_stay_within_the_tolerance(radius):
    sagitta = radius * (1 - math.cos(math.pi / 4 / quarter_chords(radius)))  # derived
    assert sagitta <= CLEARING_TOLERANCE_MM * (1 + 1e-9) or radius <= CLEARING_TOLERANCE_MM


def test_a_clearing_holds_what_lies_in_it_and_nothing_that_sticks_out():
    clearing = cleared(Contour.rectangle(50.0, 40.0), (), 2.0)
    assert clearing.holds(shapely.box(2, 2, 48, 38))
    assert not clearing.holds(shapely.box(1.98, 2, 48, 38))


def test_nothing_is_left_of_a_housing_narrower_than_twice_the_distance():
    assert cleared(Contour.rectangle(50.0, 6.0), (), 3.5).shape.is_empty
