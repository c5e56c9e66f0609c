"""The footprint of cell centres against closed forms and against finely chorded shapes."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.planning.borders import Border
from layout_app.planning.footprints import Footprint, no_room_error
from layout_app.planning.rows import Rows
from tests.planning.shapes import ferry_rack, housings, regular, rover_tray


def footprint(outline, *keep_outs, wall_mm=1.0, diameter_mm=20.0):
    """Return the footprint of 20 mm cells, so that centres keep 11 mm."""
    housing = Housing(outline=outline, keep_outs=keep_outs, wall_clearance_mm=wall_mm, keep_out_clearance_mm=wall_mm)
    return Footprint.from_housing(housing, diameter_mm)


def margin_at(some, x, y):
    return float(some.margins_mm(np.array([[x, y]]))[0])


def test_margin_in_a_rectangle_is_what_wall_clearance_and_radius_leave():
    tray = footprint(Contour.rectangle(100, 60))
    assert margin_at(tray, 50, 30) == pytest.approx(30 - 11)  # derived: nearest wall 30 mm away
    assert margin_at(tray, 11, 30) == pytest.approx(0, abs=1e-12)
    assert margin_at(tray, -5, 30) == pytest.approx(-5 - 11)


def test_margin_at_an_inside_corner_is_measured_to_the_corner_itself():
    # notch whose corner (60, 40) points into the floor
    notched = footprint(Contour([(0, 0), (100, 0), (100, 40), (60, 40), (60, 80), (0, 80)]))
    assert margin_at(notched, 60 - 9, 40 - 12) == pytest.approx(15 - 11)  # derived: 9, 12, 15


def test_margin_counts_convex_and_concave_arcs_by_their_radius():
    # a round end (radius 30 about (100, 30)) and a bay pushed into the other end (radius 30 about (0, 30))
    hall = footprint(Contour([(0, 0), (100, 0), (100, 60), (0, 60)], [0, 1.0, 0, -1.0]))
    assert margin_at(hall, 112, 30 + 5) == pytest.approx(30 - 13 - 11)  # derived: 5, 12, 13
    assert margin_at(hall, 36, 30 + 15) == pytest.approx(min(39 - 30, 15) - 11)  # derived: 15, 36, 39


def test_keep_out_clearance_differs_from_wall_clearance():
    boss = Contour.circle(50, 50, 4)
    housing = Housing(outline=Contour.rectangle(100, 100), keep_outs=(boss,), keep_out_clearance_mm=3.0)
    some = Footprint.from_housing(housing, 20.0)
    assert margin_at(some, 50, 50 + 4 + 3 + 10 + 0.5) == pytest.approx(0.5)


def test_boss_concentric_with_a_round_corner_leaves_only_what_both_allow():
    tray = Footprint.from_housing(rover_tray(), 21.0)
    # derived: centres keep 11.5 from the wall 14 mm about the boss's centre, and 4 + 11.5 from that centre; on the
    # diagonal into the tray the boss decides
    on_diagonal = np.array([1214, 364]) + (15.5 + 0.25) / math.sqrt(2)
    assert margin_at(tray, *on_diagonal) == pytest.approx(0.25)
    assert margin_at(tray, 1214 - 1, 364 - 1) < 0


def test_keep_out_across_the_wall_is_one_obstacle_with_it():
    # derived: half a disc of radius 10 stands on the floor; centres keep 11 from it and from the wall
    some = footprint(Contour.rectangle(200, 100), Contour.circle(100, 0, 10))
    assert margin_at(some, 100, 21 + 1) == pytest.approx(1)
    assert some.euler_characteristic == 1


def test_touching_is_allowed_and_a_hundredth_of_a_micrometre_more_is_not_seen():
    some = footprint(Contour.rectangle(100, 60))
    x = np.array([11.0, 11.0 - 1e-8, 11.0 - 1e-5])
    assert some.contains(np.column_stack([x, np.full(3, 30.0)])).tolist() == [True, True, False]


def test_area_perimeter_and_euler_characteristic_of_a_ring():
    ring = footprint(Contour.circle(0, 0, 111), Contour.circle(0, 0, 19))
    assert ring.area_mm2 == pytest.approx(math.pi * (100**2 - 30**2), rel=3e-5)  # derived
    assert ring.perimeter_mm == pytest.approx(2 * math.pi * (100 + 30), rel=3e-5)
    assert ring.euler_characteristic == 0


def test_narrow_waist_leaves_two_pieces():
    # two rooms of 60 x 60 joined by a corridor 20 mm wide, too narrow for centres that keep 11 mm
    waist = [(0, 0), (60, 0), (60, 20), (100, 20), (100, 0), (160, 0)]
    waist += [(160, 60), (100, 60), (100, 40), (60, 40), (60, 60), (0, 60)]
    assert footprint(Contour(waist)).euler_characteristic == 2


def test_two_plates_make_two_holes():
    assert Footprint.from_housing(ferry_rack(), 21.0).euler_characteristic == 1 - 2


def test_vanished_footprint_tells_how_large_a_cell_could_be():
    housing = Housing(outline=Contour.rectangle(200, 20), wall_clearance_mm=1.0)
    assert Footprint.from_housing(housing, 21.0).region.is_empty
    error = no_room_error(housing, 21.0)
    assert error.largest_mm == pytest.approx(18.0, abs=0.02)  # derived: 20 less 1 at either side
    assert "21 mm" in str(error)
    assert "1 mm to the wall" in str(error)


def test_border_has_the_exact_pieces():
    # derived: the inset rectangle; around the boss a full circle of radius 5 + 11, cut into arcs or not
    border = Border.of(footprint(Contour.rectangle(200, 100), Contour.circle(100, 50, 5)))
    straight = np.isinf(border.radius_mm)
    length = np.hypot(*(border.end_mm - border.start_mm)[straight].T).sum()
    turned = (border.end_rad - border.start_rad)[~straight].sum()
    assert length == pytest.approx(2 * (178 + 78), abs=1e-5)
    assert turned == pytest.approx(2 * math.pi, abs=1e-9)
    np.testing.assert_allclose(border.radius_mm[~straight], 16, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(housings())
def test_rows_enclose_the_footprint_at_every_height_and_angle(housing):
    some = Footprint.from_housing(housing, 12.0)
    x_min, y_min, x_max, y_max = some.outline.bounds_mm
    some = some.moved(-(x_min + x_max) / 2, -(y_min + y_max) / 2)
    border = Border.of(some)
    if not len(border.radius_mm):
        return
    rng = np.random.default_rng(3)
    points = rng.uniform(-160, 160, (400, 2))
    for angle_rad in (0.0, 0.7):
        rows = Rows.along(some, border, angle_rad)
        left, right = rows.spans_mm(points[:, 1])
        within = ((left <= points[:, :1]) & (points[:, :1] <= right)).any(axis=1)
        cos, sin = math.cos(angle_rad), math.sin(angle_rad)
        margins = some.margins_mm(points @ np.array([[cos, sin], [-sin, cos]]))
        assert (within == (margins >= 0))[np.abs(margins) > 1e-6].all()


@settings(max_examples=40, deadline=None)
@given(housings())
def test_region_holds_every_allowed_point_and_none_far_outside(housing):
    some = Footprint.from_housing(housing, 12.0)
    x_min, y_min, x_max, y_max = some.outline.bounds_mm
    points = np.random.default_rng(4).uniform((x_min, y_min), (x_max, y_max), (500, 2))
    margins, held = some.margins_mm(points), shapely.intersects_xy(some.region, *points.T)
    assert held[margins >= 0].all()
    assert not held[margins < -3e-3].any()  # widened by 2 µm


def test_far_away_drawing_gives_the_same_border():
    near = footprint(Contour.rectangle(100, 60, 15), Contour.circle(50, 30, 3))
    far = near.moved(1e5, -1e5)
    np.testing.assert_allclose(Border.of(far).start_mm - (1e5, -1e5), Border.of(near).start_mm, atol=1e-8)


@pytest.mark.parametrize("n_sides", [3, 4, 6, 11])
def test_regular_polygon_keeps_its_shape_one_inradius_smaller(n_sides):
    some = footprint(regular(n_sides, 100.0))
    inradius = 100 * math.cos(math.pi / n_sides)
    shrink = (inradius - 11) / inradius  # derived: similar polygon
    perimeter_mm = 200 * n_sides * math.sin(math.pi / n_sides) * shrink
    assert some.perimeter_mm == pytest.approx(perimeter_mm, abs=0.03)
    assert some.area_mm2 == pytest.approx(perimeter_mm * inradius * shrink / 2, abs=0.03)


def test_keep_outs_whose_borders_coincide_are_passed_like_one():
    # two posts drawn twice and two plates in one line: their moved edges lie on one another
    posts = [Contour.circle(100, 60, 6)] * 2
    plates = [Contour.rectangle(40, 10).moved(x, 100) for x in (60, 110)]
    some = footprint(Contour.rectangle(200, 200), *posts, *plates)
    rows = Rows.along(some, Border.of(some), 0.0)
    left, right = rows.spans_mm(np.array([60.0, 115.0]))
    # derived: 11 mm from walls, 6 + 11 from the posts' centre; 11 from the plates, 5 mm above their upper edge
    reach = math.sqrt(11**2 - 5**2)
    assert spans(left[0], right[0]) == pytest.approx([11, 83, 117, 189], abs=1e-6)
    assert spans(left[1], right[1]) == pytest.approx([11, 60 - reach, 150 + reach, 189], abs=1e-6)


def spans(left, right):
    """Ends of the used spans of one row, ascending."""
    return sorted(float(x) for pair in zip(left, right, strict=True) if pair[0] <= pair[1] for x in pair)
