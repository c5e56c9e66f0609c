"""Bonds as values: sections, resistances, the shipped metals, and what is refused."""

import math

import pytest

from layout_app.model.catalogues import materials, wire_metal, wire_metals
from layout_app.model.errors import LayoutError
from layout_app.physics.bonds import LATENT_HEATS_J_KG, BondWire, Fuse, SheetNeck, sheet_metal

ALUMINIUM = wire_metals()["aluminium-wire"]


def wire(diameter_mm=0.3, length_mm=10.0, metal=ALUMINIUM):
    return BondWire(metal=metal, diameter_mm=diameter_mm, length_mm=length_mm)


@pytest.mark.parametrize(
    ("diameter_mm", "ohm_per_m"),
    # values.md section 9, derived at 2.65e-8 Ω·m and 20 °C
    [(0.125, 2.159), (0.15, 1.500), (0.2, 0.8435), (0.25, 0.5399), (0.3, 0.3749), (0.375, 0.2399), (0.4, 0.2109),
     (0.5, 0.1350)],
)  # fmt: skip
def test_wire_resistance_per_metre_is_that_of_the_wire_table(diameter_mm, ohm_per_m):
    fuse = Fuse(conductor=wire(diameter_mm, 1000.0), ends_c=20.0)
    assert fuse.cold_ohm == pytest.approx(ohm_per_m, rel=5e-4)


def test_wires_side_by_side_share_the_current_and_their_resistance():
    one, four = Fuse(conductor=wire()), Fuse(conductor=wire(), n_conductors=4)
    assert four.cold_ohm == pytest.approx(one.cold_ohm / 4)


def test_a_square_neck_has_the_section_and_the_perimeter_of_a_square():
    neck = SheetNeck(metal=ALUMINIUM, width_mm=0.5, thickness_mm=0.5, length_mm=3.0)
    assert (neck.area_mm2, neck.perimeter_mm) == (0.25, 2.0)


def test_aluminium_melts_at_nearly_four_times_its_cold_resistance():
    # derived: (1 + 0.00429 × 640.3) / (1 + 0.00429 × 5) by hand
    assert Fuse(conductor=wire()).hot_ratio == pytest.approx(3.7469 / 1.02145, rel=1e-4)


def test_shipped_aluminium_wire_comes_in_the_sizes_of_the_bonding_wire_data_sheet():
    # values.md section 9, bonding-wire data sheet (read)
    assert ALUMINIUM.diameters_mm == (0.125, 0.15, 0.2, 0.25, 0.3, 0.375, 0.4, 0.45, 0.5)


@pytest.mark.parametrize("metal", wire_metals().values(), ids=lambda metal: metal.id)
def test_shipped_wire_metals_name_their_sources_and_obey_wiedemann_and_franz(metal):
    lorenz = metal.conductivity_w_mk * metal.resistivity_ohm_m / 293.15
    assert "read" in metal.source
    assert lorenz == pytest.approx(2.44e-8, rel=0.15)  # Sommerfeld value 2.443e-8 V²/K²; real metals lie near it


@pytest.mark.parametrize("material", materials().values(), ids=lambda material: material.id)
def test_every_shipped_sheet_can_be_seen_as_a_fuse_with_its_heat_of_melting(material):
    metal = sheet_metal(material)
    assert metal.latent_heat_j_kg == LATENT_HEATS_J_KG[material.id] > 0
    assert metal.resistivity_ohm_m == material.resistivity_ohm_m
    # Richards' rule: entropy of melting 8 to 13 J/(mol·K) for plain metals; 55 to 65 g/mol but aluminium's 27
    molar_kg = 0.027 if "aluminium" in material.id else 0.06
    assert 7 < metal.latent_heat_j_kg * molar_kg / (metal.melting_c + 273.15) < 14


def test_the_heat_of_melting_may_be_given():
    assert sheet_metal(materials()["copper"], latent_heat_j_kg=0.0).latent_heat_j_m3 == 0


@pytest.mark.parametrize("length_mm", [0.0, -1.0, math.nan, math.inf])
def test_a_wire_without_a_sound_length_is_refused(length_mm):
    with pytest.raises(LayoutError, match="length_mm"):
        wire(length_mm=length_mm)


def test_ends_hotter_than_the_melting_point_are_refused_with_what_to_do():
    with pytest.raises(LayoutError, match="Give the temperature of the busbar in use"):
        Fuse(conductor=wire(), ends_c=700.0)


def test_no_wires_at_all_are_refused():
    with pytest.raises(LayoutError, match="n_conductors"):
        Fuse(conductor=wire(), n_conductors=0)


def test_an_unknown_wire_metal_is_named_with_those_there_are():
    assert wire_metal("copper-wire").melting_c == pytest.approx(1084.62, abs=0.1)  # ITS-90, from memory
    with pytest.raises(LayoutError, match=r"no bond-wire metal 'tin'\. There are aluminium-wire, copper-wire"):
        wire_metal("tin")
