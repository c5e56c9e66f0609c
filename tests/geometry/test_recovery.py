"""Recovery: arcs come back exact from chords, whatever was cut in between."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.recovery import SHORTEST_EDGE_MM, circle_circle, line_circle, with_arcs

few = settings(max_examples=40, deadline=None)
EXACT_MM = 1e-9


def ring(shape):
    return shapely.get_coordinates(shapely.get_exterior_ring(shape))[:-1]


def disc(x, y, r):
    return Contour.circle(x, y, r).polygon(5e-4)


def test_a_ring_of_straight_edges_stays_as_it_is_without_needless_vertices():
    vertices = [(0, 0), (5, 0), (10, 0), (10, 8), (10, 8 + 1e-7), (0, 8)]
    contour = with_arcs(np.array(vertices, dtype=float), np.empty((0, 3)))
    np.testing.assert_allclose(contour.vertices_mm, [(0, 0), (10, 0), (10, 8), (0, 8)], atol=1e-6)
    assert not contour.is_arc.any()


@pytest.mark.parametrize("turn", [1, -1])
def test_chords_of_one_circle_are_that_circle(turn):
    chords = Contour.circle(30.0, -4.0, 7.0).flattened(5e-4)[::turn]
    contour = with_arcs(chords, np.array([[30.0, -4.0, 7.0]]))
    assert contour.as_circle == pytest.approx((30.0, -4.0, 7.0), abs=EXACT_MM)
    assert math.copysign(1, contour.area_mm2) == turn


@few
@given(cut=st.floats(-9.5, 9.5), angle=st.floats(0, 2 * math.pi), radius=st.floats(10.0, 300.0))
def test_a_disc_cut_by_a_line_has_the_area_of_a_circular_segment(cut, angle, radius):
    half = Contour.rectangle(4 * radius, 4 * radius).moved(-2 * radius, cut - 4 * radius).turned(angle)
    piece = disc(0, 0, radius).intersection(half.polygon())
    contour = with_arcs(ring(piece), np.array([[0.0, 0.0, radius]])).counter_clockwise()
    # derived: the segment cut off at distance d from the centre is r² acos(d / r) - d √(r² - d²)
    kept = math.pi * radius**2 - (radius**2 * math.acos(cut / radius) - cut * math.sqrt(radius**2 - cut**2))
    # where the cut runs through a chord's end, to within an edge that counts as none, it may be moved by that much
    across_mm = np.abs(ring(disc(0, 0, radius)) @ (-math.sin(angle), math.cos(angle)) - cut).min()
    moved_mm2 = 2 * radius * SHORTEST_EDGE_MM if across_mm < SHORTEST_EDGE_MM else 0.0
    assert contour.area_mm2 == pytest.approx(kept, rel=1e-9, abs=max(moved_mm2, 1e-9 * kept))
    assert len(contour.bulges) == 2


@few
@given(apart=st.floats(3.0, 14.0), one=st.floats(6.0, 9.0), other=st.floats(6.0, 9.0), seen=st.permutations([0, 1]))
def test_two_discs_make_a_lens_of_the_known_area(apart, one, other, seen):
    if not abs(one - other) + 0.5 < apart < one + other - 0.5:
        return
    lens = disc(0, 0, one).intersection(disc(apart, 0, other))
    circles = np.array([[0.0, 0.0, one], [apart, 0.0, other]])[list(seen)]
    contour = with_arcs(ring(lens), circles).counter_clockwise()
    # derived: two circular segments; d1, d2 are the distances of the common chord from the centres
    d1 = (apart**2 + one**2 - other**2) / (2 * apart)
    d2 = apart - d1
    parts = [r**2 * math.acos(d / r) - d * math.sqrt(r**2 - d**2) for r, d in ((one, d1), (other, d2))]
    assert contour.area_mm2 == pytest.approx(sum(parts), rel=1e-9)


def test_a_rounded_rectangle_comes_back_tangent():
    outline = Contour.rectangle(80.0, 50.0, 7.0)
    circles = np.array([[7, 7, 7], [73, 7, 7], [73, 43, 7], [7, 43, 7]], dtype=float)
    contour = with_arcs(outline.flattened(5e-4), circles)
    assert contour.area_mm2 == pytest.approx(80 * 50 - (4 - math.pi) * 49, rel=1e-9)  # derived
    assert np.abs(contour.turns_rad).max() < 1e-6


@few
@given(
    n_arcs=st.integers(20, 140), cut=st.floats(-50.0, 50.0), angle=st.floats(0, math.pi), setback=st.floats(0.0, 6.0)
)
def test_arcs_that_hardly_differ_keep_their_order(n_arcs, cut, angle, setback):
    """A closed chain of tangent arcs, cut by a line anywhere: no arc may turn back, no edge cross another."""
    turns = np.linspace(0, 2 * math.pi, n_arcs + 1)
    radii = 80 + 60 * np.abs(np.sin((turns[:-1] + turns[1:]) / 2)) ** 2
    steps = [np.sin(turns[1:]) - np.sin(turns[:-1]), np.cos(turns[:-1]) - np.cos(turns[1:])]
    points = np.cumsum(np.vstack([[0, 0], radii[:, None] * np.column_stack(steps)]), axis=0)[:-1]
    wall = Contour(points, np.full(n_arcs, math.tan(math.pi / n_arcs / 2)))
    x, y = np.mean(points, axis=0)
    half = Contour.rectangle(1000, 500).moved(-500, cut - 500).turned(angle).moved(x, y)
    piece = wall.polygon(5e-4).buffer(-setback).intersection(half.polygon())
    circles = np.column_stack([wall.arc_centres_mm, wall.arc_radii_mm - setback])
    contour = with_arcs(ring(piece), circles)
    assert contour.polygon(1e-4).is_valid
    assert np.abs(4 * np.arctan(contour.bulges)).max() < math.pi
    assert shapely.hausdorff_distance(contour.polygon(1e-4).exterior, piece.exterior) < 0.005
    assert contour.area_mm2 == pytest.approx(shapely.Polygon(ring(piece)).area, rel=1e-4) or contour.area_mm2 < 0


@few
@given(slope=st.floats(0, 2 * math.pi), off=st.floats(-4.9, 4.9))
def test_a_line_meets_a_circle_on_both(slope, off):
    along = np.array([math.cos(slope), math.sin(slope)])
    a = off * np.array([-along[1], along[0]])
    ahead = line_circle(a, a + along, np.array([0.0, 0.0, 5.0]), a + 9 * along)
    behind = line_circle(a, a + along, np.array([0.0, 0.0, 5.0]), a - 9 * along)
    half = math.sqrt(25 - off**2)  # derived: Pythagoras
    np.testing.assert_allclose(ahead, a + half * along, atol=1e-3)  # 1 µm near a touch
    np.testing.assert_allclose(behind, a - half * along, atol=1e-3)


def test_circles_meet_nearest_to_the_place_asked_for():
    # derived: circles of radius 5 about (0, 0) and (6, 0) meet at (3, ±4)
    one, two = np.array([0.0, 0.0, 5.0]), np.array([6.0, 0.0, 5.0])
    np.testing.assert_allclose(circle_circle(one, two, np.array([3.0, 1.0])), [3, 4])
    np.testing.assert_allclose(circle_circle(one, two, np.array([3.0, -1.0])), [3, -4])
    touching = np.array([10.0, 0.0, 5.0])
    np.testing.assert_allclose(circle_circle(one, touching, np.array([5.0, 0.3])), [5, 0])
