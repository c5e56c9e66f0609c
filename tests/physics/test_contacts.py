"""Conduction in sheet: closed forms met through the public entry, and the meshes assembled by another library.

Shapes are in millimetres, the sheet is one ohm a square, so resistances are in squares.
"""

import math
import warnings

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.meshes import mesh_of
from layout_app.model.errors import LayoutError
from layout_app.physics.contacts import (
    EdgeContact,
    PatchContact,
    PointContact,
    contact_resistances,
    contacted_sheet,
    resistances_ohm,
)
from layout_app.physics.sheet import Sheet

ONE_SQUARE = {"thickness_mm": 1.0, "resistivity_ohm_m": 1e-3}


def disc(x, y, radius, chords=512):
    return shapely.Point(x, y).buffer(radius, quad_segs=chords // 4)


def edge(*points):
    return EdgeContact(shapely.LineString(points))


def ends(length, height):
    return [edge((0, 0), (0, height)), edge((length, 0), (length, height))]


def squares(metal, contacts, **options):
    """Return the resistance between the first two contacts and its error estimate, squares."""
    found = contact_resistances(metal, **ONE_SQUARE, contacts=contacts, **options)
    return found.resistance_ohm[0, 1], found.error_ohm[0, 1]


def require(found, exact, rel):
    """The value is right to `rel`, and not further off than its own estimate says."""
    value, error = found
    assert value == pytest.approx(exact, rel=rel)
    assert abs(value - exact) <= max(error, 2e-4 * exact)  # the chords of a given polygon are no part of the estimate


def between_first_two(sheet):
    """Return the resistance between the first two contacts of one mesh, the others open, squares."""
    parts = np.zeros(sheet.n_contacts, dtype=np.int64)
    return resistances_ohm(sheet.contact_conductance_s(), parts)[0, 1]


def require_convergence(metal, contacts, exact, size_mm, *, least_gain=2.5, told=between_first_two):
    """One mesh alone, refined twice: the error falls each time; the theory of linear triangles says fourfold, and a
    little less than threefold where a contact ends or a corner points inward."""
    sheet, errors = contacted_sheet(metal, contacts, 1.0, size_mm), []
    for _ in range(3):
        errors.append(abs(told(sheet) - exact))
        sheet = sheet.refined()
    assert errors[0] > least_gain * errors[1] > least_gain**2 * errors[2]


def test_a_strip_is_as_many_squares_as_it_is_long():
    require(squares(shapely.box(0, 0, 40, 10), ends(40, 10)), 4.0, 1e-10)  # definition of the square


# Source: values.md section 5, annulus ln(b/a)/(2π), textbook
@pytest.mark.parametrize(("ratio", "exact"), [(1.5, 0.06453), (2, 0.11032), (3, 0.17485), (5, 0.25615), (10, 0.36647)])
def test_an_annulus_meets_its_logarithm(ratio, exact):
    outer, inner = disc(3, 4, 10 * ratio), disc(3, 4, 10)
    rims = [EdgeContact(shapely.LineString(rim.exterior.coords)) for rim in (outer, inner)]
    require(squares(outer.difference(inner), rims), exact, 2e-4)
    require_convergence(outer.difference(inner), rims, math.log(ratio) / (2 * math.pi), 3.0)


def test_a_right_angle_corner_counts_for_its_conformal_share_of_a_square():
    bend = shapely.Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 40), (0, 40)])
    exact = 6 + 0.558729  # source: values.md section 5, 1 − (2/π) ln 2, conformal map; Hall 1967 as 0.559
    contacts = [edge((40, 0), (40, 10)), edge((0, 40), (10, 40))]
    require(squares(bend, contacts), exact, 2e-5)
    require_convergence(bend, contacts, exact, 2.5)


# Source: values.md section 5, strip with centred round hole, multipole-image series
@pytest.mark.parametrize(("share", "extra"), [(0.1, 0.01584), (0.2, 0.06497), (0.4, 0.28942), (0.6, 0.80443)])
def test_a_hole_in_a_strip_adds_its_squares(share, extra):
    plate = shapely.box(0, 0, 60, 10).difference(disc(30, 5, 5 * share))
    value, error = squares(plate, ends(60, 10))
    assert value - 6 == pytest.approx(extra, rel=0.01)
    require((value, error), 6 + extra, 2e-4)
    require_convergence(plate, ends(60, 10), 6 + extra, 4.0)


# Source: values.md section 5, two equal discs on an infinite sheet, arccosh(D/2r)/π, image solution
@pytest.mark.parametrize(("apart", "exact"), [(4, 0.41920), (5, 0.49873)])
def test_two_discs_on_a_wide_sheet(apart, exact):
    sheet = disc(0, 0, 300.0, 1024)  # derived: its rim adds (D/2R)² or so, below 1e-4
    contacts = [PointContact(-apart / 2, 0, 1), PointContact(apart / 2, 0, 1)]
    require(squares(sheet, contacts), exact, 1e-3)
    turn = 2 * math.pi / 256
    same_area = math.sqrt(turn / math.sin(turn))  # 256 chords round a point of contact enclose what its circle does
    patches = [PatchContact(disc(x, 0, same_area, 256)) for x in (-apart / 2, apart / 2)]
    assert squares(sheet, patches)[0] == pytest.approx(squares(sheet, contacts)[0], rel=1e-6)
    require_convergence(disc(0, 0, 3000.0, 1024), contacts, math.acosh(apart / 2) / math.pi, 400.0)


