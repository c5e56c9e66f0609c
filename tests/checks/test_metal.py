"""Metal rules on hand-made segments whose distances are plain to see."""

from dataclasses import replace

import pytest

from layout_app.checks import faces, metal, windows
from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region
from layout_app.model.housings import Housing
from layout_app.model.limits import Limits
from layout_app.model.overrides import SegmentOverride
from layout_app.plates.deriving import Plates


def only(findings):
    """Return the single finding of a rule."""
    (finding,) = list(findings)
    return finding


def plates(layout, **changes):
    """Return the layout with other plate settings."""
    return replace(layout, plates=replace(layout.plates, **changes))


@pytest.fixture
def pair(bench):
    """Two groups of two cells, 22 mm apart."""
    return bench.lay([(0, 0), (22, 0), (0, 22), (22, 22)], [1, 1, 2, 2], n_series=2, n_parallel=2)


@pytest.fixture
def plate(bench):
    """A segment of 44 × 44 mm over the four cells of `pair`, its edge 11 mm from their middles."""

    def make(radius_mm=5.0, pieces=None, **more):
        circles = [(x, y, radius_mm) for y in (0, 22) for x in (0, 22)]
        return bench.metal(pieces or [bench.rectangle(-11, -11, 44, 44)], circles, **more)

    return make


def test_a_sound_segment_has_nothing_to_report(pair, plate):
    rules = (metal.missing, metal.in_pieces, metal.setback, metal.web_between_windows, metal.web_to_edge)
    assert [finding for rule in rules for finding in rule(plate(), pair)] == []


def test_a_segment_without_cells_says_which_groups_are_empty(bench, pair):
    finding = only(metal.missing(bench.metal([], number=1), pair))
    assert finding.severity == "error"
    assert finding.segments == (1,)
    assert "group 1 or 2" in finding.message
    assert "group 2. Put" in only(metal.missing(bench.metal([], number=2), pair)).message  # the last one has one group


def test_a_segment_whose_cells_leave_no_metal_blames_the_settings(bench, pair):
    finding = only(metal.missing(bench.metal([], [(0, 0, 5)]), pair))
    assert "setback, gap and corner radius" in finding.message
    assert finding.cells == (0,)


def test_a_segment_in_two_pieces_points_at_the_smaller_one_and_its_cells(bench, pair, plate):
    halves = [bench.rectangle(-11, -11, 44, 20), bench.rectangle(-11, 11, 44, 22)]
    finding = only(metal.in_pieces(plate(pieces=halves), pair))
    assert finding.severity == "error"
    assert finding.measured == 2
    assert finding.cells == (0, 1)
    (place,) = finding.places_mm
    assert -11 < place[1] < 9


def test_webs_between_windows_are_measured_edge_to_edge(pair, plate):
    # windows of radius 10.6 on a 22 mm pitch leave 0.8 mm; radius 10.5 leaves the 1.0 mm asked for
    finding = only(metal.web_between_windows(plate(radius_mm=10.6), pair))
    assert finding.severity == "warning"
    assert finding.measured == pytest.approx(0.8)
    assert finding.limit == 1.0
    assert len(finding.places_mm) == 4
    assert (11.0, 0.0) in finding.places_mm
    assert not list(metal.web_between_windows(plate(radius_mm=10.5), pair))


def test_windows_that_meet_are_an_error(pair, plate):
    finding = only(metal.web_between_windows(plate(radius_mm=11.5), pair))
    assert finding.severity == "error"
    assert finding.measured == pytest.approx(-1.0)


def test_webs_to_the_edge_are_measured_too(pair, plate):
    finding = only(metal.web_to_edge(plate(radius_mm=10.2), pair))
    assert finding.measured == pytest.approx(0.8)
    assert finding.cells == (0, 1, 2, 3)
    assert not list(metal.web_to_edge(plate(radius_mm=10.0), pair))


def test_a_window_off_the_metal_is_an_error_however_far_it_lies(bench, pair):
    far = bench.metal([bench.rectangle(-11, -11, 44, 44)], [(0, 0, 5), (100, 0, 5)])
    finding = only(metal.web_to_edge(far, pair))
    assert finding.severity == "error"
    assert finding.measured == pytest.approx(-72.0)  # 67 mm off the edge and its radius
    assert finding.cells == (1,)


