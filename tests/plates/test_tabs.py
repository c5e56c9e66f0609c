"""Tabs: where a terminal leaves, and how far its strip and hole lie out."""

import math

import numpy as np
import pytest

from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.plates import BOLT_HOLE_MM, Terminal
from layout_app.plates.tabs import place_tab
from layout_app.plates.walls import SAMPLE_MM, Wall, longest_stretch

OUTLINE = Contour.rectangle(200.0, 100.0)
CELLS = np.array([[50.0, 50.0], [150.0, 50.0]])  # the wall left of x = 100 is cell 0's, right of it cell 1's
SETBACK_MM = 2.0


def tab(terminal, cells=(0,), outline=OUTLINE, keep_outs=(), standing=CELLS):
    housing = Housing(outline=outline, keep_outs=tuple(keep_outs))
    return place_tab(terminal, Wall.of(outline, standing), housing, SETBACK_MM, np.array(cells))


@pytest.mark.parametrize(
    ("near_mm", "foot_mm", "outward"),
    [
        ((-30.0, 40.0), (0.0, 40.0), (-1, 0)),
        ((60.0, -9.0), (60.0, 0.0), (0, -1)),
        ((60.0, 130.0), (60.0, 100.0), (0, 1)),
    ],
)
def test_a_tab_leaves_square_to_the_wall_nearest_to_the_place_asked_for(near_mm, foot_mm, outward):
    found = tab(Terminal(near_mm=near_mm, width_mm=20.0, length_mm=18.0))
    assert found.foot_mm == pytest.approx(foot_mm, abs=SAMPLE_MM)
    assert found.outward == pytest.approx(outward, abs=1e-12)
    out = (np.array(found.bolt_hole_mm[:2]) - found.foot_mm) @ np.array(outward)
    assert out == pytest.approx(18.0 - 9.0)  # derived: the hole sits in the middle of a square of the shorter side
    x_min, y_min, x_max, y_max = found.strip().bounds
    assert sorted((x_max - x_min, y_max - y_min)) == pytest.approx(sorted((20.0, 18.0 + SETBACK_MM + 1.0)))


def test_a_tab_inside_ends_at_the_setback():
    found = tab(Terminal(near_mm=(60.0, -9.0), width_mm=16.0, length_mm=24.0, place="inside"))
    _, y_min, _, y_max = found.strip().bounds
    assert (y_min, y_max) == pytest.approx((SETBACK_MM, SETBACK_MM + 24.0))
    assert found.bolt_hole_mm[1] == pytest.approx(SETBACK_MM + 8.0)  # derived: half the shorter side in


def test_a_place_at_anothers_wall_gives_the_nearest_whole_place_at_ones_own():
    found = tab(Terminal(near_mm=(140.0, -5.0), width_mm=20.0))
    assert found.foot_mm[1] == pytest.approx(0.0)
    assert found.foot_mm[0] == pytest.approx(100.0 - 10.0, abs=2 * SAMPLE_MM)  # half the tab's width from the other's


def test_without_a_place_a_tab_goes_to_the_middle_of_ones_own_stretch():
    assert tab(Terminal(), cells=(0,)).foot_mm == pytest.approx((0.0, 50.0), abs=SAMPLE_MM)
    assert tab(Terminal(), cells=(1,)).foot_mm == pytest.approx((200.0, 50.0), abs=SAMPLE_MM)


def test_a_boss_in_the_way_moves_the_tab_by_what_it_needs():
    boss = Contour.circle(1.0, 50.0, 3.0)
    found = tab(Terminal(width_mm=20.0), keep_outs=[boss])
    off_mm = abs(found.foot_mm[1] - 50.0)
    assert found.foot_mm[0] == pytest.approx(0.0)
    # derived: half the width, the setback and the boss's radius; no further than the wall is searched in
    assert 10.0 + SETBACK_MM + 3.0 - SAMPLE_MM <= off_mm <= 10.0 + SETBACK_MM + 3.0 + SAMPLE_MM


@pytest.mark.parametrize("bolt", sorted(BOLT_HOLE_MM))
def test_the_hole_is_the_one_of_the_standard(bolt):
    iso_273_medium = {"M3": 3.4, "M4": 4.5, "M5": 5.5, "M6": 6.6, "M8": 9.0, "M10": 11.0, "M12": 13.5}  # read 2nd hand
    assert 2 * tab(Terminal(bolt=bolt, width_mm=30.0, length_mm=30.0)).bolt_hole_mm[2] == iso_273_medium[bolt]


def test_a_segment_at_no_wall_still_gets_a_tab():
    ring = np.array([[x, y] for x in (20.0, 100.0, 180.0) for y in (20.0, 80.0)])
    found = tab(Terminal(), cells=(6,), standing=np.vstack([ring, [[100.0, 50.0]]]))
    assert all(math.isfinite(value) for value in (*found.foot_mm, *found.bolt_hole_mm))


def test_a_tab_wider_than_the_whole_wall_is_placed_all_the_same():
    assert tab(Terminal(width_mm=500.0), outline=Contour.circle(0, 0, 12.0), standing=CELLS[:1] * 0).width_mm == 500.0


def test_on_a_round_wall_a_tab_points_along_the_radius():
    found = tab(Terminal(near_mm=(90.0, 90.0)), outline=Contour.circle(0, 0, 80.0), standing=CELLS[:1] * 0)
    assert np.hypot(*found.foot_mm) == pytest.approx(80.0)
    assert np.array(found.outward) == pytest.approx(np.array(found.foot_mm) / 80.0)


def test_the_longest_stretch_goes_over_the_seam():
    assert longest_stretch(np.array([1, 1, 0, 0, 1, 0, 1, 1], dtype=bool)).tolist() == [6, 7, 0, 1]
