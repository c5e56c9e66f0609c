"""Cell rules: each trips by a known amount, and stays silent at its limit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout_app.checks import cells
from layout_app.checks.nearby import close_pairs
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.limits import Limits


def only(findings):
    """Return the single finding of a rule."""
    (finding,) = list(findings)
    return finding


def test_cans_that_overlap_are_found_with_their_distance_and_place(bench):
    finding = only(cells.overlap(bench.lay([(0.0, 0.0), (20.5, 0.0), (60.0, 0.0)])))
    assert finding.severity == "error"
    assert finding.cells == (0, 1)
    assert finding.measured == pytest.approx(20.5)  # 21 mm cans, middles 20.5 mm apart
    assert finding.limit == 21.0
    assert finding.places_mm == ((10.25, 0.0),)
    assert "0.50 mm" in finding.message


def test_cans_that_just_touch_do_not_overlap(bench):
    assert not list(cells.overlap(bench.lay(bench.row(5, pitch_mm=21.0))))


def test_two_cells_at_one_place_are_called_that_and_not_an_overlap(bench):
    layout = bench.lay([(0.0, 0.0), (0.1, 0.0), (40.0, 0.0)])
    finding = only(cells.same_place(layout))
    assert finding.cells == (0, 1)
    assert finding.measured == pytest.approx(0.1)
    assert not list(cells.overlap(layout))
    assert not list(cells.same_place(bench.lay(bench.row(3))))


def test_a_heap_of_cells_at_one_place_is_found_at_once(bench):
    heap = bench.lay(np.zeros((20_000, 2)))
    assert len(only(cells.same_place(heap)).cells) == 20_000


def test_a_gap_within_the_tolerance_of_the_cans_warns(bench):
    finding = only(cells.cell_gap(bench.lay(bench.row(2, pitch_mm=21.2))))  # two cans may each be 0.3 mm thicker
    assert finding.severity == "warning"
    assert finding.measured == pytest.approx(0.2)
    assert finding.limit == pytest.approx(0.3)


def test_a_small_gap_is_a_note_beside_what_is_common(bench):
    finding = only(cells.cell_gap(bench.lay(bench.row(3, pitch_mm=21.4))))
    assert finding.severity == "note"
    assert finding.measured == pytest.approx(0.4)
    assert finding.limit == 0.5
    assert "no source" in finding.source
    assert len(finding.places_mm) == 2


def test_a_gap_at_the_limit_says_nothing_and_the_limit_can_be_moved(bench):
    layout = bench.lay(bench.row(3, pitch_mm=21.5))
    assert not list(cells.cell_gap(layout))
    assert only(cells.cell_gap(replace(layout, limits=Limits(cell_gap_mm=1.0)))).measured == pytest.approx(0.5)


def test_a_can_too_near_the_wall_is_found(bench):
    # the wall is at x = -50; a can of 21 mm with its middle at -39 leaves 0.5 of the 1.0 mm asked for
    finding = only(cells.wall(bench.lay([(-39.0, 0.0), (0.0, 0.0)])))
    assert finding.severity == "error"
    assert finding.cells == (0,)
    assert finding.measured == pytest.approx(0.5)
    assert finding.limit == 1.0


def test_a_can_outside_the_housing_is_told_how_far_it_reaches_out(bench):
    finding = only(cells.wall(bench.lay([(-60.0, 0.0)])))
    assert finding.measured == pytest.approx(-20.5)  # 10 mm outside and a radius
    assert "20.50 mm into or past" in finding.message


def test_a_can_at_the_wall_clearance_is_silent_also_beside_an_arc(bench):
    assert not list(cells.wall(bench.lay([(-38.5, 0.0)])))
    canister = Housing(outline=Contour.circle(5000.0, 7000.0, 60.0))
    at_limit = (5000.0 + 60.0 - 1.0 - 10.5, 7000.0)
    assert not list(cells.wall(bench.lay([at_limit], housing=canister)))
    assert list(cells.wall(bench.lay([(at_limit[0] + 0.01, 7000.0)], housing=canister)))


def test_a_can_too_near_a_keep_out_is_found_and_one_at_the_clearance_is_not(bench):
    housing = Housing(
        outline=Contour.rectangle(400.0, 200.0).moved(-50.0, -50.0),
        keep_outs=(Contour.circle(100.0, 0.0, 5.0), Contour.circle(200.0, 0.0, 5.0)),
        keep_out_clearance_mm=2.0,
    )
    at_limit = 100.0 + 5.0 + 2.0 + 10.5
    assert not list(cells.keep_out(bench.lay([(at_limit, 0.0)], housing=housing)))
    finding = only(cells.keep_out(bench.lay([(at_limit - 0.3, 0.0), (200.0, 0.0)], housing=housing)))
    assert set(finding.cells) == {0, 1}
    assert finding.measured == pytest.approx(-15.5)  # the second stands in the middle of a post: 5 + 10.5 mm deep
    assert finding.limit == 2.0


def test_cells_in_no_group_are_listed_by_number(bench):
    finding = only(cells.unassigned(bench.lay(bench.row(4), [1, 0, 1, 0])))
    assert finding.severity == "warning"
    assert finding.cells == (1, 3)
    assert finding.message.startswith("Cells 2 and 4")
    assert finding.as_json()["cells"] == [2, 4]
    assert not list(cells.unassigned(bench.lay(bench.row(4))))


def test_an_empty_layout_has_no_cell_findings(bench):
    layout = bench.lay(np.empty((0, 2)))
    rules = (cells.same_place, cells.overlap, cells.cell_gap, cells.wall, cells.keep_out, cells.unassigned)
    assert [finding for rule in rules for finding in rule(layout)] == []


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    points=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=0, max_size=25, unique=True),
    within=st.integers(1, 12),
)
def test_close_pairs_are_those_a_look_at_all_pairs_finds_unless_cells_crowd(points, within):
    points = np.array(points, dtype=float).reshape(-1, 2)
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)) if len(points) else np.empty((0, 0))
    near = (apart < within) & ~np.eye(len(points), dtype=bool)
    pairs, distance = close_pairs(points, float(within))
    found = set(map(tuple, pairs.tolist()))
    everything = {(int(i), int(j)) for i, j in np.argwhere(np.triu(near))}
    assert found <= everything
    assert set(np.ravel(pairs).tolist()) == set(np.flatnonzero(near.any(axis=1)).tolist())
    if near.sum(axis=1).max(initial=0) <= 8:
        assert found == everything
    assert (np.diff(distance) >= 0).all()