def test_holes_for_keep_outs_are_edges_as_well(bench, pair):
    square = Contour.rectangle(4.0, 4.0).moved(5.9, -2.0)
    ring = Region(Contour.rectangle(44.0, 44.0).moved(-11, -11), (square,))
    finding = only(metal.web_to_edge(bench.metal([ring], [(0, 0, 5)]), pair))
    assert finding.measured == pytest.approx(0.9)


def test_a_thick_sheet_asks_for_a_wider_web(pair, plate):
    thick = replace(plate(radius_mm=10.4), thickness_mm=1.5)  # 1.2 mm web; laser-cut sheet: web of the thickness
    finding = only(metal.web_between_windows(thick, pair))
    assert (finding.measured, finding.limit) == (pytest.approx(1.2), 1.5)
    assert "thickness" in finding.source
    looser = replace(pair, limits=Limits(web_per_thickness=0.7))
    assert not list(metal.web_between_windows(thick, looser))


def test_metal_near_the_wall_breaks_the_setback(bench, pair):
    # the wall is at x = -50; metal that starts at -48.5 keeps 1.5 of the 2.0 mm asked for
    finding = only(metal.setback(bench.metal([bench.rectangle(-48.5, 0, 60, 10)]), pair))
    assert finding.severity == "error"
    assert finding.measured == pytest.approx(1.5, abs=1e-6)
    assert finding.limit == 2.0
    (place,) = finding.places_mm
    assert place[0] == pytest.approx(-49.25)
    assert not list(metal.setback(bench.metal([bench.rectangle(-48.0, 0, 60, 10)]), pair))


def test_each_place_too_near_the_wall_is_shown(bench, pair):
    arms = [bench.rectangle(-48.5, 0, 30, 5), bench.rectangle(-48.5, 20, 30, 5), bench.rectangle(-20, 0, 5, 25)]
    finding = only(metal.setback(bench.metal(arms), pair))
    assert len(finding.places_mm) == 2


def test_metal_across_or_outside_the_wall_breaks_the_setback(bench, pair):
    across = only(metal.setback(bench.metal([bench.rectangle(-60, 0, 60, 10)]), pair))
    assert across.measured == 0
    assert list(metal.setback(bench.metal([bench.rectangle(-90, 0, 20, 10)]), pair))


def test_metal_near_a_keep_out_breaks_the_setback(bench, pair):
    housing = Housing(
        outline=Contour.rectangle(400.0, 200.0).moved(-50.0, -50.0), keep_outs=(Contour.circle(100.0, 5.0, 4.0),)
    )
    layout = replace(pair, housing=housing)
    finding = only(metal.setback(bench.metal([bench.rectangle(0, 0, 95, 10)]), layout))
    assert finding.measured == pytest.approx(1.0, abs=0.002)  # the circle begins at x = 96
    assert "keep-out" in finding.message
    assert not list(metal.setback(bench.metal([bench.rectangle(0, 0, 94, 10)]), layout))


def own_keep_outs(layout, *loops, segment=1, **more):
    override = SegmentOverride(segment=segment, keep_outs=loops, **more)
    return replace(layout, overrides=(override,))


def test_metal_near_a_keep_out_of_its_own_breaks_the_setback(bench, pair):
    # a square boss from x = 96 on, with a corner cut off: any shape will do
    boss = Contour([(96.0, 0.0), (104.0, 0.0), (104.0, 8.0), (99.0, 8.0), (96.0, 5.0)])
    layout = own_keep_outs(pair, boss)
    near, clear = bench.metal([bench.rectangle(0, 0, 95, 10)]), bench.metal([bench.rectangle(0, 0, 94, 10)])
    finding = only(metal.setback(near, layout))
    assert finding.severity == "error"
    assert (finding.measured, finding.limit) == (pytest.approx(1.0), 2.0)
    assert "a keep-out of its own" in finding.message
    assert finding.places_mm[0][0] == pytest.approx(95.5)
    assert not list(metal.setback(clear, layout))
    assert not list(metal.setback(replace(near, number=0), layout))  # another segment does not keep off it