# Source: trade.md section 4, perforated plate, Rayleigh's series (originals by memory)
@pytest.mark.parametrize(("share", "conductance"), [(0.4, 0.7767), (0.6, 0.5585), (0.8, 0.3221)])
def test_a_plate_perforated_in_squares_conducts_less(share, conductance):
    """One row of the pattern between two lines of symmetry."""
    holes = [disc(5 + 10 * k, 5, 5 * share) for k in range(3)]
    plate = shapely.box(0, 0, 30, 10).difference(shapely.union_all(holes))
    assert squares(plate, ends(30, 10))[0] == pytest.approx(3 / conductance, rel=2e-3)
    require_convergence(plate, ends(30, 10), 3 / conductance, 5.0, least_gain=2.0)


@pytest.mark.parametrize(("share", "conductance"), [(0.4, 0.7466), (0.6, 0.5077), (0.8, 0.2641)])
def test_a_plate_perforated_in_hexagons_conducts_less(share, conductance):
    high, r = 10 * math.sqrt(3), 5 * share
    middle = [disc(5 + 10 * k, high / 2, r) for k in range(3)]
    outer = [disc(10 * k, y, r) for k in range(4) for y in (0, high)]
    plate = shapely.box(0, 0, 30, high).difference(shapely.union_all(middle + outer))
    contacts = [edge((x, r), (x, high - r)) for x in (0, 30)]
    assert squares(plate, contacts)[0] == pytest.approx(30 / high / conductance, rel=2e-3)
    require_convergence(plate, contacts, 30 / high / conductance, 6.0, least_gain=2.0)


def test_van_der_pauw_square():
    """Current through two corners, voltage across the others: ln 2 / π of a square."""
    corners = [PointContact(x, y, 0.05) for x, y in ((0, 0), (10, 0), (10, 10), (0, 10))]
    found = contact_resistances(shapely.box(0, 0, 10, 10), **ONE_SQUARE, contacts=corners)
    sensed = found.transfer_ohm((0, 1), (3, 2))
    assert sensed == pytest.approx(0.220636, rel=1e-3)  # source: trade.md row 5 (a), van der Pauw 1958
    assert 1 / sensed == pytest.approx(4.532360, rel=1e-3)  # source: values.md section 5

    def told(sheet):
        r = resistances_ohm(sheet.contact_conductance_s(), np.zeros(4, dtype=np.int64))
        return (r[0, 2] + r[1, 3] - r[0, 3] - r[1, 2]) / 2

    require_convergence(shapely.box(0, 0, 10, 10), corners, math.log(2) / math.pi, 2.0, told=told)


def test_a_finger_that_collects_evenly_loses_a_third():
    """Loss I²R/3, drop at the tip I R/2; source: trade.md section 4 (published for fingers of solar cells)."""
    length, width = 60.0, 2.0
    r, errors = length / width, []
    sheet = contacted_sheet(shapely.box(0, 0, length, width), [edge((0, 0), (0, width))], 1.0, 4.0)
    for _ in range(3):
        areas = np.repeat(sheet.mesh.areas_mm2 / 3, 3)
        injected = np.bincount(sheet.mesh.triangles.ravel(), weights=areas) / (length * width)  # 1 A in all
        potential = sheet.potentials_v(np.zeros(1), injected)
        loss = (sheet.losses_w_mm2(potential) * sheet.mesh.areas_mm2).sum()
        tip = potential[sheet.mesh.points_mm[:, 0] == length].mean()
        errors.append(abs(loss / (r / 3) - 1))
        assert tip == pytest.approx(r / 2, rel=1e-3)
        sheet = sheet.refined()
    assert errors[-1] < 2e-4
    assert errors[0] > 3 * errors[1] > 9 * errors[2]


