"""Terminal rules: hole, margin, windows, cells, and the tab's leave to pass the wall."""

from dataclasses import replace

import pytest

from layout_app.checks import metal, terminals
from layout_app.model.limits import Limits
from layout_app.model.plates import Terminal


def only(findings):
    """Return the single finding of a rule."""
    (finding,) = list(findings)
    return finding


@pytest.fixture
def module(bench):
    """One group of two cells at (0, 0) and (22, 0); the wall is at x = -50."""
    return bench.lay([(0, 0), (22, 0)], n_parallel=2)


def tabbed(bench, x_mm, width_mm=20.0, hole_mm=(-60.0, 0.0, 2.75), **more):
    """Return segment 0: a plate over the cells and a tab of the given width that reaches out to x."""
    strip = bench.rectangle(x_mm, -width_mm / 2, -40 - x_mm, width_mm)
    plate = bench.rectangle(-40, -11, 73, 22)
    union = strip.polygon().union(plate.polygon())
    points = list(union.exterior.coords)[:-1]
    from layout_app.geometry.contours import Contour
    from layout_app.geometry.regions import Region

    region = Region(Contour(points).counter_clockwise())
    return bench.metal([region], [(0, 0, 5), (22, 0, 5)], number=0, face="bottom", bolt_hole_mm=hole_mm, **more)


def test_a_tab_may_pass_the_wall_and_nothing_else(bench, module):
    assert not list(metal.setback(tabbed(bench, -68.0), module))
    no_hole = replace(tabbed(bench, -68.0), bolt_hole_mm=None)
    assert list(metal.setback(no_hole, module))


def test_metal_beside_the_tab_still_has_to_keep_the_setback(bench, module):
    wide = tabbed(bench, -68.0, width_mm=30.0)  # the terminal is 20 mm wide, its corners are rounded by 1 mm
    finding = only(metal.setback(wide, module))
    assert finding.measured == 0
    assert len(finding.places_mm) == 2  # above and below the tab


def test_a_terminal_inside_gives_no_leave_to_pass_the_wall(bench, module):
    inside = replace(module, terminals=(Terminal(place="inside"), Terminal()))
    assert list(metal.setback(tabbed(bench, -68.0), inside))


def test_a_terminal_segment_without_a_bolt_hole_is_an_error_and_others_need_none(bench, module):
    bare = bench.metal([bench.rectangle(0, 0, 40, 20)], number=0)
    assert only(terminals.terminal_missing(bare, module)).severity == "error"
    chain = replace(module, n_series=2)
    assert not list(terminals.terminal_missing(replace(bare, number=1), chain))
    assert list(terminals.terminal_missing(replace(bare, number=2), chain))


def test_metal_beside_a_bolt_hole_follows_the_narrowest_bars_of_din_43673(bench, module):
    # DIN 43673 (read second hand): a 12 mm bar takes M5 through 5.5 mm, which leaves 3.25 mm beside the hole
    narrow = tabbed(bench, -75.0, width_mm=12.0)
    assert not list(terminals.bolt_margin(narrow, module))
    finding = only(terminals.bolt_margin(tabbed(bench, -75.0, width_mm=11.0), module))
    assert finding.severity == "warning"
    assert finding.measured == pytest.approx(2.75)
    assert finding.limit == pytest.approx(0.59 * 5.5)
    assert not list(terminals.bolt_margin(narrow, replace(module, limits=Limits(bolt_margin_per_hole=0.5))))


def test_a_bolt_hole_that_leaves_the_metal_is_an_error(bench, module):
    assert only(terminals.bolt_margin(tabbed(bench, -61.0), module)).severity == "error"
    outside = tabbed(bench, -68.0, hole_mm=(-80.0, 0.0, 2.75))
    assert only(terminals.bolt_margin(outside, module)).measured == pytest.approx(-14.75)


def test_a_bolt_hole_keeps_a_web_to_windows(bench, module):
    # the window over cell 1 reaches to x = -5; a hole of radius 2.75 at -8.75 leaves exactly 1.0 mm
    assert not list(terminals.bolt_beside_window(tabbed(bench, -68.0, hole_mm=(-8.75, 0.0, 2.75)), module))
    close = only(terminals.bolt_beside_window(tabbed(bench, -68.0, hole_mm=(-8.25, 0.0, 2.75)), module))
    assert (close.severity, close.cells) == ("warning", (0,))
    assert close.measured == pytest.approx(0.5)
    assert only(terminals.bolt_beside_window(tabbed(bench, -68.0, hole_mm=(0, 0, 2.75)), module)).severity == "error"


def test_a_bolt_hole_over_a_cell_warns_and_one_beside_it_does_not(bench, module):
    finding = only(terminals.bolt_over_cell(tabbed(bench, -68.0, hole_mm=(-8.75, 0.0, 2.75)), module))
    assert finding.severity == "warning"
    assert finding.cells == (0,)
    assert finding.measured == pytest.approx(8.75 - 10.5 - 2.75)
    assert not list(terminals.bolt_over_cell(tabbed(bench, -68.0, hole_mm=(-13.25, 0.0, 2.75)), module))
