"""Stream lines: closed forms, the laws lines of equal current obey, and real segments they must not leave."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.model.errors import LayoutError
from layout_app.physics.contacts import EdgeContact, PatchContact, PointContact, contacted_sheet
from layout_app.physics.edge_flows import edge_flows
from layout_app.physics.inside_metal import CLEAR_MM
from layout_app.physics.stream_lines import stream_lines

SHEET_S = 1.0  # of a square: amperes are volts over squares


def traced(metal, contacts, volts, n_lines, mesh_mm=None, **options):
    """Return the sheet, its potentials and the lines from contact 0, `n_lines` of them."""
    sheet = contacted_sheet(metal, contacts, SHEET_S, mesh_mm)
    potential = sheet.potentials_v(np.array(volts, dtype=float))
    total = (sheet.contact_conductance_s() @ np.array(volts))[0]
    lines = stream_lines(sheet, potential, line_a=abs(total) / n_lines, metal=metal, **options)
    return sheet, potential, lines


def edge(*points):
    return EdgeContact(shapely.LineString(points))


# -- closed forms ---------------------------------------------------------------------------------------------------


def test_lines_along_a_strip_are_straight_and_evenly_spaced():
    """Derived: a uniform field. Ten lines carry a tenth each, in the middle of ten equal strips."""
    _, _, lines = traced(shapely.box(0, 0, 30, 10), [edge((0, 0), (0, 10)), edge((30, 0), (30, 10))], [3, 0], 10)
    assert lines.current_a == pytest.approx(np.full(10, 0.1))  # three squares, three volts: one ampere
    assert lines.drop_v == pytest.approx(np.full(10, 3.0), abs=1e-2)  # less what ends are drawn back from the edge
    heights = []
    for k in range(10):
        x, y = lines.points_of(k).T
        assert np.ptp(y) < 1e-6
        assert (np.diff(x) >= 0).all()
        assert (x[0], x[-1]) == pytest.approx((0, 30), abs=CLEAR_MM + 1e-9)
        heights.append(y[0])
    assert np.sort(heights) == pytest.approx(np.arange(10) + 0.5, abs=1e-6)


def test_lines_across_an_annulus_are_radial_and_evenly_turned():
    """Derived: by symmetry each of twelve lines keeps its direction, a twelfth of a turn from the next."""
    disc, hole = shapely.Point(0, 0).buffer(30, quad_segs=64), shapely.Point(0, 0).buffer(10, quad_segs=64)
    contacts = [PatchContact(hole), EdgeContact(disc.exterior)]
    _, _, lines = traced(disc, contacts, [1, 0], 12, 1.0)
    assert len(lines) == 12
    angles = []
    for k in range(12):
        angle = np.unwrap(np.arctan2(*lines.points_of(k).T[::-1]))
        assert np.ptp(angle) < 0.01  # half a degree
        angles.append(angle.mean())
    steps = np.diff(np.sort(np.mod(angles, 2 * np.pi)))
    assert steps == pytest.approx(np.full(11, np.pi / 6), rel=0.02)
    assert lines.current_a.sum() == pytest.approx(2 * np.pi / np.log(3), rel=2e-3)  # values.md section 5: annulus


def test_lines_between_two_points_of_a_disc_are_arcs_through_both():
    """Derived: the stream function of a source and a sink is the angle both are seen under, and the rim is one of its
    lines. So every line sees them under one angle of its own, and the angles go up in even steps."""
    radius, n = 20.0, 12
    disc = shapely.Point(0, 0).buffer(radius, quad_segs=128)
    contacts = [PointContact(-radius, 0, 0.3), PointContact(radius, 0, 0.3)]
    _, _, lines = traced(disc, contacts, [1, 0], n, 0.8)
    seen = []
    for k in range(n):
        x, y = lines.points_of(k).T
        middle = np.abs(x) < 0.8 * radius
        angle = np.mod(np.arctan2(y, x - radius) - np.arctan2(y, x + radius), 2 * np.pi)[middle]
        assert np.ptp(angle) < 0.1
        seen.append(angle.mean())
    assert np.sort(seen) == pytest.approx(np.pi / 2 + np.pi * (np.arange(n) + 0.5) / n, abs=0.04)


def test_lines_pass_under_a_contact_that_shorts_the_metal():
    """Derived: by symmetry the floating disc in the middle is at half the voltage, takes nothing, and what enters it on
    one side leaves on the other: the disc draws in the lines of twice its width (a cylinder in a uniform field)."""
    metal = shapely.box(-40, -20, 40, 20)
    contacts = [edge((-40, -20), (-40, 20)), edge((40, -20), (40, 20)), PointContact(0, 0, 4)]
    _, _, lines = traced(metal, contacts, [1, -1, 0], 40, 1.0, begin_at=[0])
    assert (lines.from_contact == 0).all()
    assert (lines.to_contact == 1).all()
    passing = shapely.intersects(lines.shapes(), shapely.Point(0, 0).buffer(3.9))
    assert 14 <= passing.sum() <= 18  # 16 mm of the strip's 40, less what the near walls do
    for k in np.flatnonzero(passing):
        _, y = lines.points_of(k).T
        assert abs(y[0] - y[-1]) < 0.2  # in and out at the same height


# -- laws -----------------------------------------------------------------------------------------------------------


@st.composite
def plates_with_contacts(draw):
    """A plate with up to three round holes and three to five round contacts on a grid, none touching another."""
    places = draw(st.permutations([(10 + 12 * i, 8 + 12 * j) for i in range(4) for j in range(3)]))
    n_holes = draw(st.integers(0, 3))
    n_contacts = draw(st.integers(3, 5))
    metal = shapely.box(0, 0, 56, 40)
    for x, y in places[:n_holes]:
        metal = metal.difference(shapely.Point(x, y).buffer(draw(st.floats(1.0, 5.0)), quad_segs=64))
    contacts = [PointContact(x, y, draw(st.floats(0.5, 4.0))) for x, y in places[n_holes : n_holes + n_contacts]]
    volts = draw(st.lists(st.floats(-1, 1), min_size=n_contacts, max_size=n_contacts, unique_by=lambda v: round(v, 2)))
    return metal, contacts, volts


@settings(deadline=None, max_examples=12)
@given(case=plates_with_contacts())
def test_lines_of_a_contact_sum_to_its_current_and_keep_to_the_metal(case):
    """Laws: Kirchhoff; lines begin where current enters, end where it leaves, and neither cross nor leave the metal."""
    metal, contacts, volts = case
    sheet = contacted_sheet(metal, contacts, 1.0, 2.0)
    into_a = sheet.contact_conductance_s() @ np.array(volts)
    lines = stream_lines(sheet, sheet.potentials_v(np.array(volts)), line_a=np.abs(into_a).max() / 8, metal=metal)
    begun = np.bincount(lines.from_contact, weights=lines.current_a, minlength=len(volts))
    assert begun == pytest.approx(np.maximum(into_a, 0.0), abs=1e-9 * np.abs(into_a).max())
    assert (into_a[lines.to_contact] < 0).all()
    shapes = lines.shapes()
    assert shapely.covers(metal, shapes).all()
    one, other = shapely.STRtree(shapes).query(shapes, predicate="crosses")
    beside = shapely.distance(shapely.intersection(shapes[one], shapes[other]), metal.boundary)
    assert (beside < 2 * CLEAR_MM).all()  # along the edge lines may run into one


@settings(deadline=None, max_examples=12)
@given(case=plates_with_contacts())
def test_the_flow_across_edges_is_balanced_and_agrees_with_the_conductances(case):
    """Laws: every triangle gives what it gets; nothing crosses the edge off a contact; contacts get what G says."""
    metal, contacts, volts = case
    sheet = contacted_sheet(metal, contacts, 1.0, 2.0)
    into_a = sheet.contact_conductance_s() @ np.array(volts)
    flows = edge_flows(sheet.mesh, sheet.potentials_v(np.array(volts)), 1.0)
    tiny = 1e-9 * np.abs(into_a).max()
    assert np.abs(flows.outflow_a.sum(axis=1)).max() < tiny
    inside = flows.across >= 0
    assert np.abs(flows.outflow_a[inside] + flows.outflow_a.ravel()[flows.across[inside]]).max() < tiny
    assert (flows.outflow_a[~inside & (flows.contact < 0)] == 0).all()
    held = flows.contact >= 0
    out = np.bincount(flows.contact[held], weights=flows.outflow_a[held], minlength=len(volts))
    assert -out == pytest.approx(into_a, abs=tiny)


def test_lines_traced_against_the_current_are_those_traced_along_it():
    """Law: the same two contacts, so the same current, told from either end; points run with the current both times."""
    metal = shapely.box(0, 0, 40, 20)
    contacts = [PointContact(8, 10, 2), PointContact(32, 10, 2)]
    for begin in (0, 1):
        _, _, lines = traced(metal, contacts, [1, 0], 8, begin_at=[begin])
        assert (lines.from_contact == 0).all()
        assert (lines.to_contact == 1).all()
        assert (lines.of_contact == begin).all()
        assert (lines.drop_v > 0.99).all()
        assert all(lines.points_of(k)[0, 0] < lines.points_of(k)[-1, 0] for k in range(len(lines)))


def test_too_many_lines_and_no_current_to_a_line_are_refused():
    sheet = contacted_sheet(shapely.box(0, 0, 4, 1), [edge((0, 0), (0, 1)), edge((4, 0), (4, 1))], 1.0)
    potential = sheet.potentials_v(np.array([1.0, 0.0]))
    with pytest.raises(LayoutError, match="Let each stand for more"):
        stream_lines(sheet, potential, line_a=1e-9)
    with pytest.raises(LayoutError, match="current of a line"):
        stream_lines(sheet, potential, line_a=0.0)


def test_without_current_there_are_no_lines():
    sheet = contacted_sheet(shapely.box(0, 0, 4, 1), [edge((0, 0), (0, 1)), edge((4, 0), (4, 1))], 1.0)
    lines = stream_lines(sheet, sheet.potentials_v(np.array([1.0, 1.0])), line_a=1.0)
    assert len(lines) == 0
    assert len(lines.shapes()) == 0
