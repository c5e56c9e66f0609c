"""Resistances between contacts against further closed forms: each right within its own error estimate.

Sheets are one ohm a square, so resistances are in squares. Every value stands on one of these:

Equal potential lines and stream lines may be swapped: between two facing pairs of edges of a simply connected sheet the
resistances in squares multiply to one (derived; duality of conjugate harmonic functions). A conformal map changes no
resistance (derived). The upper half plane with contacts on its edge from -1/k to -1 and from 1 to 1/k maps to a
rectangle 2 K(k) long and K(k') wide, K the complete elliptic integral, k'² = 1 − k² (textbook: Schwarz, Christoffel).
"""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.special import ellipk
from shapely.ops import substring

from layout_app.model.errors import LayoutError
from layout_app.physics.contacts import EdgeContact, PatchContact, PointContact, contact_resistances

ONE_SQUARE = {"thickness_mm": 1.0, "resistivity_ohm_m": 1e-3}


def disc(x, y, radius, chords=1024):
    return shapely.Point(x, y).buffer(radius, quad_segs=chords // 4)


def edge(*points):
    return EdgeContact(shapely.LineString(points))


def rim(polygon):
    return EdgeContact(shapely.LineString(polygon.exterior.coords))


def arc(radius, start_deg, end_deg, n=500):
    angle = np.radians(np.linspace(start_deg, end_deg, n))
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def found(metal, contacts, **options):
    return contact_resistances(metal, **ONE_SQUARE, contacts=contacts, **options)


def require(metal, contacts, exact, *, within=1e-3, chords=1e-5):
    """The value is right to `within`, its estimate holds (but for the chords of the polygon given), and a mesh half as
    coarse comes nearer, or as near as chords allow."""
    coarse = found(metal, contacts)
    fine = found(metal, contacts, mesh_mm=math.sqrt(metal.area) / 72)
    off = [abs(each.resistance_ohm[0, 1] - exact) for each in (coarse, fine)]
    assert off[0] <= within * exact
    assert off[0] <= coarse.error_ohm[0, 1] + chords * exact
    assert off[1] <= fine.error_ohm[0, 1] + chords * exact
    assert off[1] <= off[0] * 1.1 + chords * exact
    assert fine.error_ohm[0, 1] <= coarse.error_ohm[0, 1] * 1.1


@pytest.mark.parametrize("aside_mm", [0.0, 3.0, 6.0, 6.9])
def test_a_ring_whose_hole_sits_aside(aside_mm):
    outer, inner = disc(0, 0, 10, 4096), disc(aside_mm, 0, 3)
    exact = math.acosh((100 + 9 - aside_mm**2) / 60) / (2 * math.pi)  # textbook: bipolar coordinates
    require(outer.difference(inner), [rim(outer), rim(inner)], exact)


@pytest.mark.parametrize("inner", [0.3, 0.05])
def test_a_ring_between_confocal_ellipses(inner):
    """Derived: x + iy = c cosh(u + iv) maps it to a rectangle; 0.05 is a hole nearly as flat as a slit."""

    def ellipse(u):
        v = np.arange(4096) * 2 * math.pi / 4096
        return shapely.Polygon(6 * np.column_stack([np.cosh(u) * np.cos(v), np.sinh(u) * np.sin(v)]))

    outer, hole = ellipse(1.0), ellipse(inner)
    require(outer.difference(hole), [rim(hole), rim(outer)], (1.0 - inner) / (2 * math.pi))


def between_edges(k):
    """Squares between the contacts of the half plane above."""
    return 2 * ellipk(k**2) / ellipk(1 - k**2)


@pytest.mark.parametrize("half_deg", [45, 20, 5])
def test_a_disc_between_two_arcs_of_its_rim(half_deg):
    """Derived: z → i(1 − z)/(1 + z) maps the disc to the half plane, angles to tangents of their halves."""
    arcs = [EdgeContact(shapely.LineString(arc(10, mid - half_deg, mid + half_deg))) for mid in (90, 270)]
    k = math.tan(math.radians(45 - half_deg / 2)) ** 2
    assert between_edges(math.tan(math.pi / 8) ** 2) == pytest.approx(1.0)  # four quarters of the rim: its own dual
    require(disc(0, 0, 10, 4096), arcs, between_edges(k))


@pytest.mark.parametrize("k", [0.1, 0.5, 0.9])
def test_two_strips_along_the_edge_of_a_wide_sheet(k):
    wide = disc(0, 0, 400, 2048).intersection(shapely.box(-500, 0, 500, 500))
    exact = between_edges(k)
    require(wide, [edge((-1 / k, 0), (-1, 0)), edge((1, 0), (1 / k, 0))], exact, chords=(1 / k / 400) ** 2 + 1e-5)


@pytest.mark.parametrize("angle_deg", [30, 90, 270, 350])
def test_a_sector_of_a_ring_both_ways(angle_deg):
    """Derived: ln(b/a)/angle along the radius, the inverse along the arc."""
    outer, inner = arc(10, 0, angle_deg, 2000), arc(4, angle_deg, 0, 2000)
    sector, squares = shapely.Polygon(np.vstack([outer, inner])), math.log(2.5) / math.radians(angle_deg)
    require(sector, [EdgeContact(shapely.LineString(line)) for line in (outer, inner)], squares)
    ends = [edge(inner[-1], outer[0]), edge(inner[0], outer[-1])]
    require(sector, ends, 1 / squares)


# Derived: a quarter and a half of the ring between radius 1 and radius 50
@pytest.mark.parametrize("angle_deg", [90, 180])
def test_a_point_in_a_corner_and_on_an_edge(angle_deg):
    outer = arc(50, 0, angle_deg, 4000)
    metal = shapely.Polygon(np.vstack([[(0, 0)], outer]))
    contacts = [PointContact(0, 0, 1), EdgeContact(shapely.LineString(outer))]
    require(metal, contacts, math.log(50) / math.radians(angle_deg), chords=1e-4)


def test_two_points_on_an_edge_are_half_of_two_discs():
    wide = disc(0, 0, 400, 2048).intersection(shapely.box(-500, 0, 500, 500))
    exact = 2 * math.acosh(4 / 2) / math.pi  # values.md section 5, two discs, cut along their line
    require(wide, [PointContact(-2, 0, 1), PointContact(2, 0, 1)], exact, chords=1e-4)


def test_a_tiny_point_in_a_wide_disc():
    wide = disc(0, 0, 300, 2048)
    require(wide, [PointContact(0, 0, 1e-3), rim(wide)], math.log(3e5) / (2 * math.pi))


def test_contacts_with_a_hairs_breadth_between_them():
    wide = disc(0, 0, 300, 2048)
    exact = math.acosh(10.05 / 10) / math.pi  # values.md section 5, two discs; 0.05 mm between them
    ohms = found(wide, [PointContact(-5.025, 0, 5), PointContact(5.025, 0, 5)])
    assert ohms.resistance_ohm[0, 1] == pytest.approx(exact, rel=5e-3)
    assert abs(ohms.resistance_ohm[0, 1] - exact) <= ohms.error_ohm[0, 1]


@pytest.mark.parametrize("contact", [PatchContact(disc(0, 0, 3)), PointContact(0, 0, 3)])
def test_a_contact_over_a_hole_hides_it(contact):
    outer = disc(0, 0, 20)
    require(outer.difference(disc(0, 0, 2)), [contact, rim(outer)], math.log(20 / 3) / (2 * math.pi), chords=5e-5)


def test_a_contact_that_just_fills_a_hole_holds_its_rim():
    outer, hole = disc(0, 0, 20), disc(0, 0, 2)
    require(outer.difference(hole), [PatchContact(hole), rim(outer)], math.log(10) / (2 * math.pi), chords=5e-5)


def test_a_contact_along_part_of_a_holes_edge():
    """Derived: outside a hole all is as inside a disc (inversion), so between opposite quarters of its rim lies one
    square."""
    wide = disc(0, 0, 500, 2048).difference(disc(0, 0, 10, 4096))
    quarters = [EdgeContact(shapely.LineString(arc(10, mid - 45, mid + 45, 1025))) for mid in (90, 270)]
    require(wide, quarters, 1.0, within=5e-3, chords=2 * (10 / 500) ** 2)


def test_a_four_point_probe_on_a_wide_sheet():
    """Source: values.md section 5, Valdes 1954: ln 2 / π; points of radius r take (r/s)² or so off it."""
    points = [PointContact(x, 0, 0.01) for x in (-1.5, -0.5, 0.5, 1.5)]
    assert found(disc(0, 0, 500, 512), points).transfer_ohm((0, 3), (1, 2)) == pytest.approx(
        math.log(2) / math.pi, rel=1e-3
    )


@pytest.mark.parametrize(("arm", "rel"), [(1, 2e-3), (2, 1e-4)])
def test_a_cross_is_a_van_der_pauw_sample(arm, rel):
    """Source: values.md section 5, van der Pauw 1958; how an arm's length wears its end's width off is exp(−π arm)
    (derived: the slowest mode across a strip)."""
    end = 5 + 10 * arm
    cross = shapely.union(shapely.box(-end, -5, end, 5), shapely.box(-5, -end, 5, end))
    ends = [
        edge((end, -5), (end, 5)),
        edge((-5, end), (5, end)),
        edge((-end, -5), (-end, 5)),
        edge((-5, -end), (5, -end)),
    ]
    ohms, exact = found(cross, ends), math.log(2) / math.pi
    sensed = ohms.transfer_ohm((0, 1), (3, 2))
    assert sensed == pytest.approx(exact, rel=rel)
    assert abs(sensed - exact) <= ohms.transfer_error_ohm((0, 1), (3, 2)) + rel * exact
    assert 0 < ohms.transfer_error_ohm((0, 1), (3, 2)) < 1e-3 * exact


def test_a_sheet_of_many_holes_meets_the_perforated_plate():
    """Source: trade.md section 4, square pattern, hole over pitch 0.6: 0.5585 of the solid plate."""
    holes = [disc(5 + 10 * i, 5 + 10 * j, 3, 128) for i in range(8) for j in range(5)]
    plate = shapely.box(0, 0, 80, 50).difference(shapely.union_all(holes))
    whole = found(plate, [edge((0, 0), (0, 50)), edge((80, 0), (80, 50))])
    assert whole.resistance_ohm[0, 1] == pytest.approx(80 / 50 / 0.5585, rel=2e-3)


def test_two_pieces_and_two_metals_add_up_through_the_network():
    """Derived: strips of two metals end to end in series, side by side in parallel, solved as a network."""
    from layout_app.physics.network import resistance_between_ohm

    strips = shapely.multipolygons([shapely.box(0, 0, 40, 10), shapely.box(0, 20, 40, 30)])
    ends = [edge((x, y), (x, y + 10)) for y in (0, 20) for x in (0, 40)]
    ohms = [
        contact_resistances(strips, thickness_mm=0.5, resistivity_ohm_m=rho, contacts=ends).resistance_ohm
        for rho in (1.7e-8, 2.8e-8)
    ]
    assert np.isinf(ohms[0][0, 2])
    copper, aluminium = (4 * rho / 0.5e-3 for rho in (1.7e-8, 2.8e-8))  # four squares
    series = resistance_between_ohm([("a", "b", ohms[0][0, 1]), ("b", "c", ohms[1][2, 3])], "a", "c")
    parallel = resistance_between_ohm([("a", "b", ohms[0][0, 1]), ("a", "b", ohms[1][2, 3])], "a", "b")
    assert series == pytest.approx(copper + aluminium, rel=1e-8)
    assert parallel == pytest.approx(1 / (1 / copper + 1 / aluminium), rel=1e-8)


def test_metal_that_meets_in_a_point_lets_nothing_through():
    """Derived: the resistance of a bridge grows without end as it narrows, if only with its logarithm."""
    two = shapely.multipolygons([shapely.box(0, 0, 10, 10), shapely.box(10, 10, 20, 20)])
    ohms = found(two, [edge((0, 0), (0, 10)), edge((20, 10), (20, 20))])
    assert np.isinf(ohms.resistance_ohm[0, 1])
    hole = shapely.Polygon([(10, 10), (2, 5), (10, 0), (18, 5)])  # touches the outline above and below
    halves = shapely.box(0, 0, 20, 10).difference(hole)
    assert np.isinf(found(halves, [edge((0, 0), (0, 10)), edge((20, 0), (20, 10))]).resistance_ohm[0, 1])


@settings(deadline=None, max_examples=8)
@given(data=st.data())
def test_facing_pairs_of_edges_of_any_sheet_multiply_to_one_square(data):
    """Law: duality, above; and the estimates of both hold together."""
    n = data.draw(st.integers(3, 12))
    angle = (np.arange(n) + data.draw(st.lists(st.floats(0.0, 0.8), min_size=n, max_size=n))) * 2 * math.pi / n
    radius = np.array(data.draw(st.lists(st.floats(4.0, 25.0), min_size=n, max_size=n)))
    metal = shapely.Polygon(radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]))
    assume(metal.is_valid and metal.area > 20)
    ring = shapely.LineString(metal.exterior.coords)
    share = np.sort(data.draw(st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4)))
    assume(np.diff(np.append(share, share[0] + 1)).min() > 0.02)
    a, b, c, d = share * ring.length
    last = [*substring(ring, d, ring.length).coords, *list(substring(ring, 0, a).coords)[1:]]
    parts = [substring(ring, a, b), substring(ring, b, c), substring(ring, c, d), shapely.LineString(last)]
    one, other = (found(metal, [EdgeContact(parts[k]), EdgeContact(parts[k + 2])]) for k in (0, 1))
    share_off = sum(each.error_ohm[0, 1] / each.resistance_ohm[0, 1] for each in (one, other))
    product = one.resistance_ohm[0, 1] * other.resistance_ohm[0, 1]
    assert product == pytest.approx(1.0, abs=share_off)
    assert share_off < 0.02


