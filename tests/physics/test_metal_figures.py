"""The mass of the metal against plain arithmetic: area × thickness × density."""

import math
from dataclasses import replace

import numpy as np
import pytest

from layout_app.edits import OverrideSegment
from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region
from layout_app.model.materials import Material
from layout_app.model.resources import sample_layouts
from layout_app.model.saved_file import load
from layout_app.physics.metal_figures import metal_figures
from layout_app.plates.segments import Segment
from layout_app.workings import Workings

COPPER = Material(
    id="copper", name="Copper", resistivity_ohm_m=1.7241e-8, temperature_coefficient_per_k=0.00393,
    density_kg_m3=8890, conductivity_w_mk=393, heat_capacity_j_kgk=390, melting_c=1083,
    current_density_a_mm2=(5, 10), source="IEC 60028",
)  # fmt: skip


def strip(number, face, length_mm, thickness_mm=0.5):
    """A strip 20 mm wide with one window of 10 mm."""
    return Segment(
        number=number, face=face, pieces=(Region(Contour.rectangle(length_mm, 20.0)),),
        windows_mm=np.array([[10.0, 10.0, 5.0]]), window_cells=np.array([0]), is_positive_end=np.array([True]),
        bolt_hole_mm=None, material=COPPER, thickness_mm=thickness_mm,
    )  # fmt: skip


def test_masses_of_faces_and_whole_are_area_times_thickness_times_density():
    told = {f.key: f for f in metal_figures([strip(0, "top", 100.0), strip(1, "bottom", 50.0), strip(2, "top", 60.0)])}
    hole_mm2 = 25 * math.pi
    top_kg = (100 * 20 + 60 * 20 - 2 * hole_mm2) * 1e-6 * 0.5e-3 * 8890  # by hand, in metres
    bottom_kg = (50 * 20 - hole_mm2) * 1e-6 * 0.5e-3 * 8890
    assert told["metal_mass_top_kg"].value == pytest.approx(top_kg)
    assert told["metal_mass_bottom_kg"].value == pytest.approx(bottom_kg)
    assert told["metal_mass_kg"].value == pytest.approx(top_kg + bottom_kg)


def test_inputs_tell_of_each_sheet_apart():
    told = metal_figures([strip(0, "top", 100.0), strip(1, "top", 100.0, thickness_mm=1.0)])[0]
    assert [name for name, _ in told.inputs] == ["Copper, 0.5 mm", "Copper, 1 mm"]
    assert told.inputs[1][1] == "19.21 cm² × 1 mm × 8890 kg/m³"  # 2000 mm² less 78.54 mm²


def test_a_face_without_metal_has_no_mass_and_no_metal_none_at_all():
    assert [f.key for f in metal_figures([strip(0, "top", 100.0)])] == ["metal_mass_kg", "metal_mass_top_kg"]
    assert metal_figures([]) == ()
    assert metal_figures([replace(strip(0, "top", 1.0), pieces=(), windows_mm=np.zeros((0, 3)))]) == ()


def test_workings_list_the_mass_and_it_follows_a_thicker_segment():
    rover = load(sample_layouts()["orchard_rover"])
    before = Workings(rover)
    after = Workings(OverrideSegment(3, {"thickness_mm": 1.0}).apply(rover), before)
    thin, thick = ({f.key: f.value for f in each.metal_figures}["metal_mass_kg"] for each in (before, after))
    assert thick - thin == pytest.approx(before.segments[3].mass_g / 1000)  # twice the thickness, 0.5 to 1 mm
    assert {"metal_mass_kg", "metal_mass_top_kg", "metal_mass_bottom_kg"} <= {f.key for f in after.figures}