def test_the_setback_of_a_segment_holds_for_its_own_keep_outs(bench, pair):
    layout = own_keep_outs(pair, Contour.circle(100.0, 5.0, 4.0), setback_mm=0.5)
    assert not list(metal.setback(bench.metal([bench.rectangle(0, 0, 95, 10)]), layout))
    finding = only(metal.setback(bench.metal([bench.rectangle(0, 0, 97, 10)]), layout))
    assert (finding.measured, finding.limit) == (0.0, 0.5)


def test_a_keep_out_under_a_tab_is_no_place_for_metal_either(bench):
    # the tab leads through the wall at y = -50 over a boss of its own segment just inside it
    layout = bench.lay([(0, 0), (22, 0)], [1, 1])
    bolted = bench.metal([bench.rectangle(-10, -60, 20, 60)], number=0, bolt_hole_mm=(0.0, -57.0, 2.75))
    assert not list(metal.setback(bolted, layout))
    finding = only(metal.setback(bolted, own_keep_outs(layout, Contour.circle(0.0, -47.0, 2.0), segment=0)))
    assert "its own" in finding.message


def test_derived_metal_keeps_its_setback_to_keep_outs_of_its_own(pair):
    boss = Contour.rectangle(6.0, 3.0).moved(8.0, 9.0)
    layout = own_keep_outs(pair, boss, segment=1)
    segment = Plates(layout).segments[1]
    assert segment.area_mm2 < Plates(pair).segments[1].area_mm2 - 6 * 3
    assert not list(metal.setback(segment, layout))
    assert list(metal.setback(Plates(pair).segments[1], layout))  # made without: the boss lies in it


def test_segments_nearer_than_the_insulation_gap_are_an_error(bench, pair):
    left = bench.metal([bench.rectangle(0, 0, 20, 20)], number=0)
    right = bench.metal([bench.rectangle(21.2, 0, 20, 20)], number=2)
    finding = only(faces.insulation_gap(left, right, pair))
    assert finding.severity == "error"
    assert finding.measured == pytest.approx(1.2)
    assert finding.limit == 1.5
    assert finding.segments == (0, 2)
    assert finding.places_mm[0][0] == pytest.approx(20.6)


def test_segments_at_the_insulation_gap_are_silent_in_any_direction(bench, pair):
    left = bench.metal([bench.rectangle(0, 0, 20, 20)])
    for x, y in ((21.5, 0), (0, 21.5), (20 + 0.9, 20 + 1.2)):  # 0.9, 1.2 and 1.5 make a right triangle
        assert not list(faces.insulation_gap(left, bench.metal([bench.rectangle(x, y, 20, 20)]), pair))


def test_touching_segments_are_called_a_short_circuit(bench, pair):
    left, right = bench.metal([bench.rectangle(0, 0, 20, 20)]), bench.metal([bench.rectangle(19, 5, 20, 20)])
    finding = only(faces.insulation_gap(left, right, pair))
    assert finding.measured == 0
    assert "short circuit" in finding.message


def test_a_positive_window_must_end_short_of_the_shoulder_ring(pair, plate):
    # shoulder ring of 13 mm inside, clearance 0.5 mm in plan: 12 mm is the widest window
    finding = only(windows.positive_windows(plate(radius_mm=6.2), pair))
    assert finding.severity == "error"
    assert (finding.measured, finding.limit) == (pytest.approx(12.4), 12.0)
    assert finding.cells == (0, 1, 2, 3)
    assert not list(windows.positive_windows(plate(radius_mm=6.0), pair))


def test_a_positive_window_beside_its_cell_opens_further_on_one_side(bench, pair):
    finding = only(windows.positive_windows(bench.metal([bench.rectangle(-11, -11, 44, 44)], [(0.5, 0, 6.0)]), pair))
    assert finding.measured == pytest.approx(13.0)


def test_a_negative_window_must_not_pass_its_can(pair, plate):
    finding = only(windows.negative_windows(plate(radius_mm=10.75, positive=False), pair))
    assert (finding.measured, finding.limit) == (pytest.approx(21.5), 21.0)
    assert not list(windows.negative_windows(plate(radius_mm=10.5, positive=False), pair))


def test_each_window_is_judged_by_the_end_it_lies_over(pair, plate):
    mixed = plate(radius_mm=7.0, positive=[True, False, True, False])
    assert only(windows.positive_windows(mixed, pair)).cells == (0, 2)
    assert not list(windows.negative_windows(mixed, pair))
