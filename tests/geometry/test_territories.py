"""Territories: the graph of ridges gives the same areas as clipping half planes, and its walks close."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.territories import territories

few = settings(max_examples=30, deadline=None)
FRAME = shapely.box(-100, -100, 200, 200)


def scattered(seed, n):
    """Return n points at least 4 apart in a square of 100."""
    random, points = np.random.default_rng(seed), [(50.0, 50.0)]
    while len(points) < n:
        point = random.uniform(0, 100, 2)
        if min(math.dist(point, other) for other in points) > 4:
            points.append(tuple(point))
    return np.array(points)


def area_of(grounds, edges):
    """Return what the walks of directed edges enclose, within FRAME."""
    walks = [Contour(grounds.corners_mm[walk]) for walk in grounds.walks(edges)]
    outer = shapely.union_all([walk.polygon() for walk in walks if walk.area_mm2 > 0])
    inner = shapely.union_all([walk.polygon() for walk in walks if walk.area_mm2 < 0])
    return outer.difference(inner).intersection(FRAME)


def nearest_region(points, k):
    """Return where point k is the nearest: FRAME cut by the half plane of every other point."""
    region = FRAME
    for j in np.flatnonzero(np.arange(len(points)) != k):
        middle, along = (points[j] + points[k]) / 2, points[k] - points[j]
        angle = math.atan2(along[1], along[0])
        half = Contour([(0, -2000), (2000, -2000), (2000, 2000), (0, 2000)]).turned(angle).moved(*middle)
        region = region.intersection(half.polygon())
    return region


@few
@given(seed=st.integers(0, 10_000), n=st.integers(1, 14))
def test_a_territory_is_where_its_point_is_the_nearest(seed, n):
    points = scattered(seed, n)
    grounds = territories(points)
    for k, edges in grounds.borders(np.arange(n)).items():
        if k < 0:  # the sentinels'
            continue
        # FRAME's far corners may be nearer to a sentinel, 8 spans away or more, but not what a housing spans
        ours, plain = area_of(grounds, edges), nearest_region(points, k)
        assert ours.symmetric_difference(plain).area < 1e-6 * FRAME.area


@few
@given(seed=st.integers(0, 10_000), n=st.integers(2, 40), n_owners=st.integers(1, 5))
def test_owners_share_the_plane_without_overlap(seed, n, n_owners):
    points = scattered(seed, n)
    owners = np.random.default_rng(seed).integers(0, n_owners, n)
    grounds = territories(points)
    borders = grounds.borders(owners)
    areas = {k: area_of(grounds, borders[k]) for k in set(owners.tolist())}
    assert sum(area.area for area in areas.values()) == pytest.approx(FRAME.area, rel=1e-6)
    for k, area in areas.items():
        assert shapely.contains_xy(area.buffer(1e-6), *points[owners == k].T).all()


def test_ridges_of_a_hexagonal_patch_have_the_length_of_a_hexagons_side():
    row, column = (axis.ravel() for axis in np.mgrid[:7, :7])
    points = 20.0 * np.column_stack([column + row % 2 / 2, row * math.sqrt(3) / 2])
    grounds = territories(points)
    middle = int(np.flatnonzero((row == 3) & (column == 3))[0])
    lengths = grounds.lengths_mm()[(grounds.pairs == middle).any(axis=1)]
    assert lengths == pytest.approx(np.full(6, 20.0 / math.sqrt(3)))  # derived: pitch over root three


@pytest.mark.parametrize("angle", [0.0, 0.1, 0.7, 2.0])
def test_square_lattices_meet_four_at_a_corner_without_stray_ridges(angle):
    row, column = (axis.ravel() for axis in np.mgrid[:5, :5])
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    grounds = territories(20.0 * np.column_stack([column, row]) @ turn + (1234.5, -987.6))
    assert grounds.lengths_mm().min() > 1.0
    (walk,) = grounds.walks(grounds.borders((column > 1).astype(int))[0])
    assert Contour(grounds.corners_mm[walk]).area_mm2 > 0


def test_an_island_is_a_hole_in_the_walks_of_what_surrounds_it():
    row, column = (axis.ravel() for axis in np.mgrid[:5, :5])
    owners = ((row == 2) & (column == 2)).astype(int)
    grounds = territories(20.0 * np.column_stack([column + row % 2 / 2, row * 0.9]).astype(float))
    borders = grounds.borders(owners)
    turns = sorted(math.copysign(1, Contour(grounds.corners_mm[walk]).area_mm2) for walk in grounds.walks(borders[0]))
    assert turns == [-1.0, 1.0]
    (island,) = grounds.walks(borders[1])
    assert Contour(grounds.corners_mm[island]).area_mm2 == pytest.approx(20.0 * 18.0, rel=1e-9)  # derived: pitch × row


def test_territories_that_touch_in_a_corner_come_as_separate_walks():
    grounds = territories(20.0 * np.array([[0, 0], [1, 0], [0, 1], [1, 1]], dtype=float))
    assert len(grounds.walks(grounds.borders(np.array([0, 1, 1, 0]))[0])) in (1, 2)  # joined far out, or not at all
    inner = 20.0 * np.column_stack([axis.ravel() for axis in np.mgrid[:4, :4]]).astype(float)
    owners = np.zeros(16, dtype=int)
    owners[[5, 10]] = 1  # two inner squares, corner to corner
    parts = [
        Contour(territories(inner).corners_mm[w])
        for w in territories(inner).walks(territories(inner).borders(owners)[1])
    ]
    assert sorted(part.area_mm2 for part in parts) == pytest.approx([400.0, 400.0])


@few
@given(seed=st.integers(0, 1000), dx=st.floats(-1e5, 1e5), dy=st.floats(-1e5, 1e5))
def test_moved_points_have_moved_territories(seed, dx, dy):
    points = scattered(seed, 9)
    lengths = []
    for moved in (points, points + (dx, dy)):
        grounds = territories(moved)
        is_inner = (grounds.pairs < len(points)).all(axis=1)
        near = np.abs(grounds.corners_mm - moved.mean(axis=0)).max(axis=1) < 300  # far corners hang on the sentinels
        lengths.append(np.sort(grounds.lengths_mm()[is_inner & near[grounds.ridges].all(axis=1)]))
    assert lengths[1] == pytest.approx(lengths[0], abs=1e-6)