def test_the_same_mesh_assembled_by_another_library_gives_the_same_matrix_and_resistance():
    """Reference library: scikit-fem, linear triangles."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what another library warns of on import is not ours
        from skfem import Basis, ElementTriP1, MeshTri, condense, solve
        from skfem.models.poisson import laplace
    plate = shapely.box(0, 0, 30, 10).difference(disc(12, 4, 3))
    mesh = mesh_of(plate, Sizes(2.0, np.array([[30.0, 0.0]]), np.array([0.1])))
    theirs = laplace.assemble(Basis(MeshTri(mesh.points_mm.T, mesh.triangles.T), ElementTriP1()))
    ours = Sheet(mesh, 1.0, 0).matrix
    assert abs(ours - theirs).max() < 1e-12 * abs(theirs).max()

    sheet = contacted_sheet(plate, ends(30, 10), 1.0, 2.0)
    basis = Basis(MeshTri(sheet.mesh.points_mm.T, sheet.mesh.triangles.T), ElementTriP1())
    matrix, value = laplace.assemble(basis), np.zeros(basis.N)
    value[sheet.contact_of_points == 1] = 1.0
    field = solve(*condense(matrix, x=value, D=np.flatnonzero(sheet.contact_of_points >= 0)))
    assert sheet.potentials_v(np.array([0.0, 1.0])) == pytest.approx(field, abs=1e-12)
    assert -sheet.contact_conductance_s()[0, 1] == pytest.approx(field @ matrix @ field, rel=1e-11)


def test_energy_in_the_sheet_is_the_power_fed_into_its_contacts():
    """Law: Tellegen's theorem."""
    sheet = contacted_sheet(shapely.box(0, 0, 20, 20), [PointContact(5, 5, 1), edge((20, 0), (20, 8)),
                            PointContact(15, 15, 2)], 29e3)  # fmt: skip
    contact_v = np.array([1.0, 0.2, -0.5])
    loss = (sheet.losses_w_mm2(sheet.potentials_v(contact_v)) * sheet.mesh.areas_mm2).sum()
    assert loss == pytest.approx(contact_v @ sheet.contact_conductance_s() @ contact_v, rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(
    turn=st.floats(0, 6.28),
    scale=st.floats(0.1, 10),
    thickness_mm=st.floats(0.05, 5),
    resistivity=st.floats(1e-8, 1e-6),
)
def test_resistance_follows_the_square_not_the_size_nor_the_place(turn, scale, thickness_mm, resistivity):
    """Laws: nothing changes when a sheet turns, moves or grows; resistance goes with resistivity / thickness."""
    from shapely import affinity

    def placed(shape):
        turned = affinity.scale(affinity.rotate(shape, turn, (0, 0), use_radians=True), scale, scale, origin=(0, 0))
        return affinity.translate(turned, 1e4, -3e3)

    shape = shapely.box(0, 0, 20, 10).difference(disc(8, 5, 3, 64))
    lines = [c.line for c in ends(20, 10)]
    plain = squares(shape, [EdgeContact(line) for line in lines], mesh_mm=2.0)[0]
    found = contact_resistances(
        placed(shape),
        thickness_mm=thickness_mm,
        resistivity_ohm_m=resistivity,
        contacts=[EdgeContact(placed(line)) for line in lines],
        mesh_mm=2.0 * scale,
    )
    in_squares = found.resistance_ohm[0, 1] * thickness_mm * 1e-3 / resistivity
    assert in_squares == pytest.approx(plain, rel=2e-3)


def test_contacts_on_pieces_that_do_not_touch_have_no_finite_resistance():
    two = shapely.union_all([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)])
    contacts = [edge((0, 0), (0, 10)), edge((10, 0), (10, 10)), edge((30, 0), (30, 10))]
    found = contact_resistances(two, **ONE_SQUARE, contacts=contacts)
    assert found.resistance_ohm[0, 1] == pytest.approx(1.0, rel=1e-9)
    assert np.isinf(found.resistance_ohm[[0, 1], 2]).all()
    assert np.isfinite(found.error_ohm).all()


def test_a_contact_right_across_joins_what_it_divides():
    across = PatchContact(shapely.box(4, -1, 6, 11))
    strip = shapely.box(0, 0, 20, 10)
    contacts = [edge((0, 0), (0, 10)), edge((20, 0), (20, 10)), across]
    found = contact_resistances(strip, **ONE_SQUARE, contacts=contacts)
    assert found.resistance_ohm[0, 1] == pytest.approx(1.8, rel=1e-9)  # derived: 4 and 14 mm of strip in series


TROUBLES = {
    "one contact": ({"contacts": ends(30, 10)[:1]}, "at least two"),
    "no thickness": ({"thickness_mm": 0.0}, "sheet thickness is 0"),
    "not a number": ({"resistivity_ohm_m": math.nan}, "resistivity is nan"),
    "negative": ({"resistivity_ohm_m": -1.0}, "resistivity is -1"),
    "bow tie": ({"metal": shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])}, "no sound polygon"),
    "nothing": ({"metal": shapely.Polygon()}, "not empty"),
    "off": ({"contacts": [*ends(30, 10), PointContact(50, 5, 1)]}, r"Contact 2 .*about \(50, 5\) mm, is not on"),
    "touching": ({"contacts": [edge((0, 0), (0, 5)), edge((0, 5), (0, 10))]}, "Contacts 0 and 1 .*touch"),
    "covered": ({"contacts": [PatchContact(shapely.box(-1, -1, 40, 20)), PointContact(90, 90, 1)]}, "cover all"),
    "no radius": ({"contacts": [*ends(30, 10), PointContact(5, 5, 0.0)]}, "radius of contact 2 .* is 0"),
}


@pytest.mark.parametrize(("given_", "message"), TROUBLES.values(), ids=TROUBLES)
def test_what_cannot_be_solved_is_said_in_words(given_, message):
    asked = {"metal": shapely.box(0, 0, 30, 10), "contacts": ends(30, 10), **ONE_SQUARE, **given_}
    with pytest.raises(LayoutError, match=message):
        contact_resistances(asked.pop("metal"), **asked)
