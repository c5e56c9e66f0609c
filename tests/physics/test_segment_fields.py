"""Fields of sheets: peaks against closed forms, at feet and away from them, and what a map needs of every segment."""

import math

import numpy as np
import pytest
import shapely

from layout_app.physics.contacts import PatchContact, contacted_sheet
from layout_app.physics.currents import SheetModel
from layout_app.physics.segment_fields import segment_field
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded


def disc(x, y, radius):
    return shapely.Point(x, y).buffer(radius, quad_segs=128)


def sheet_of(metal, feet, mesh_mm=None):
    """Return a sheet of one ohm a square between feet."""
    return contacted_sheet(metal, [PatchContact(foot) for foot in feet], 1.0, mesh_mm)


def field_of(sheet, feet, volts, thickness_mm=1.0):
    """Return its field and its contacts' currents, the feet held at `volts`."""
    current = sheet.contact_conductance_s() @ np.array(volts)
    return segment_field(sheet, feet, thickness_mm, np.array(volts), current), current


# Derived: at a small round hole in a sheet the density doubles (dipole field). In a strip the hole's images raise what
# it stands in by 1/(1 − π²d²/12W²), the same factor as in trade.md section 4; what is left out is of the order (d/W)⁴
@pytest.mark.parametrize("share", [0.1, 0.2])
def test_the_density_beside_a_hole_nears_twice_that_of_the_strip(share):
    """Its error falls with refinement, and the two meshes' difference bounds it."""
    hole = shapely.Point(30, 5).buffer(5 * share, quad_segs=2048)
    feet = [shapely.box(-1, -1, 1, 11), shapely.box(59, -1, 61, 11)]
    sheet = sheet_of(shapely.box(0, 0, 60, 10).difference(hole), feet, 2.0)
    exact, left_out, before = 2 / (1 - math.pi**2 * share**2 / 12), 5e-4, 0.05
    for _ in range(3):
        field, current = field_of(sheet, feet, [0.0, 1.0])
        size = field.peak_a_mm2 * 10 / current[1]
        assert abs(size - exact) < before + left_out
        assert abs(size - exact) < field.peak_error_a_mm2 * 10 / current[1] + left_out
        x, y = field.peak_mm
        assert abs(x - 30) < share
        assert abs(y - 5) == pytest.approx(5 * share, rel=0.1)
        before, sheet = abs(size - exact) / 2.5, sheet.refined()


def test_round_a_round_foot_the_density_is_even():
    """Derived: from a disc in the middle of a round sheet the current leaves alike all round, I / 2πrt."""
    feet = [disc(0, 0, 2), disc(0, 0, 30).difference(disc(0, 0, 20))]
    sheet = sheet_of(disc(0, 0, 21), feet).refined()
    field, (current, _) = field_of(sheet, feet, [1.0, 0.0], thickness_mm=0.5)
    exact = current / (2 * math.pi * 2 * 0.5)
    assert field.foot_a_mm2 == pytest.approx(exact, rel=1e-3)
    assert field.foot_peak_a_mm2 == pytest.approx(exact, rel=0.03)
    assert np.hypot(*field.foot_peak_mm) == pytest.approx(2, rel=1e-3)
    assert field.peak_a_mm2 == pytest.approx(exact / 2, rel=0.04)  # 2 mm away, where the circle is twice as long


@pytest.mark.parametrize("thickness_mm", [0.5, 1.0])
def test_at_the_end_of_a_foot_the_density_is_a_mean_over_the_sheets_thickness(thickness_mm):
    """Derived: a thin strip of half-length a on a wide sheet takes q(s) ∝ 1/√(a² − s²), without bound at its ends; the
    last stretch u takes arccos(1 − u/a)/π of the current."""
    half, thick = 3.0, 0.04
    feet = [shapely.box(-half, -thick / 2, half, thick / 2), disc(0, 0, 130).difference(disc(0, 0, 120))]
    field, (current, _) = field_of(sheet_of(disc(0, 0, 121), feet), feet, [1.0, 0.0], thickness_mm=thickness_mm)
    end = current * math.acos(1 - thickness_mm / 2 / half) / math.pi / (thickness_mm + thick)  # both its sides
    assert field.foot_peak_a_mm2 * thickness_mm == pytest.approx(end, rel=0.1)
    assert abs(field.foot_peak_mm[0]) == pytest.approx(half, rel=0.02)


def test_all_fields_come_at_once_as_each_alone_and_tell_how_far_they_are():
    model = SheetModel(Plates(banded(n_columns=6, n_rows=4, n_series=3)))
    found, told = model.solve(50.0), []
    fields = model.fields(found, progress=told.append)
    assert told[-1] == 1.0
    for k, field in enumerate(fields):
        alone = model.field(k, found)
        assert np.array_equal(field.density_a_mm2, alone.density_a_mm2)
        assert field.density_size_a_mm2 == pytest.approx(np.hypot(*field.density_a_mm2.T))
        loss = (field.loss_w_mm2 * field.mesh.areas_mm2).sum()
        assert abs(loss - found.solved.segment_loss_w[k]) <= found.errors["segment_loss_w"]
