"""Figures against common module arithmetic and hand calculation."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings
from layout_app.physics.figures import figures, number_text

COPPER = Material(
    id="copper", name="Copper", resistivity_ohm_m=1.7241e-8, temperature_coefficient_per_k=0.00393,
    density_kg_m3=8890, conductivity_w_mk=393, heat_capacity_j_kgk=390, melting_c=1083,
    current_density_a_mm2=(5, 10), source="IEC 60028",
)  # fmt: skip
CELL = CellType(
    id="21700-e", name="Energy", diameter_mm=21.0, diameter_tolerance_mm=0.3, height_mm=70.0, mass_g=68.0,
    capacity_ah=3.4, voltage_min_v=2.5, voltage_nominal_v=3.6, voltage_max_v=4.2, resistance_ohm=0.02,
    continuous_current_a=10.0, peak_current_a=15.0, contacts="opposite ends", button_diameter_mm=8.0,
    shoulder_diameter_mm=13.0, bottom_diameter_mm=18.0,
)  # fmt: skip


def module(groups, *, n_series, n_parallel, **changes):
    """Cells of the given groups in one long row; where they stand does not matter to most figures."""
    row = np.column_stack([np.arange(len(groups)) * 22.0, np.zeros(len(groups))])
    housing = Housing(outline=Contour.rectangle(2000.0, 100.0))
    layout = Layout(
        name="orchard rover", housing=housing, cell_type=CELL, lattice=Lattice.square(22.0), cells=Cells(row, groups),
        n_series=n_series, n_parallel=n_parallel, plates=PlateSettings(material=COPPER),
    )  # fmt: skip
    return replace(layout, **changes)


def even_module(n_series, n_parallel, **changes):
    groups = np.repeat(np.arange(1, n_series + 1), n_parallel)
    return module(groups, n_series=n_series, n_parallel=n_parallel, **changes)


def values(layout):
    return {figure.key: figure.value for figure in figures(layout)}


def test_module_of_6_by_86_has_the_figures_everybody_computes():
    told = values(even_module(6, 86))  # source: common practice, no source (the check values of the job)
    assert told["cells"] == 516
    assert told["series"] == 6
    assert told["parallel"] == 86
    assert told["voltage_nominal_v"] == pytest.approx(21.6)
    assert told["voltage_max_v"] == pytest.approx(25.2)
    assert told["voltage_min_v"] == pytest.approx(15.0)  # derived: 6 × 2.5 V
    assert told["capacity_ah"] == pytest.approx(292.4)  # derived: 86 × 3.4 Ah
    assert round(told["energy_wh"] / 1000, 1) == 6.3
    assert told["joints"] == 1032
    assert {told["segments_top"], told["segments_bottom"]} == {4, 3}
    assert told["cell_mass_kg"] == pytest.approx(35.088)  # derived: 516 × 68 g


def test_the_face_with_four_segments_carries_both_terminals():
    up, down = even_module(6, 86, first_group_up=True), even_module(6, 86, first_group_up=False)
    for layout in (up, down):
        told = values(layout)
        assert layout.face_of(0) == layout.face_of(6)
        assert told[f"segments_{layout.face_of(0)}"] == 4


def test_sixteen_such_modules_in_series_pass_8000_cells_and_16000_connections():
    told = values(even_module(96, 86))  # source: common practice, no source (the check values of the job)
    assert told["cells"] == 8256
    assert told["joints"] > 16_000
    assert told["energy_wh"] == pytest.approx(16 * values(even_module(6, 86))["energy_wh"])


def test_cells_contacted_at_one_end_have_every_segment_on_one_face():
    told = values(even_module(6, 4, cell_type=replace(CELL, contacts="one end")))
    assert (told["segments_top"], told["segments_bottom"]) == (7, 0)


def test_energies_are_per_litre_of_housing_and_per_kilogram_of_cells():
    told = values(even_module(6, 86))
    litres = 20.0 * 1.0 * 0.7  # derived: 2000 × 100 × 70 mm in dm³
    assert told["housing_volume_l"] == pytest.approx(litres)
    assert told["volumetric_energy_wh_l"] == pytest.approx(516 * 3.4 * 3.6 / litres)
    assert told["gravimetric_energy_wh_kg"] == pytest.approx(3.4 * 3.6 / 0.068)


def test_currents_per_cell_and_rates_share_evenly():
    told = values(even_module(6, 20, design_current_a=80.0, peak_current_a=160.0))
    assert told["continuous_current_per_cell_a"] == pytest.approx(4.0)
    assert told["peak_current_per_cell_a"] == pytest.approx(8.0)
    assert told["continuous_rating_a"] == pytest.approx(200.0)
    assert told["peak_rating_a"] == pytest.approx(300.0)
    assert told["continuous_rate_per_h"] == pytest.approx(80.0 / 68.0)


def test_keep_outs_are_taken_from_the_area_that_packing_divides_by():
    post = Contour.circle(1000.0, 50.0, 30.0)
    housing = Housing(outline=Contour.rectangle(2000.0, 100.0), keep_outs=(post,))
    told = values(even_module(6, 86, housing=housing))
    expected = 516 * math.pi / 4 * 21.0**2 / (2000.0 * 100.0 - math.pi * 30.0**2)
    assert told["packing_fraction"] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("gap_mm", "hexagonal", "square"),
    [(0.5, 0.8652, 0.7493), (1.0, 0.8263, 0.7156), (2.0, 0.7560, 0.6547)],  # trade.md row 10: derived, 21 mm cells
)
def test_a_housing_of_whole_lattice_tiles_has_the_fraction_of_the_lattice(gap_mm, hexagonal, square):
    pitch = 21.0 + gap_mm
    for row_mm, expected in ((pitch * math.sqrt(3) / 2, hexagonal), (pitch, square)):
        tiles = Housing(outline=Contour.rectangle(10 * pitch, 10 * row_mm))
        assert values(even_module(10, 10, housing=tiles))["packing_fraction"] == pytest.approx(expected, abs=5e-5)


def test_the_smallest_group_limits_capacity_energy_and_current():
    uneven = module([1, 1, 1, 2, 2, 0], n_series=2, n_parallel=3, design_current_a=10.0)
    told = values(uneven)
    assert told["parallel"] == 2
    assert told["capacity_ah"] == pytest.approx(6.8)
    assert told["energy_wh"] == pytest.approx(6.8 * 7.2)
    assert told["continuous_current_per_cell_a"] == pytest.approx(5.0)
    assert told["spare_cells"] == 1
    assert told["joints"] == 10
    parallel = next(figure for figure in figures(uneven) if figure.key == "parallel")
    assert ("cells per group", "uneven: 2 to 3 cells") in parallel.inputs


def test_a_group_without_cells_gives_no_energy_and_no_division_by_zero():
    told = values(module([1, 1], n_series=2, n_parallel=2, design_current_a=10.0))
    assert told["energy_wh"] == 0
    assert "continuous_rate_per_h" not in told


def test_a_layout_without_cells_still_has_figures():
    told = values(module([], n_series=6, n_parallel=4))
    assert told["cells"] == 0
    assert told["packing_fraction"] == 0
    assert "gravimetric_energy_wh_kg" not in told


def test_every_figure_tells_formula_and_source_and_fits_json():
    told = figures(even_module(6, 4, design_current_a=8.0))
    assert len({figure.key for figure in told}) == len(told)
    assert all(figure.formula and figure.source and figure.label for figure in told)
    assert json.loads(json.dumps(values(even_module(6, 4)), allow_nan=False))


def test_people_read_four_digits_and_no_exponents():
    texts = {figure.key: figure.text for figure in figures(even_module(6, 86))}
    assert texts["energy_wh"] == "6316 Wh"
    assert texts["voltage_nominal_v"] == "21.6 V"
    assert texts["cells"] == "516"
    assert texts["packing_fraction"] == "89.4 %"  # derived: 516 × π/4 × 21² / 200 000
    assert number_text(101_053.4) == "101053"


@settings(deadline=None, max_examples=50)
@given(n_series=st.integers(1, 40), n_parallel=st.integers(1, 30))
def test_energy_is_the_sum_of_the_cells_whatever_the_wiring(n_series, n_parallel):
    told = values(even_module(n_series, n_parallel))
    assert told["energy_wh"] == pytest.approx(told["cells"] * 3.4 * 3.6)
    assert told["segments_top"] + told["segments_bottom"] == n_series + 1
    assert told["joints"] == 2 * told["cells"]
