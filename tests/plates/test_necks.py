"""Necks: the narrowest line across a segment, against closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.lattices import Lattice
from layout_app.model.plates import Terminal
from layout_app.plates.deriving import Plates
from layout_app.plates.necks import Neck
from layout_app.plates.windows import negative_window_mm, positive_window_mm
from tests.plates.modules import PITCH_MM, banded, hexagonal, module

EDGE_MM = 11.5
GATES = 0.01  # of the length: what points on gates leave


def squares(n_columns, n_rows, n_series, **options):
    """Return a module on a square lattice whose groups are bands of columns, in a rectangle."""
    row, column = (axis.ravel() for axis in np.mgrid[:n_rows, :n_columns])
    points = PITCH_MM * np.column_stack([column, row]).astype(float)
    width, height = ((n - 1) * PITCH_MM + 2 * EDGE_MM for n in (n_columns, n_rows))
    outline = Contour.rectangle(width, height).moved(-EDGE_MM, -EDGE_MM)
    groups = column * n_series // n_columns + 1
    return module(points, groups, outline, lattice=Lattice.square(PITCH_MM), **options)


@pytest.mark.parametrize("n_rows", [1, 2, 5])
def test_a_square_border_is_crossed_straight_from_edge_to_edge(n_rows):
    layout = squares(4, n_rows, 2)
    neck = Plates(layout).necks[1]
    # derived: nothing is in the way between the columns, so the shortest line runs straight from setback to setback
    assert neck.width_mm == pytest.approx(n_rows * PITCH_MM - PITCH_MM + 2 * (EDGE_MM - layout.plates.setback_mm))
    (line,) = neck.lines_mm
    assert (line[0, 1] < 0) != (line[-1, 1] < 0)


def test_a_border_of_two_cells_is_crossed_from_one_side_to_the_other():
    outline = Contour.rectangle(60.0, 50.0).moved(-18.75, -20.0)
    layout = module([(0.0, 0.0), (PITCH_MM, 0.0)], [1, 2], outline)
    neck = Plates(layout).necks[1]
    assert neck.width_mm == pytest.approx(
        50.0 - 2 * layout.plates.setback_mm
    )  # derived: nearer to one wall all the same


def test_a_hexagonal_border_is_crossed_zigzag_no_shorter_than_straight():
    layout = banded(n_columns=8, n_rows=7, n_series=2)
    height_mm = 6 * PITCH_MM * math.sqrt(3) / 2 + 2 * (EDGE_MM - layout.plates.setback_mm)
    width_mm = Plates(layout).necks[1].width_mm
    # derived: never shorter than straight up; never longer than through the middles of the gates, each halfway between
    # windows, a quarter pitch to the side from row to row
    r_pos, r_neg = positive_window_mm(layout) / 2, negative_window_mm(layout) / 2
    step = PITCH_MM * math.sqrt(3) / 4
    through_middles = 11 * math.hypot(step, PITCH_MM / 4 + abs(r_neg - r_pos) / 2) + 2 * EDGE_MM
    assert height_mm < width_mm < max(through_middles, height_mm * 1.3)


def test_a_keep_out_in_the_border_takes_its_width_and_two_setbacks_from_the_neck():
    plain = squares(6, 7, 2)
    x_mm, y_mm, radius_mm = 2.5 * PITCH_MM, 3 * PITCH_MM, 4.0
    layout = squares(6, 7, 2, keep_outs=[Contour.circle(x_mm, y_mm, radius_mm)])
    keep = np.hypot(*(layout.cells.centres_mm - (x_mm, y_mm)).T) > 10.5 + radius_mm
    assert keep.sum() >= len(keep) - 2
    layout = replace(layout, cells=type(layout.cells)(layout.cells.centres_mm[keep], layout.cells.groups[keep]))
    less_mm = Plates(plain).necks[1].width_mm - Plates(layout).necks[1].width_mm
    assert less_mm >= 2 * (radius_mm + layout.plates.setback_mm) * (1 - GATES)


def test_groups_that_touch_in_two_places_have_a_neck_of_two_stretches():
    """A wall right through the middle of the border leaves one stretch below it and one above."""
    rib = Contour.rectangle(60.0, 2.0).moved(2.5 * PITCH_MM - 30, 3.5 * PITCH_MM - 1)
    layout = squares(6, 8, 2, keep_outs=[rib])
    neck = Plates(layout).necks[1]
    assert len(neck.lines_mm) == 2
    setback_mm = layout.plates.setback_mm
    # derived: the whole height less the rib and its two setbacks
    height_mm = 7 * PITCH_MM + 2 * (EDGE_MM - setback_mm)
    assert neck.width_mm == pytest.approx(height_mm - 2.0 - 2 * setback_mm, rel=GATES)


@settings(max_examples=15, deadline=None)
@given(angle=st.floats(0, 6.28), dx=st.floats(-500, 500), mirrored=st.booleans())
def test_a_turned_moved_or_mirrored_module_has_the_same_necks(angle, dx, mirrored):
    layout = banded(n_columns=6, n_rows=5, n_series=3)
    sign = -1.0 if mirrored else 1.0
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    outline = layout.housing.outline.mirrored() if mirrored else layout.housing.outline
    there = module(
        (layout.cells.centres_mm * (sign, 1)) @ turn + (dx, 0),
        layout.cells.groups,
        outline.turned(angle).moved(dx, 0),
        lattice=Lattice.hexagonal(PITCH_MM, angle_rad=angle),
    )
    widths = [[neck.width_mm for neck in Plates(each).necks[1:-1]] for each in (layout, there)]
    assert widths[1] == pytest.approx(widths[0], rel=1e-6)
    areas = [[segment.area_mm2 for segment in Plates(each).segments[1:-1]] for each in (layout, there)]
    assert areas[1] == pytest.approx(areas[0], rel=1e-6)


@pytest.mark.parametrize("width_mm", [10.0, 20.0, 30.0])
def test_the_neck_of_a_terminal_is_as_wide_as_its_tab(width_mm):
    layout = squares(4, 5, 2, terminals=(Terminal(width_mm=width_mm), Terminal(width_mm=width_mm)))
    necks = Plates(layout).necks
    assert necks[0].width_mm == pytest.approx(width_mm, rel=1e-3)
    assert necks[2].width_mm == pytest.approx(width_mm, rel=1e-3)


def test_density_is_current_over_width_and_thickness():
    neck = Neck(segment=1, width_mm=16.0, lines_mm=())
    assert neck.density_a_mm2(80.0, 0.5) == 10.0  # derived: 80 A / (16 mm × 0.5 mm)
    assert Neck(segment=1, width_mm=0.0, lines_mm=()).density_a_mm2(80.0, 0.5) == math.inf


def test_groups_apart_have_a_neck_of_no_width():
    points, _, column = hexagonal(9, 3)
    wall = Contour.rectangle(2.0, 400.0).moved(4 * PITCH_MM + 8.5, -100.0)
    keep = np.abs(points[:, 0] - (4 * PITCH_MM + 9.5)) > 10.5 + 1.0
    layout = module(points[keep], column[keep] // 5 + 1, banded(9, 3).housing.outline, keep_outs=[wall])
    neck = Plates(layout).necks[1]
    assert neck.width_mm == 0.0
    assert neck.place_mm is None


def test_necks_keep_no_metal_alive_that_was_made_anew():
    before = Plates(banded(n_columns=6, n_rows=3, n_series=3))
    assert all(before.necks)
    groups = before.layout.cells.groups.copy()
    groups[groups == 2] = 1
    groups[:3] = 2
    after = Plates(replace(before.layout, cells=before.layout.cells.regrouped(groups)), before)
    assert after.necks
    assert after.segments[1] is not before.segments[1]
    assert set(after._known_necks) == set(after.segments)
