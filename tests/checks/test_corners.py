"""Corners: every one tighter than the chosen radius is told, with its radius and place."""

from dataclasses import replace

import pytest

from layout_app.checks.corners import corner_radius
from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region


def chosen(bench, radius_mm):
    layout = bench.lay([(0, 0)])
    return replace(layout, plates=replace(layout.plates, corner_radius_mm=radius_mm))


def test_four_sharp_corners_are_told_with_their_places(bench):
    segment = bench.metal([bench.rectangle(-11, -11, 22, 22)])
    (finding,) = corner_radius(segment, chosen(bench, 1.0))
    assert (finding.measured, finding.limit, finding.unit) == (0.0, 1.0, "mm")
    assert set(finding.places_mm) == {(-11, -11), (11, -11), (11, 11), (-11, 11)}


@pytest.mark.parametrize(("wanted_mm", "n_findings"), [(0.9, 0), (1.0, 0), (1.1, 1)])
def test_arcs_are_held_to_the_radius(bench, wanted_mm, n_findings):
    segment = bench.metal([Region(Contour.rectangle(30.0, 20.0, 1.0))])
    found = list(corner_radius(segment, chosen(bench, wanted_mm)))
    assert len(found) == n_findings
    for finding in found:
        assert finding.measured == pytest.approx(1.0)
        # derived: the middle of an arc about (1, 1) lies 1 / √2 from the centre in both directions
        assert any(place == pytest.approx((1 - 0.5**0.5, 1 - 0.5**0.5)) for place in finding.places_mm)


def test_a_hole_counts_too(bench):
    hole = Contour.rectangle(4.0, 4.0).moved(10, 10)
    segment = bench.metal([Region(Contour.rectangle(30.0, 30.0, 2.0), (hole,))])
    (finding,) = corner_radius(segment, chosen(bench, 2.0))
    assert (10.0, 10.0) in finding.places_mm


def test_with_no_radius_chosen_every_corner_may_be_sharp(bench):
    assert not list(corner_radius(bench.metal([bench.rectangle(0, 0, 20, 20)]), chosen(bench, 0.0)))
