"""Terminals with several tabs: metal, neck, current, checks, drawings and file."""

import math

import numpy as np
import pytest

from layout_app.edits import ChangeTerminal, SetHousing
from layout_app.exchange.face_views import mirrored_segment
from layout_app.exchange.hole_table import HoleTable
from layout_app.geometry.contours import Contour
from layout_app.model import saved_file
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.plates import MAX_TABS, Terminal
from layout_app.physics.currents import NetworkModel, SheetModel
from layout_app.plates.deriving import Plates
from layout_app.workings import Workings
from tests.plates.modules import INSIDE, banded, module

WIDTH_MM, LENGTH_MM = 20.0, 18.0
LEFT_MM = banded().housing.outline.bounds_mm[0]
LOW, HIGH = (LEFT_MM, 25.0), (LEFT_MM, 90.0)


def tabbed(*places_mm, **options):
    """Return a banded module whose negative terminal has outside tabs at the given places."""
    first, *more = places_mm
    terminal = Terminal(near_mm=first, more_near_mm=tuple(more), width_mm=WIDTH_MM, length_mm=LENGTH_MM)
    return banded(terminals=(terminal, INSIDE[1]), corner_radius_mm=0.0, **options)


def test_each_tab_adds_its_strip_and_its_hole():
    none = Plates(banded(corner_radius_mm=0.0)).segments[0].pieces[0].area_mm2
    segment = Plates(tabbed(LOW, HIGH)).segments[0]
    strip_mm2 = WIDTH_MM * (LENGTH_MM + 2.0)  # derived: from the setback of 2 mm to 18 mm beyond the wall
    assert len(segment.pieces) == 1
    assert segment.pieces[0].area_mm2 - none == pytest.approx(2 * strip_mm2, rel=1e-6)
    heights = [y_mm for _, y_mm, _ in segment.bolt_holes_mm]
    assert heights == pytest.approx([25.0, 90.0], abs=0.6)  # the wall is searched in steps of a millimetre
    assert len(segment.circles_mm) == len(segment.windows_mm) + 2


def test_the_order_of_the_places_changes_nothing_but_the_order_of_the_holes():
    one, other = (Plates(tabbed(*places)).segments[0] for places in ((LOW, HIGH), (HIGH, LOW)))
    assert one.bolt_holes_mm == other.bolt_holes_mm[::-1]
    assert one.area_mm2 == pytest.approx(other.area_mm2, rel=1e-12)


@pytest.mark.parametrize("place", ["outside", "inside"])
def test_a_second_tab_lowers_the_resistance_at_the_terminals(place):
    """Law: joining one more place of a network to a terminal never raises its resistance (Rayleigh's monotonicity).
    Both models agree, as they do with one tab, to 10 %."""
    layout = banded(terminals=(Terminal(near_mm=LOW, place=place), INSIDE[1]))
    both = ChangeTerminal(False, {"more_near_mm": (HIGH,)}).apply(layout)
    loss = {}
    for model in (NetworkModel, SheetModel):
        one, two = (model(Plates(each)).solve(60.0).solved for each in (layout, both))
        assert two.terminal_resistance_ohm < one.terminal_resistance_ohm
        loss[model] = two.segment_loss_w[0]
    assert loss[NetworkModel] == pytest.approx(loss[SheetModel], rel=0.10)


def test_tabs_at_mirrored_places_feed_mirrored_cells_alike():
    """Law: a module that is its own mirror image, fed at places that are mirrored, carries mirrored currents.

    Bonds all point one way and tabs stand on a grid of a millimetre, so it is nearly its own image; with one of the
    tabs alone it is not.
    """
    rows, pitch_mm = 6, 22.5
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(2) * pitch_mm, np.arange(rows) * pitch_mm))
    outline = Contour.rectangle(pitch_mm + 24.0, (rows - 1) * pitch_mm + 24.0).moved(-12.0, -12.0)
    middle_mm = (rows - 1) * pitch_mm / 2
    low, high = ((-12.0, middle_mm - 32.0), (-12.0, middle_mm + 32.0))
    uneven = []
    for more in ((), (high,)):
        terminals = (Terminal(near_mm=low, more_near_mm=more, width_mm=15.0), Terminal(width_mm=100.0))
        layout = module(
            np.column_stack([x, y]), np.ones(len(x), dtype=int), outline, terminals=terminals, thickness_mm=0.1
        )
        flow = NetworkModel(Plates(layout)).solve(40.0).solved.cell_current_a.reshape(rows, 2)
        uneven.append(np.abs(flow - flow[::-1]).max())
    assert uneven[1] < uneven[0] / 10


def test_overlapping_tabs_are_an_error_that_names_both_places():
    near = (LEFT_MM, 35.0)
    said = [f for f in Workings(tabbed(LOW, near)).metal_findings if "overlap" in f.message]
    assert [finding.severity for finding in said] == ["error"]
    assert said[0].measured == pytest.approx(10.0, abs=1.1)
    assert said[0].limit == WIDTH_MM
    assert not [f for f in Workings(tabbed(LOW, HIGH)).metal_findings if "overlap" in f.message]


def test_every_hole_is_checked():
    """A hole as wide as its tab leaves no margin, at whichever tab."""
    tight = Terminal(near_mm=LOW, more_near_mm=(HIGH,), width_mm=10.0, length_mm=LENGTH_MM, bolt="M8")
    layout = banded(terminals=(tight, INSIDE[1]))
    said = [f for f in Workings(layout).metal_findings if f.rule == "terminal" and f.segments == (0,)]
    assert sorted(f.places_mm[0][1] for f in said if "beside the bolt hole" in f.message) == pytest.approx(
        [25.0, 90.0], abs=0.6
    )
    assert not [f for f in Workings(layout).metal_findings if f.rule == "setback"]  # both tabs may pass the wall


def test_views_from_below_and_tables_of_holes_have_all_of_them():
    segment = Plates(tabbed(LOW, HIGH)).segments[0]
    mirrored = mirrored_segment(segment, 10.0)
    assert [x for x, _, _ in mirrored.bolt_holes_mm] == pytest.approx([20.0 - x for x, _, _ in segment.bolt_holes_mm])
    ends = HoleTable.of([segment]).columns()[-1]
    assert ends.count("- bolt") == 2


def test_a_layout_keeps_its_tabs_in_the_file_and_one_without_writes_nothing_of_them(tmp_path):
    layout = tabbed(LOW, HIGH)
    path = tmp_path / "two.busweave"
    saved_file.save(layout, path)
    assert saved_file.load(path) == layout
    saved_file.save(tabbed(LOW), tmp_path / "one.busweave")
    assert "more_near_mm" in path.read_text(encoding="utf-8")
    assert "more_near_mm" not in (tmp_path / "one.busweave").read_text(encoding="utf-8")


def test_another_housing_forgets_all_places():
    layout = tabbed(LOW, HIGH)
    x0, y0, x1, y1 = layout.housing.outline.bounds_mm
    wider = Housing(outline=Contour.rectangle(x1 - x0 + 40, y1 - y0 + 40).moved(x0, y0), wall_clearance_mm=1.0)
    assert SetHousing(wider).apply(layout).terminals[0].places_mm == (None,)


@pytest.mark.parametrize("places", [((math.nan, 0.0),), ((0.0,),), tuple((float(k), 0.0) for k in range(MAX_TABS))])
def test_places_that_are_none_and_too_many_tabs_are_refused(places):
    with pytest.raises(LayoutError, match="further tab"):
        Terminal(more_near_mm=places)