TROUBLES = {
    "beside the edge": (edge((3, 5), (10, 5)), "is not on the metal"),
    "partly on the edge": (edge((20, 0), (20, 5), (25, 5)), "runs along the metal's edge for 5 of its 10 mm"),
    "in a hole": (PatchContact(disc(15, 5, 1)), "is not on the metal"),
    "too small": (PointContact(5, 5, 1e-7), "radius of 1e-07 mm; on metal 20 mm across it must be at least 2e-05 mm"),
    "no length": (edge((5, 0), (5, 0)), "line with a length"),
    "empty": (PatchContact(shapely.Polygon()), "not empty"),
    "bow tie": (PatchContact(shapely.Polygon([(4, 4), (6, 6), (6, 4), (4, 6)])), "no sound polygon"),
    "nowhere": (PointContact(math.nan, 5, 1), r"x of contact 1 .* is nan"),
    "no contact": (shapely.box(4, 4, 6, 6), "is a Polygon"),
}


@pytest.mark.parametrize(("contact", "message"), TROUBLES.values(), ids=TROUBLES)
def test_contacts_that_are_none_are_named(contact, message):
    metal = shapely.box(0, 0, 20, 10).difference(disc(15, 5, 2))
    with pytest.raises(LayoutError, match=message):
        found(metal, [edge((0, 0), (0, 10)), contact])
