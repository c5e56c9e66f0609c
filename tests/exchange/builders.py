"""Small layouts with their metal built by hand, so that these tests stand on shapes anybody can check."""

from __future__ import annotations

import math

import numpy as np

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

PITCH_MM = 22.5
COPPER = Material(
    id="copper", name="Copper, half hard", resistivity_ohm_m=1.7241e-8, temperature_coefficient_per_k=0.00393,
    density_kg_m3=8890.0, conductivity_w_mk=390.0, heat_capacity_j_kgk=385.0, melting_c=1083.0,
    current_density_a_mm2=(5.0, 10.0), source="from memory; these tests only carry the numbers through",
)  # fmt: skip
CELL_21700 = CellType(
    id="21700", name="21700, generic", diameter_mm=21.0, diameter_tolerance_mm=0.2, height_mm=70.0, mass_g=69.0,
    capacity_ah=4.8, voltage_min_v=2.5, voltage_nominal_v=3.6, voltage_max_v=4.2, resistance_ohm=0.02,
    continuous_current_a=10.0, peak_current_a=20.0, contacts="opposite ends", button_diameter_mm=9.0,
    shoulder_diameter_mm=12.0, bottom_diameter_mm=16.0,
)  # fmt: skip


def rover_layout(
    n_series: int = 3, n_parallel: int = 4, *, name: str = "orchard rover", x_mm: float = 1250.0, y_mm: float = -430.0
) -> Layout:
    """Return a square block: group g is row g, `n_parallel` cells long; the housing has round corners and one boss."""
    column, row = np.meshgrid(np.arange(n_parallel), np.arange(n_series))
    centres = np.column_stack([column.ravel(), row.ravel()]) * PITCH_MM + (x_mm, y_mm)
    width, height = (n_parallel + 1) * PITCH_MM, (n_series + 1) * PITCH_MM
    outline = Contour.rectangle(width, height, 12.0).moved(x_mm - PITCH_MM, y_mm - PITCH_MM)
    return Layout(
        name=name,
        housing=Housing(outline=outline, keep_outs=(Contour.circle(x_mm + PITCH_MM / 2, y_mm + PITCH_MM / 2, 3.0),)),
        cell_type=CELL_21700,
        lattice=Lattice.square(PITCH_MM),
        cells=Cells(centres, row.ravel() + 1),
        n_series=n_series,
        n_parallel=n_parallel,
        plates=PlateSettings(material=COPPER, thickness_mm=0.5),
        design_current_a=40.0,
    )


def rover_segments(layout: Layout) -> tuple[Segment, ...]:
    """Return one round-cornered strip per segment over the rows it joins, with a boss hole where the boss is."""
    return tuple(_segment(layout, k) for k in range(layout.n_segments))


def _segment(layout: Layout, number: int) -> Segment:
    positive, negative = layout.cells.of_group(number), layout.cells.of_group(number + 1)
    if number == 0:
        positive = positive[:0]  # group 0 means unassigned
    cells = np.concatenate([positive, negative])
    centres = layout.cells.centres_mm[cells]
    is_positive = np.arange(len(cells)) < len(positive)
    low, high = centres.min(axis=0) - 10.5, centres.max(axis=0) + 10.5
    outline = Contour.rectangle(*(high - low), 2.0).moved(*low)
    boss = layout.housing.keep_outs[0]
    x, y, _ = boss.as_circle or (math.nan, math.nan, 0.0)
    inside = low[0] < x - 6 and x + 6 < high[0] and low[1] < y - 6 and y + 6 < high[1]
    is_end = number in (0, layout.n_series)
    return Segment(
        number=number,
        face=layout.face_of(number),
        pieces=(Region(outline, (Contour.rectangle(8.0, 6.0, 1.0).moved(x - 4, y - 3),) if inside else ()),),
        windows_mm=np.column_stack([centres, np.where(is_positive, 4.0, 7.0)]),
        window_cells=cells,
        is_positive_end=is_positive,
        bolt_hole_mm=(*(centres[0] + 7.8).tolist(), 2.25) if is_end else None,
        material=layout.plates.material,
        thickness_mm=layout.plates.thickness_mm,
    )
