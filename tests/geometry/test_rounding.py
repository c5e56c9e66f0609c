"""Rounding: exact fillets, equal to what rolling a disc along the loop gives."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.rounding import CornerTooTightError, rounded

few = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize("n_sides", [3, 4, 5, 6, 12])
def test_a_regular_polygon_loses_the_known_area_at_every_corner(n_sides):
    turns = 2 * math.pi * np.arange(n_sides) / n_sides
    polygon = Contour(20 * np.column_stack([np.cos(turns), np.sin(turns)]))
    contour = rounded(polygon, 2.0)
    # derived: a corner that turns by u loses r² (tan(u / 2) - u / 2); the perimeter r (2 tan(u / 2) - u)
    turn = 2 * math.pi / n_sides
    assert polygon.area_mm2 - contour.area_mm2 == pytest.approx(n_sides * 4 * (math.tan(turn / 2) - turn / 2))
    assert polygon.perimeter_mm - contour.perimeter_mm == pytest.approx(n_sides * 2 * (2 * math.tan(turn / 2) - turn))
    assert contour.arc_radii_mm[contour.is_arc] == pytest.approx(2.0)
    assert np.abs(contour.turns_rad).max() < 1e-9


def test_an_inside_corner_gains_what_an_outside_corner_loses():
    # an L: five corners turn left, one turns right
    shape = Contour([(0, 0), (30, 0), (30, 10), (12, 10), (12, 25), (0, 25)])
    assert rounded(shape, 3.0).area_mm2 - shape.area_mm2 == pytest.approx(-4 * 9 * (1 - math.pi / 4))  # derived: 5 - 1


@few
@given(
    points=st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=12),
    radius=st.floats(0.5, 12.0),
)
def test_rounding_a_convex_polygon_is_opening_it_with_a_disc(points, radius):
    hull = shapely.MultiPoint(points).convex_hull
    assume(hull.geom_type == "Polygon" and not hull.buffer(-radius - 0.2).is_empty)
    hull = hull.simplify(0.01)
    contour = rounded(Contour(shapely.get_coordinates(hull)[:-1]).counter_clockwise(), radius)
    opened = hull.buffer(-radius, quad_segs=256).buffer(radius, quad_segs=256)
    # GEOS takes corners a hundredth of the distance across for noise
    assert shapely.hausdorff_distance(contour.polygon(1e-4), opened) < 0.012 * radius
    assert contour.polygon(1e-4).symmetric_difference(opened).area < 2e-3 * hull.area


@few
@given(radius=st.floats(0.1, 4.0), angle=st.floats(0, 6.28), dx=st.floats(-1e4, 1e4), dy=st.floats(-1e4, 1e4))
def test_a_moved_turned_or_mirrored_loop_gives_the_moved_turned_or_mirrored_fillets(radius, angle, dx, dy):
    shape = Contour([(0, 0), (40, 0), (40, 20), (22, 20), (15, 32), (0, 28)], [0, 0.2, 0, 0, -0.1, 0])
    here = rounded(shape, radius)
    for there in (shape.turned(angle).moved(dx, dy), shape.mirrored(), shape.reversed().counter_clockwise()):
        moved = rounded(there, radius)
        assert moved.area_mm2 == pytest.approx(here.area_mm2, rel=1e-9)
        assert moved.perimeter_mm == pytest.approx(here.perimeter_mm, rel=1e-9)


def test_a_corner_between_a_line_and_an_arc_touches_both():
    # a half disc: corners between the diameter and the arc
    contour = rounded(Contour([(-20, 0), (20, 0)], [0.0, 1.0]), 3.0)
    # derived: the fillet's centre is 3 above the diameter and 20 - 3 from the middle, at x = √(17² - 3²)
    centres = contour.arc_centres_mm[np.abs(contour.arc_radii_mm - 3.0) < 1e-9]
    assert sorted(centres[:, 0].tolist()) == pytest.approx([-math.sqrt(280), math.sqrt(280)])
    assert centres[:, 1] == pytest.approx(3.0)
    assert np.abs(contour.turns_rad).max() < 1e-9


def test_a_short_edge_between_two_outside_corners_gives_way():
    chamfered = Contour([(0, 0), (30, 0), (30, 19.9), (29.9, 20), (0, 20)])
    sharp = rounded(Contour.rectangle(30.0, 20.0), 4.0)
    assert rounded(chamfered, 4.0).area_mm2 == pytest.approx(sharp.area_mm2, abs=1e-9)


def test_a_curve_drawn_in_pieces_lets_a_corners_arc_pass_over_them():
    turns = np.linspace(0, math.pi / 2, 120)
    drawn = Contour([(0, 0), *(60 * np.column_stack([np.cos(turns), np.sin(turns)]))])
    exact = Contour([(0, 0), (60, 0), (0, 60)], [0, math.tan(math.pi / 8), 0])
    assert rounded(drawn, 5.0).area_mm2 == pytest.approx(rounded(exact, 5.0).area_mm2, rel=1e-4)


def test_a_step_too_low_for_its_two_arcs_is_said_to_be_too_tight():
    with pytest.raises(CornerTooTightError):
        rounded(Contour([(0, 0), (30, 0), (30, 20), (15, 20), (15, 19.5), (0, 19.5)]), 1.0)


def test_nothing_is_rounded_with_no_radius_and_nothing_smooth_changes():
    square, disc = Contour.rectangle(9.0, 9.0), Contour.circle(0, 0, 5)
    assert rounded(square, 0.0) is square
    assert rounded(disc, 2.0) is disc


def test_an_edge_that_gives_way_never_takes_its_neighbour_with_it():
    """Once, the edges beside the short one met at the far end of the next, which left an edge of no length."""
    corners = [(-24.598076, -1.5), (67.75, -1.5), (67.75, 12.846043), (79.25, 19.485572), (67.75, 26.1251)]
    corners.append((67.75, 51.817187))
    with pytest.raises(CornerTooTightError):
        rounded(Contour(corners), 20.0)
