"""Small layouts and hand-made segments for the checks: nothing here is derived by the program."""

from dataclasses import replace

import numpy as np
import pytest

from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings
from layout_app.plates.segments import Segment

COPPER = Material(
    id="copper", name="Copper", resistivity_ohm_m=1.7241e-8, temperature_coefficient_per_k=0.00393,
    density_kg_m3=8890, conductivity_w_mk=393, heat_capacity_j_kgk=390, melting_c=1083,
    current_density_a_mm2=(5, 10), source="IEC 60028",
)  # fmt: skip
CELL = CellType(
    id="21700-test", name="For tests", diameter_mm=21.0, diameter_tolerance_mm=0.3, height_mm=70.0, mass_g=68.0,
    capacity_ah=4.0, voltage_min_v=2.5, voltage_nominal_v=3.6, voltage_max_v=4.2, resistance_ohm=0.02,
    continuous_current_a=10.0, peak_current_a=15.0, contacts="opposite ends", button_diameter_mm=8.0,
    shoulder_diameter_mm=13.0, bottom_diameter_mm=18.0,
)  # fmt: skip


def lay(centres_mm, groups=None, *, n_series=1, n_parallel=1, **changes):
    """Return a layout of given cells in a housing of 400 × 200 mm whose lower left corner is at (-50, -50)."""
    groups = np.ones(len(centres_mm), dtype=int) if groups is None else groups
    layout = Layout(
        name="orchard rover", housing=Housing(outline=Contour.rectangle(400.0, 200.0).moved(-50.0, -50.0)),
        cell_type=CELL, lattice=Lattice.square(22.0), cells=Cells(centres_mm, groups), n_series=n_series,
        n_parallel=n_parallel, plates=PlateSettings(material=COPPER),
    )  # fmt: skip
    return replace(layout, **changes)


def row(n, pitch_mm=22.0, y_mm=0.0):
    """Return the centres of n cells in a row that starts at the origin."""
    return np.column_stack([np.arange(n) * pitch_mm, np.full(n, y_mm)])


def rectangle(x_mm, y_mm, width_mm, height_mm):
    """Return a region: a rectangle with its lower left corner at (x, y)."""
    return Region(Contour.rectangle(width_mm, height_mm).moved(x_mm, y_mm))


def metal(pieces, windows_mm=(), *, number=1, face="top", cells=None, positive=True, bolt_hole_mm=None):
    """Return a segment of given regions with windows (x, y, radius) over cells 0, 1, …"""
    windows = np.array(windows_mm, dtype=float).reshape(-1, 3)
    return Segment(
        number=number, face=face, pieces=tuple(pieces), windows_mm=windows,
        window_cells=np.arange(len(windows)) if cells is None else np.array(cells, dtype=np.int64),
        is_positive_end=np.full(len(windows), positive) if np.isscalar(positive) else np.array(positive, dtype=bool),
        bolt_hole_mm=bolt_hole_mm, material=COPPER, thickness_mm=0.5,
    )  # fmt: skip


class Bench:
    """What a test of a check puts together."""

    cell_type = CELL
    lay = staticmethod(lay)
    row = staticmethod(row)
    rectangle = staticmethod(rectangle)
    metal = staticmethod(metal)


@pytest.fixture(scope="session")
def bench():
    """The makers of small layouts and segments."""
    return Bench
