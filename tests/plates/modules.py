"""Small modules to derive metal from: random housings, lattices and groupings."""

import math

import numpy as np
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings, Terminal

COPPER = Material(
    id="copper",
    name="Copper",
    resistivity_ohm_m=1.7241e-8,
    temperature_coefficient_per_k=0.00393,
    density_kg_m3=8890.0,
    conductivity_w_mk=390.0,
    heat_capacity_j_kgk=386.0,
    melting_c=1084.0,
    current_density_a_mm2=(5.0, 10.0),
    source="IEC 60028 (values.md section 1)",
)
CELL = CellType(
    id="21700-energy",
    name="21 × 70 mm",
    diameter_mm=21.0,
    diameter_tolerance_mm=0.2,
    height_mm=70.0,
    mass_g=69.0,
    capacity_ah=5.0,
    voltage_min_v=2.5,
    voltage_nominal_v=3.6,
    voltage_max_v=4.2,
    resistance_ohm=0.02,
    continuous_current_a=10.0,
    peak_current_a=20.0,
    contacts="opposite ends",
    button_diameter_mm=7.0,
    shoulder_diameter_mm=13.0,
    bottom_diameter_mm=17.0,
)
PITCH_MM = 22.5
INSIDE = (Terminal(place="inside"), Terminal(place="inside"))


def module(centres_mm, groups, outline, *, keep_outs=(), terminals=INSIDE, lattice=None, cell=CELL, **plates):
    """Return a layout of the given cells; S is the highest group."""
    groups = np.asarray(groups)
    return Layout(
        name="test module",
        housing=Housing(outline=outline, keep_outs=tuple(keep_outs), wall_clearance_mm=1.0),
        cell_type=cell,
        lattice=lattice or Lattice.hexagonal(PITCH_MM),
        cells=Cells(centres_mm, groups),
        n_series=max(1, int(groups.max(initial=1))),
        n_parallel=max(1, len(groups) // max(1, int(groups.max(initial=1)))),
        plates=PlateSettings(**{"material": COPPER, **plates}),
        terminals=terminals,
    )


def hexagonal(n_columns, n_rows, pitch_mm=PITCH_MM):
    """Return the (n, 2) sites of a hexagonal patch, its row numbers and its column numbers."""
    row, column = (axis.ravel() for axis in np.mgrid[:n_rows, :n_columns])
    points = np.column_stack([(column + row % 2 / 2) * pitch_mm, row * pitch_mm * math.sqrt(3) / 2])
    return points, row, column


def banded(n_columns=12, n_rows=7, n_series=6, corner_mm=8.0, **options):
    """Return a rectangular module whose groups are bands of columns.

    . 1 1 2 2 3 3
    .  1 1 2 2 3 3
    """
    points, _, column = hexagonal(n_columns, n_rows)
    edge = 11.5  # radius and wall clearance
    width = (n_columns - 0.5) * PITCH_MM + 2 * edge
    height = (n_rows - 1) * PITCH_MM * math.sqrt(3) / 2 + 2 * edge
    outline = Contour.rectangle(width, height, corner_mm).moved(-edge, -edge)
    return module(points, column * n_series // n_columns + 1, outline, **options)


OUTLINES = {
    "rectangle": Contour.rectangle(220.0, 130.0, 9.0),
    "L": Contour([(0, 0), (230, 0), (230, 90), (120, 90), (120, 180), (0, 180)]),
    "disc": Contour.circle(95.0, 95.0, 95.0),
    "notched": Contour([(0, 0), (240, 0), (240, 140), (150, 140), (150, 110), (95, 110), (95, 140), (0, 140)]),
}


@st.composite
def modules(draw: st.DrawFn, **plates) -> Layout:
    """Return layouts in random housings: bands, or bands with a few cells repainted at random."""
    outline = OUTLINES[draw(st.sampled_from(sorted(OUTLINES)))]
    is_hexagonal = draw(st.booleans())
    make = Lattice.hexagonal if is_hexagonal else Lattice.square
    offset = (draw(st.floats(0.0, 22.0)), draw(st.floats(0.0, 22.0)))
    lattice = make(PITCH_MM, angle_rad=draw(st.sampled_from([0.0, 0.3, math.pi / 2])), origin_mm=offset)
    row, column = (axis.ravel().astype(float) for axis in np.mgrid[-15:16, -15:16])
    sites = lattice.points_mm(row, column)
    boundary = outline.polygon(0.01)
    import shapely

    inside = shapely.contains_xy(boundary.buffer(-11.5), sites[:, 0], sites[:, 1])
    keep_outs = []
    if draw(st.booleans()):
        boss = Contour.circle(60.0 + draw(st.floats(0, 20)), 55.0 + draw(st.floats(0, 20)), draw(st.floats(2.0, 9.0)))
        keep_outs.append(boss)
        inside &= ~shapely.contains_xy(boss.polygon(0.01).buffer(11.5), sites[:, 0], sites[:, 1])
    sites = sites[inside]
    n_series = draw(st.integers(1, 6))
    groups = (np.argsort(np.argsort(sites[:, 0] + 0.01 * sites[:, 1])) * n_series // len(sites)) + 1
    for _ in range(draw(st.integers(0, 4))):
        groups[draw(st.integers(0, len(sites) - 1))] = draw(st.integers(1, n_series))
    return module(sites, groups, outline, keep_outs=keep_outs, lattice=lattice, **plates)
