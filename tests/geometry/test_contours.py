"""Contours: exact area, length and bounds against closed forms and fine chords; how turns and mirrors act."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour

FEW = settings(max_examples=30, deadline=None)
QUARTER = math.tan(math.pi / 8)  # bulge of a quarter turn: tan(90° / 4), values.md section 14


@st.composite
def wobbly_loops(draw, far=0.0):
    """Star-shaped loops of 3 to 12 edges, some of them arcs bulging either way, up to 1 m across."""
    n = draw(st.integers(3, 12))
    radii = np.array(draw(st.lists(st.floats(5.0, 500.0), min_size=n, max_size=n)))
    bulges = draw(
        st.lists(st.sampled_from([0.0, 0.0, 1e-6, 0.01, -0.2, 0.4, QUARTER, 1.0, -1.0]), min_size=n, max_size=n)
    )
    angles = 2 * math.pi * np.arange(n) / n
    return Contour(np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None] + far, bulges)


def chords_area(points):
    """Shoelace, about the first point."""
    x, y = (points - points[0]).T
    return (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2


def test_circle_has_area_length_and_bounds_of_the_closed_form():
    circle = Contour.circle(1e5, -2e5, 132.5)
    assert circle.area_mm2 == pytest.approx(math.pi * 132.5**2, rel=1e-12)
    assert circle.perimeter_mm == pytest.approx(2 * math.pi * 132.5, rel=1e-12)
    assert circle.bounds_mm == pytest.approx((1e5 - 132.5, -2e5 - 132.5, 1e5 + 132.5, -2e5 + 132.5), abs=1e-9)
    assert circle.as_circle == pytest.approx((1e5, -2e5, 132.5), abs=1e-9)


def test_round_rectangle_loses_four_quarter_corners():
    loop = Contour.rectangle(420.0, 236.0, 14.0)
    assert loop.area_mm2 == pytest.approx(420 * 236 - (4 - math.pi) * 14**2, rel=1e-12)  # derived: square less circle
    assert loop.perimeter_mm == pytest.approx(2 * (420 + 236) - (8 - 2 * math.pi) * 14, rel=1e-12)
    assert loop.bounds_mm == pytest.approx((0, 0, 420, 236), abs=1e-9)


def test_rectangle_with_the_largest_corners_is_a_stadium_without_null_edges():
    loop = Contour.rectangle(30.0, 20.0, 10.0)
    assert loop.chords_mm.min() > 1
    assert loop.area_mm2 == pytest.approx(10 * 20 + math.pi * 100, rel=1e-12)  # derived: 10 x 20 and a circle


def test_half_moon_of_two_arcs():
    # from (-1, 0) to (1, 0) below and back above: half disc less a segment that bulges into it
    moon = Contour([(-1.0, 0.0), (1.0, 0.0)], [1.0, -QUARTER])
    segment = (math.pi / 2 - 1) * 2 / 2  # derived: r² (u - sin u) / 2 with u 90°, chord 2, r² 2
    assert moon.area_mm2 == pytest.approx(math.pi / 2 - segment, rel=1e-12)
    assert moon.bounds_mm == pytest.approx((-1, -1, 1, 0), abs=1e-12)
    assert moon.as_circle is None


@pytest.mark.parametrize("degrees", [30, 45, 60, 90, 120, 180, 270])
def test_pie_chord_area_is_that_of_the_circular_segment(degrees):
    u, r = math.radians(degrees), 50.0
    chord = 2 * r * math.sin(u / 2)
    # the loop is an arc and its chord
    loop = Contour([(0.0, 0.0), (chord, 0.0)], [math.tan(u / 4), 0.0])
    assert loop.area_mm2 == pytest.approx(r**2 * (u - math.sin(u)) / 2, rel=1e-11)  # textbook: circular segment
    assert loop.perimeter_mm == pytest.approx(r * u + chord, rel=1e-12)
    assert loop.arc_radii_mm[0] == pytest.approx(r, rel=1e-12)


@pytest.mark.parametrize("bulge", [1e-3, 1e-5, 1e-7, 1e-9, 1e-11])
def test_shallow_arcs_keep_their_digits(bulge):
    square = Contour([(0, 0), (100, 0), (100, 100), (0, 100)], [bulge, 0, 0, 0])
    bow = 2 / 3 * 100 * (bulge * 50)  # derived: parabola of sagitta b c / 2; the error is of order b³
    assert square.area_mm2 - 1e4 == pytest.approx(bow, abs=2e-12 * 1e4 + 100**2 * bulge**3)
    middle = square.points_along(np.array([0]), np.array([0.5]))
    np.testing.assert_allclose(middle, [(50.0, -bulge * 50)], rtol=1e-12)


def test_a_bulge_below_rounding_is_stored_as_straight():
    loop = Contour([(0, 0), (100, 0), (0, 100)], [1e-15, 5e-324, 0.0])
    assert not loop.is_arc.any()
    assert loop.area_mm2 == 5000.0
    assert loop.bounds_mm == (0.0, 0.0, 100.0, 100.0)


def test_arcs_out_and_back_are_no_circle():
    assert Contour([(0, 0), (2, 0)], [1.0, -1.0]).as_circle is None


def test_twice_round_is_no_circle():
    assert Contour([(0, 0), (2, 0), (0, 0), (2, 0)], [1.0, 1.0, 1.0, 1.0]).as_circle is None


@given(loop=wobbly_loops())
@FEW
def test_area_and_length_are_the_limits_of_fine_chords(loop):
    points = loop.flattened(1e-4)
    length = np.hypot(*(np.roll(points, -1, axis=0) - points).T).sum()
    assert chords_area(points) == pytest.approx(loop.area_mm2, abs=1e-4 * loop.perimeter_mm)
    # derived: an arc is longer than its chord by s² 8/3 per chord, at sagitta s
    assert length <= loop.perimeter_mm * (1 + 1e-12)
    assert length == pytest.approx(loop.perimeter_mm, rel=1e-4)


@given(loop=wobbly_loops(), tolerance=st.sampled_from([0.02, 0.5]))
@FEW
def test_chords_end_on_the_loop_and_stay_within_tolerance(loop, tolerance):
    ours, finer = loop.flattened(tolerance), loop.flattened(tolerance / 50)
    beside = shapely.distance(shapely.points(finer), shapely.LinearRing(ours))
    assert beside.max() <= tolerance * (1 + 1e-9)
    assert set(map(tuple, loop.vertices_mm)) <= set(map(tuple, ours))


@given(loop=wobbly_loops())
@FEW
def test_bounds_are_those_of_fine_chords(loop):
    points = loop.flattened(1e-4)
    near = (*points.min(axis=0), *points.max(axis=0))
    assert loop.bounds_mm == pytest.approx(near, abs=2e-4)


@given(loop=wobbly_loops())
@FEW
def test_reversing_turns_the_sign_of_the_area_and_nothing_else(loop):
    back = loop.reversed()
    assert back.area_mm2 == pytest.approx(-loop.area_mm2, rel=1e-9, abs=1e-9)
    assert back.perimeter_mm == pytest.approx(loop.perimeter_mm, rel=1e-12)
    assert back.bounds_mm == pytest.approx(loop.bounds_mm, abs=1e-9)
    assert back.reversed() == loop
    assert back.counter_clockwise().area_mm2 >= 0


@given(loop=wobbly_loops(), angle=st.floats(-7.0, 7.0), x=st.floats(-1e5, 1e5), y=st.floats(-1e5, 1e5))
@FEW
def test_turning_and_moving_change_neither_area_nor_length(loop, angle, x, y):
    elsewhere = loop.turned(angle, (x, y)).moved(-y, x)
    assert elsewhere.area_mm2 == pytest.approx(loop.area_mm2, rel=1e-8, abs=1e-4)
    assert elsewhere.perimeter_mm == pytest.approx(loop.perimeter_mm, rel=1e-9)
    back = elsewhere.moved(y, -x).turned(-angle, (x, y))
    np.testing.assert_allclose(back.vertices_mm, loop.vertices_mm, atol=1e-8)


def test_a_turn_is_counter_clockwise():
    turned = Contour.rectangle(4.0, 3.0).turned(math.pi / 2)
    np.testing.assert_allclose(turned.vertices_mm, [(0, 0), (0, 4), (-3, 4), (-3, 0)], atol=1e-12)


@given(loop=wobbly_loops(), x=st.floats(-1e4, 1e4))
@FEW
def test_mirroring_keeps_area_sign_and_swaps_left_and_right(loop, x):
    mirrored = loop.mirrored(x)
    assert mirrored.area_mm2 == pytest.approx(loop.area_mm2, rel=1e-8, abs=1e-5)
    x_min, y_min, x_max, y_max = loop.bounds_mm
    assert mirrored.bounds_mm == pytest.approx((2 * x - x_max, y_min, 2 * x - x_min, y_max), abs=1e-7)
    np.testing.assert_allclose(np.sort(mirrored.mirrored(x).vertices_mm, 0), np.sort(loop.vertices_mm, 0), atol=1e-8)


@given(loop=wobbly_loops())
@FEW
def test_points_half_way_along_arcs_rise_by_the_bulge(loop):
    edges = np.arange(len(loop.bulges))
    middles = loop.points_along(edges, np.full(len(edges), 0.5))
    rise = np.hypot(*(middles - (loop.vertices_mm + loop.ends_mm) / 2).T)
    np.testing.assert_allclose(rise, np.abs(loop.bulges) * loop.chords_mm / 2, atol=1e-9)  # values.md 14: sagitta


def test_null_edges_go():
    loop = Contour([(0, 0), (4, 0), (4, 0), (4, 3), (0, 3)])
    assert len(loop.without_null_edges().bulges) == 4
    assert loop.without_null_edges().area_mm2 == 12.0


@pytest.mark.parametrize(
    ("vertices", "bulges"),
    [
        ([(0, 0), (1, 0)], None),
        ([(0, 0)], [1.0]),
        ([(0, 0), (1, 0), (0, 1)], [0.0, 0.0]),
        ([(0, 0), (1, float("nan")), (0, 1)], None),
        ([(0, 0), (1, 0), (0, 1)], [0.0, float("inf"), 0.0]),
    ],
)
def test_what_is_no_loop_is_refused(vertices, bulges):
    with pytest.raises(ValueError, match=r"contour|vertices"):
        Contour(vertices, bulges)


def test_values_are_equal_and_frozen():
    one, other = Contour.circle(1, 2, 3), Contour.circle(1, 2, 3)
    assert one == other
    assert hash(one) == hash(other)
    assert one != Contour.circle(1, 2, 4)
    with pytest.raises(ValueError, match="read-only"):
        one.vertices_mm[0, 0] = 5.0
