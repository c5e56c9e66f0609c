"""Upper bounds: published values, sets for which a careless bound fails, and no packing ever above."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.planning.bounds import oler_bound, upper_bound
from layout_app.planning.footprints import Footprint
from tests.planning.shapes import housings, regular


def footprint_of_centres(outline, *keep_outs, diameter_mm=10.0):
    """Return the footprint of cells whose centres may come within half a diameter of the outline."""
    housing = Housing(outline=outline, keep_outs=keep_outs, wall_clearance_mm=0.0, keep_out_clearance_mm=0.0)
    return Footprint.from_housing(housing, diameter_mm)


@pytest.mark.parametrize(("side", "bound"), [(1, 4.155), (4, 27.475), (9, 112.531), (9.5, 124.212), (19, 455.847)])
def test_bound_of_a_square_of_centres(side, bound):
    # values.md section 6, "Bound, square of centres": formula of Groemer 1960 / Oler 1961
    assert oler_bound(side**2, 4 * side, 1.0) == pytest.approx(bound, abs=5e-4)
    square = footprint_of_centres(Contour.rectangle(10 * side + 10, 10 * side + 10))
    assert upper_bound(square, 10.0) == math.floor(bound)


def test_bound_of_a_disc_of_centres():
    # values.md section 6, "Bound, disc of centres R=5": 107.398
    assert oler_bound(math.pi * 25, math.pi * 10, 1.0) == pytest.approx(107.398, abs=5e-4)
    assert upper_bound(footprint_of_centres(Contour.circle(0, 0, 55)), 10.0) == 107


@pytest.mark.parametrize(("side", "n"), [(1, 3), (2, 6), (4, 15), (12, 91)])
def test_bound_is_reached_in_a_triangle_of_whole_pitches(side, n):
    # values.md section 6: a²/2 + 3a/2 + 1, equality at triangular numbers
    inradius_of_centres = 10 * side / math.sqrt(12)
    triangle = regular(3, 2 * (inradius_of_centres + 5))
    assert upper_bound(footprint_of_centres(triangle), 10.0) == n


def test_bound_holds_for_three_thin_arms():
    """Three corridors a hair wider than a cell meet at 120°: three cells stand at their ends, a pitch from one another.

    Area, half the perimeter and the Euler characteristic of this set sum to 2.73.
    """
    arm_mm, half_mm = 10 / math.sqrt(3) + 10.0, 5.0005
    turn = np.arange(3) * 2 * math.pi / 3
    ahead, aside = np.column_stack([np.cos(turn), np.sin(turn)]), np.column_stack([-np.sin(turn), np.cos(turn)])
    ends = [arm_mm * a + s * half_mm * b for a, b in zip(ahead, aside, strict=True) for s in (-1, 1)]
    inner = [half_mm * 2 / math.sqrt(3) * np.array([math.cos(t), math.sin(t)]) for t in turn + math.pi / 3]
    outline = Contour([point for k in range(3) for point in (ends[2 * k], ends[2 * k + 1], inner[k])])
    arms = footprint_of_centres(outline)
    tips = (arm_mm - 5 - 1e-9) * ahead
    assert arms.contains(tips).all()
    assert np.hypot(*(tips[0] - tips[1])) >= 8.0
    pitch_mm = float(np.hypot(*(tips[0] - tips[1])))
    plain = oler_bound(arms.area_mm2, arms.perimeter_mm, pitch_mm) - 1 + arms.euler_characteristic
    assert plain < 3  # what the docstring of bounds warns of
    assert upper_bound(arms, pitch_mm) >= 3


def test_pockets_of_an_l_shape_lower_the_bound_of_its_hull():
    ell = footprint_of_centres(Contour([(0, 0), (310, 0), (310, 110), (110, 110), (110, 310), (0, 310)]))
    hull = ell.region.convex_hull
    assert upper_bound(ell, 10.0) < oler_bound(hull.area, hull.length, 10.0) - 100  # 200 x 200 / 2 of hull are empty
    assert upper_bound(ell, 10.0) >= 31 * 11 + 11 * 20  # derived: square lattice, 11 wide, in both legs


def test_wide_hole_lowers_the_bound():
    plain = footprint_of_centres(Contour.circle(0, 0, 105))
    ring = footprint_of_centres(Contour.circle(0, 0, 105), Contour.circle(0, 0, 60))
    assert upper_bound(ring, 10.0) <= upper_bound(plain, 10.0) - 91  # derived: hexagonal number inside 55 - 5 mm


def test_separate_pieces_are_bounded_one_by_one():
    # two rooms of 20 x 20 at either end of a slit 300 mm long that no centre passes
    slit = [(0, 0), (20, 0), (20, 8), (320, 8), (320, 0), (340, 0), (340, 20), (320, 20), (320, 12), (20, 12), (20, 20)]
    rooms = footprint_of_centres(Contour([*slit, (0, 20)]))
    assert rooms.euler_characteristic == 2
    assert upper_bound(rooms, 10.0) == 2 * math.floor(oler_bound(100, 40, 10.0))


def test_empty_footprint_holds_none():
    assert upper_bound(footprint_of_centres(Contour.rectangle(9, 9)), 10.0) == 0


@settings(max_examples=50, deadline=None)
@given(housings(), st.integers(0, 10_000))
def test_no_random_packing_exceeds_the_bound(housing, seed):
    footprint = Footprint.from_housing(housing, 12.0)
    assert len(random_packing(footprint, 12.0, seed)) <= upper_bound(footprint, 12.0)


@settings(max_examples=50, deadline=None)
@given(housings(), st.integers(0, 10_000))
def test_no_tight_packing_of_tiny_footprints_exceeds_the_bound(housing, seed):
    """Where a handful of cells fit, rounding and constants decide."""
    footprint = Footprint.from_housing(housing, 12.0)
    pitch_mm = 12.0 + seed % 60
    assert len(random_packing(footprint, pitch_mm, seed)) <= upper_bound(footprint, pitch_mm)


def random_packing(footprint, pitch_mm, seed):
    """Return centres taken greedily, those with the least margin first: along the border, where bounds are tight."""
    x_min, y_min, x_max, y_max = footprint.outline.bounds_mm
    points = np.random.default_rng(seed).uniform((x_min, y_min), (x_max, y_max), (2000, 2))
    margins = footprint.margins_mm(points)
    points = points[margins >= 0][np.argsort(margins[margins >= 0])]
    near = cKDTree(points).query_ball_point(points, pitch_mm * (1 - 1e-12)) if len(points) else []
    free, taken = np.ones(len(points), dtype=bool), []
    for k in range(len(points)):
        if free[k]:
            taken.append(points[k])
            free[near[k]] = False
    return taken
