"""Small layouts for the tests of edits: rows of cells in a rectangle."""

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings

CELL = CellType(
    id="test-21700", name="21700 test", diameter_mm=21.0, diameter_tolerance_mm=0.1, height_mm=70.0, mass_g=68.0,
    capacity_ah=4.0, voltage_min_v=2.5, voltage_nominal_v=3.6, voltage_max_v=4.2, resistance_ohm=0.02,
    continuous_current_a=10.0, peak_current_a=20.0, contacts="opposite ends", button_diameter_mm=8.0,
    shoulder_diameter_mm=15.0, bottom_diameter_mm=18.0,
)  # fmt: skip
COPPER = Material(
    id="copper", name="Copper", resistivity_ohm_m=1.724e-8, temperature_coefficient_per_k=0.00393,
    density_kg_m3=8960.0, conductivity_w_mk=390.0, heat_capacity_j_kgk=385.0, melting_c=1085.0,
    current_density_a_mm2=(5.0, 10.0), source="for tests only",
)  # fmt: skip
PITCH_MM = 22.0


def module(n_series: int = 4, n_parallel: int = 5) -> Layout:
    """A rectangle with one row of `n_parallel` cells per group, one free site at the end of each row."""
    column, row = np.meshgrid(np.arange(n_parallel), np.arange(n_series))
    lattice = Lattice.square(PITCH_MM, origin_mm=(12.5, 12.5))
    centres_mm = lattice.points_mm(row.ravel().astype(float), column.ravel().astype(float))
    outline = Contour.rectangle((n_parallel + 1) * PITCH_MM + 3, n_series * PITCH_MM + 3, 4.0)
    return Layout(
        name="test", housing=Housing(outline=outline), cell_type=CELL, lattice=lattice,
        cells=Cells(centres_mm, row.ravel() + 1), n_series=n_series, n_parallel=n_parallel,
        plates=PlateSettings(material=COPPER), design_current_a=20.0,
    )  # fmt: skip
