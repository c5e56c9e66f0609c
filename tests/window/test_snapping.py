"""What a dragged cell or point is drawn to, and distances between marks, against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.distances import signed_distances_mm
from layout_app.window.lengths import length_text
from layout_app.window.snapping import Snapping, nearest_on, snapped_cell, snapped_point
from layout_app.window.tools.measuring import Mark, distance
from tests.strategies import contours

from .modules import CORNER_MM, PITCH_MM, module

LAYOUT = module(2, 4, 2)
CENTRES = LAYOUT.cells.centres_mm
FREE_MM = (CORNER_MM[0] + 4 * PITCH_MM, CORNER_MM[1] - 3.0)  # beside the last cell of the lower row


@given(contour=contours(), x=st.floats(-600, 600), y=st.floats(-600, 600))
@settings(deadline=None, max_examples=100)
def test_the_nearest_point_of_a_loop_is_on_it_and_as_near_as_the_distance_says(contour, x, y):
    place = tuple((contour.vertices_mm[0] + (x, y)).tolist())
    foot = nearest_on(contour, place)
    size = np.abs(contour.vertices_mm).max()
    exact = abs(signed_distances_mm(contour, np.array([place]))[0])
    assert math.dist(foot, place) == pytest.approx(exact, abs=1e-9 * size)
    assert abs(signed_distances_mm(contour, np.array([foot]))[0]) < 1e-9 * size


def test_sites_draw_from_anywhere():
    place, word = snapped_cell(
        Snapping(frozenset({"sites"})), LAYOUT, (CORNER_MM[0] + 5.0, CORNER_MM[1] - 6.0), CENTRES, 1.0
    )
    assert (place, word) == (pytest.approx(CORNER_MM), "site")


def test_a_can_is_drawn_to_the_gap_its_neighbours_keep():
    snapping = Snapping(frozenset({"edges"}))
    lower_right = CENTRES[6]  # cells 1, 3, 5, 7 stand in the lower row
    place, word = snapped_cell(snapping, LAYOUT, (lower_right[0] + 22.8, lower_right[1] - 0.4), CENTRES[[6]], 2.0)
    assert word == "gap"
    assert math.dist(place, lower_right) == pytest.approx(PITCH_MM)
    place, word = snapped_cell(snapping, LAYOUT, (lower_right[0] + 22.5, lower_right[1] + 0.5), CENTRES, 2.0)
    assert word == "two gaps"  # of cell 7 and of cell 8 above it: the next site of a hexagonal lattice
    assert place == pytest.approx((lower_right[0] + PITCH_MM, lower_right[1]), abs=1e-6)


def test_a_can_is_drawn_to_its_clearance_from_the_wall():
    x0, y0, _, _ = LAYOUT.housing.outline.bounds_mm
    place, word = snapped_cell(Snapping(frozenset({"edges"})), LAYOUT, (x0 + 40.0, y0 + 11.9), CENTRES[:0], 1.0)
    assert (place, word) == (pytest.approx((x0 + 40.0, y0 + 21.0 / 2 + 1.0)), "wall")


def test_centres_line_up_and_the_grid_rounds_when_nothing_else_draws():
    x, y = CENTRES[0]
    place, word = snapped_cell(Snapping(frozenset({"centres"})), LAYOUT, (x + 0.4, y - 200.0), CENTRES[[0]], 1.0)
    assert (place, word) == (pytest.approx((x, y - 200.0)), "in line in x")
    assert snapped_point(Snapping(frozenset({"grid"}), 0.5), LAYOUT, (3.3, 4.1), 1.0) == ((3.5, 4.0), "grid")
    assert snapped_point(Snapping(frozenset()), LAYOUT, (3.3, 4.1), 1.0) == ((3.3, 4.1), "")


def test_cells_and_walls_are_measured_edge_to_edge():
    one, other = (Mark(f"cell {k}", "cell", (22.0 * k, 5.0), 10.5) for k in (0, 1))
    between = distance(one, other)
    assert (between.word, between.length_mm, between.pitch_mm) == ("gap", pytest.approx(1.0), pytest.approx(22.0))
    wall = Mark("the wall", "wall", (0, 0), loop=Contour.rectangle(100.0, 100.0).moved(-12.0, -50.0))
    assert distance(one, wall).length_mm == pytest.approx(12.0 - 10.5)
    assert distance(wall, one).length_mm == pytest.approx(12.0 - 10.5)


def test_metal_has_webs_gaps_and_setbacks():
    window = Mark("window", "window", (0.0, 0.0), 4.0, owner=2)
    beside = Mark("window", "window", (22.0, 0.0), 6.0, owner=2)
    assert (distance(window, beside).word, distance(window, beside).length_mm) == ("web", pytest.approx(12.0))
    sheets = [
        Mark("m", "metal", (0, 0), loop=Contour.rectangle(10.0, 10.0).moved(x, 0), owner=k)
        for k, x in ((1, 0), (3, 11.5))
    ]
    assert (distance(*sheets).word, distance(*sheets).length_mm) == ("insulation gap", pytest.approx(1.5))
    wall = Mark("wall", "wall", (0, 0), loop=Contour.rectangle(40.0, 40.0).moved(-2.0, -2.0))
    assert distance(sheets[0], wall).word == "setback"


def test_lengths_are_shown_in_millimetres_or_inches():
    assert length_text(25.4, "inch") == "1.0000 inch"  # exactly, since 1959
    assert length_text(-0.001, "mm") == "0.00 mm"
