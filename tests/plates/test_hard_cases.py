"""Segments where housings, tabs and radii make it hard: gap and setback hold, every piece stays a valid polygon."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from layout_app.geometry.contours import Contour
from layout_app.model.overrides import SegmentOverride
from layout_app.model.plates import Terminal
from layout_app.plates.deriving import Plates
from tests.plates.modules import PITCH_MM, banded, hexagonal, module

FINE_MM = 1e-4  # a tenth of the micrometre asked for
MICROMETRE = 1e-3


def oval(n_arcs, scale=1.0):
    """Return an ellipse-like wall as n tangent arcs, as a reader makes of a spline: biarc by biarc, nearly alike.

    Source: derived. A four-centred oval's quarter, cut into arcs whose radii grow by a little from one to the next.
    """
    angles = np.linspace(0, 2 * math.pi, n_arcs + 1)
    radii = scale * (60 + 100 * np.abs(np.sin((angles[:-1] + angles[1:]) / 2)) ** 2)  # small at the ends, large between
    steps = radii[:, None] * np.column_stack(
        [np.sin(angles[1:]) - np.sin(angles[:-1]), np.cos(angles[:-1]) - np.cos(angles[1:])]
    )
    # symmetric radii close the loop: what one half goes, the other comes back
    points = np.cumsum(np.vstack([[0.0, 0.0], steps]), axis=0)[:-1]
    return Contour(points, np.full(n_arcs, math.tan(2 * math.pi / n_arcs / 4)))


def filled(outline, n_series=4, keep_outs=(), edge_mm=11.5, **options):
    """Return a module of as many cells as fall into an outline, in bands along x."""
    x_min, y_min, x_max, y_max = outline.bounds_mm
    n_columns, n_rows = int((x_max - x_min) / PITCH_MM) + 2, int((y_max - y_min) / PITCH_MM * 1.16) + 2
    sites = hexagonal(n_columns, n_rows)[0] + (x_min + edge_mm, y_min + edge_mm)
    room = outline.polygon(0.01).buffer(-edge_mm)
    for loop in keep_outs:
        room = room.difference(loop.polygon(0.01).buffer(edge_mm))
    sites = sites[shapely.contains_xy(room, *sites.T)]
    groups = np.argsort(np.argsort(sites[:, 0] + 1e-3 * sites[:, 1])) * n_series // len(sites) + 1
    return module(sites, groups, outline, keep_outs=keep_outs, **options)


def solid(segment):
    return shapely.multipolygons([piece.polygon(FINE_MM) for piece in segment.pieces])


def hold_to_the_laws(layout, *, setback=True):
    """Assert that metal is valid, a gap apart, and (but for tabs outside) inside the setback."""
    segments = [segment for segment in Plates(layout).segments if segment.pieces]
    metal = {segment.number: solid(segment) for segment in segments}
    assert all(piece.polygon(FINE_MM).is_valid for segment in segments for piece in segment.pieces)
    for one, other in combinations(segments, 2):
        if one.face == other.face:
            apart_mm = metal[one.number].distance(metal[other.number])
            assert apart_mm >= layout.plates.gap_mm - MICROMETRE, (one.number, other.number)
    wall = layout.housing.outline.polygon(FINE_MM)
    if setback:
        for segment in segments:
            assert metal[segment.number].difference(wall.buffer(2 * MICROMETRE)).is_empty
            assert metal[segment.number].distance(wall.exterior) >= layout.plates.setback_mm - 2 * MICROMETRE
    return metal


@pytest.mark.parametrize("borders", ["zigzag", "straight"])
@pytest.mark.parametrize("n_arcs", [24, 60, 120])
def test_a_wall_of_many_nearly_equal_arcs_gives_sound_metal(n_arcs, borders):
    hold_to_the_laws(filled(oval(n_arcs), borders=borders))


def test_vertices_at_a_wall_of_many_arcs_lie_on_the_parallel_curve():
    layout = filled(oval(60), n_series=1, corner_radius_mm=0.0)
    wall = shapely.LinearRing(layout.housing.outline.flattened(FINE_MM))
    for segment in Plates(layout).segments:
        vertices = segment.pieces[0].outline.flattened(1e-3)
        off_mm = np.abs(shapely.distance(wall, shapely.points(vertices)) - layout.plates.setback_mm)
        assert off_mm.max() < 0.005  # what a drawing may be off (issue: no vertex further from the exact contour)


def test_a_module_far_from_the_origin_is_no_different():
    outline = oval(60)
    metal = hold_to_the_laws(filled(outline))
    there = hold_to_the_laws(filled(outline.moved(1e5, -1e5)))
    assert {k: m.area for k, m in there.items()} == pytest.approx({k: m.area for k, m in metal.items()}, rel=1e-5)


@pytest.mark.parametrize("near_mm", [(100.0, -20.0), (90.0, 200.0), (88.0, -20.0)])
@pytest.mark.parametrize("setback_mm", [0.0, 0.5, 2.0])
def test_a_tab_wider_than_its_segments_wall_keeps_the_gap_to_the_neighbours(setback_mm, near_mm):
    tab = Terminal(near_mm=near_mm, width_mm=60.0)
    layout = banded(n_columns=12, n_series=12, terminals=(tab, tab), setback_mm=setback_mm)
    hold_to_the_laws(layout, setback=False)


def test_a_tab_keeps_the_setback_to_a_keep_out_it_is_put_beside():
    boss = Contour.circle(60.0, -8.0, 4.0)
    tab = Terminal(near_mm=(60.0, -30.0), width_mm=20.0)
    layout = banded(n_series=2, keep_outs=[boss], terminals=(tab, Terminal()))
    metal = hold_to_the_laws(layout, setback=False)
    assert metal[0].distance(boss.polygon(FINE_MM)) >= layout.plates.setback_mm - MICROMETRE


@pytest.mark.parametrize("corner_radius_mm", [1.0, 5.0])
def test_without_a_setback_no_arc_reaches_into_the_wall(corner_radius_mm):
    teeth = [(k * 10.0, -3.0 * (k % 2)) for k in range(24)]
    sawtooth = Contour([*teeth, (240.0, 0.0), (240.0, 140.0), (0.0, 140.0)])
    hold_to_the_laws(filled(sawtooth, setback_mm=0.0, corner_radius_mm=corner_radius_mm))


@pytest.mark.parametrize("radius_mm", [2.0, 5.0, 8.0])
def test_wide_arcs_on_short_borders_keep_the_gap(radius_mm):
    for gap_mm in (0.2, 1.5, 6.0):
        points, row, column = hexagonal(10, 6)
        groups = (column + row % 3) // 4 + 1  # stepped borders, whose edges are short for the radius
        layout = module(points, groups, banded(n_columns=10, n_rows=6).housing.outline, gap_mm=gap_mm)
        layout = replace(layout, plates=replace(layout.plates, corner_radius_mm=radius_mm))
        hold_to_the_laws(layout)


def test_a_segment_rounder_than_its_neighbours_keeps_the_gap():
    layout = replace(banded(), overrides=(SegmentOverride(segment=3, corner_radius_mm=5.0),))
    hold_to_the_laws(layout)


def test_a_tab_wider_than_the_whole_wall_is_long_is_no_crash():
    layout = module([(0.0, 0.0)], [1], Contour.circle(0, 0, 11.6), terminals=(Terminal(width_mm=400.0), Terminal()))
    hold_to_the_laws(layout, setback=False)


def test_a_fine_step_in_the_wall_shows_in_the_metal_to_a_few_micrometres():
    # 0.02 mm steps, as joints in a drawing leave them; buffers take a hundredth of the distance for noise
    steps = [(0.0, 0.0), (100.0, 0.0), (100.0, 0.02), (220.0, 0.02), (220.0, 130.0), (0.0, 130.0)]
    layout = filled(Contour(steps), n_series=1, corner_radius_mm=0.0)
    outline = Plates(layout).segments[0].pieces[0].outline
    y_mm = outline.vertices_mm[:, 1]
    assert np.abs(y_mm[(y_mm < 50) & (outline.vertices_mm[:, 0] > 110)] - 2.02).max() < 0.005
