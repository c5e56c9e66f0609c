"""Figures: what a layout amounts to, each quantity with its formula, its inputs and its source.

Nothing here needs more than numpy, so that the figures of a saved layout are there at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout

DEFINITION = "definition"
COUNTED = "counted in the layout"

Inputs = dict[str, str | int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One quantity. `key` is the name other tools rely on and carries the unit."""

    key: str  # e.g. "energy_wh"
    label: str  # e.g. "Energy"
    value: float | int
    unit: str
    formula: str  # e.g. "cells × capacity × nominal voltage"
    inputs: tuple[tuple[str, str], ...]  # ("cells", "516"), …
    source: str

    @property
    def text(self) -> str:
        """The value as people read it: four significant digits, fractions in per cent.

        >>> Figure(key="e_wh", label="E", value=6315.84, unit="Wh", formula="", inputs=(), source="").text
        '6316 Wh'
        """
        if self.key.endswith("_fraction"):
            return f"{self.value:.1%}".replace("%", " %")
        if isinstance(self.value, int):
            return f"{self.value} {self.unit}".rstrip()
        return f"{number_text(self.value)} {self.unit}".rstrip()


def number_text(value: float) -> str:
    """Return a number with four significant digits and no exponent in the range people meet.

    >>> number_text(8256.0 * 12.24), number_text(21.6)
    ('101053', '21.6')
    """
    return f"{value:.0f}" if 1e4 <= abs(value) < 1e9 else f"{value:.4g}"


def figures(layout: Layout) -> tuple[Figure, ...]:
    """Return every figure of a layout, in the order shown.

    When the groups are uneven, the smallest one is empty first and limits capacity, energy and current; the inputs
    say so. Figures that divide by that group's cells are left out while it has none.
    """
    makers = (_counts, _voltages, _energies, _metal_counts, _mass_and_space, _currents)
    return tuple(figure for maker in makers for figure in maker(layout))


def figure(
    key: str,
    label: str,
    value: float,
    unit: str,
    formula: str,
    inputs: Inputs,
    source: str = DEFINITION,
) -> Figure:
    """Return a figure, its inputs as texts."""
    told = tuple((name, str(given)) for name, given in inputs.items())
    return Figure(key=key, label=label, value=value, unit=unit, formula=formula, inputs=told, source=source)


def _groups_text(layout: Layout) -> str:
    sizes = layout.group_sizes
    low, high = int(sizes.min()), int(sizes.max())
    return f"all {low} cells" if low == high else f"uneven: {low} to {high} cells"


def _smallest(layout: Layout) -> int:
    return int(layout.group_sizes.min())


def _assigned(layout: Layout) -> int:
    return int(layout.group_sizes.sum())


def _capacity_ah(layout: Layout) -> float:
    return _smallest(layout) * layout.cell_type.capacity_ah


def _energy_wh(layout: Layout) -> float:
    return _capacity_ah(layout) * layout.n_series * layout.cell_type.voltage_nominal_v


def _cell_mass_kg(layout: Layout) -> float:
    return len(layout.cells) * layout.cell_type.mass_g / 1000


def _volume_l(layout: Layout) -> float:
    return layout.housing.outline.area_mm2 * layout.cell_type.height_mm * 1e-6


def _counts(layout: Layout) -> list[Figure]:
    groups: Inputs = {"groups": layout.n_series, "cells per group": _groups_text(layout)}
    spare = len(layout.cells) - _assigned(layout)
    return [
        figure("cells", "Cells", len(layout.cells), "", "cells in the housing, in groups or not", {}, COUNTED),
        figure("series", "Groups in series", layout.n_series, "", "S", {}, "chosen"),
        figure("series_steps", "Series steps", layout.n_series - 1, "", "S − 1, joints from group to group", groups),
        figure("parallel", "Cells in parallel", _smallest(layout), "", "cells of the smallest group", groups, COUNTED),
        figure("spare_cells", "Cells in no group", spare, "", "cells − cells in groups", {}, COUNTED),
    ]


def _voltages(layout: Layout) -> list[Figure]:
    cell = layout.cell_type
    rows = (("min", "Empty", cell.voltage_min_v), ("nominal", "Nominal", cell.voltage_nominal_v),
            ("max", "Full", cell.voltage_max_v))  # fmt: skip
    return [
        figure(
            f"voltage_{name}_v",
            f"{label} voltage",
            layout.n_series * volts,
            "V",
            f"groups in series × {label.lower()} cell voltage",
            {"groups": layout.n_series, "cell voltage": f"{volts:g} V"},
            f"cell type {cell.id}: {cell.source}",
        )
        for name, label, volts in rows
    ]


def _energies(layout: Layout) -> list[Figure]:
    cell, energy_wh, capacity_ah = layout.cell_type, _energy_wh(layout), _capacity_ah(layout)
    of_cell = f"cell type {cell.id}: {cell.source}"
    told: Inputs = {"cells per group": _groups_text(layout), "cell capacity": f"{cell.capacity_ah:g} Ah"}
    nominal: Inputs = {"groups": layout.n_series, "nominal cell voltage": f"{cell.voltage_nominal_v:g} V"}
    mass_kg, volume_l = _cell_mass_kg(layout), _volume_l(layout)
    by_mass: Inputs = {"energy": f"{energy_wh:g} Wh", "cell mass": f"{mass_kg:g} kg"}
    by_volume: Inputs = {"energy": f"{energy_wh:g} Wh", "housing volume": f"{volume_l:g} l"}
    rows = [
        figure("capacity_ah", "Capacity", capacity_ah, "Ah", "cells of the smallest group × cell capacity", told,
                of_cell),
        figure("energy_wh", "Energy", energy_wh, "Wh", "capacity × groups in series × nominal cell voltage",
                told | nominal, of_cell),
        figure("volumetric_energy_wh_l", "Energy per litre of housing", energy_wh / volume_l, "Wh/l",
                "energy / (area inside the housing's wall × cell height)", by_volume),
    ]  # fmt: skip
    if mass_kg > 0:
        rows.append(
            figure("gravimetric_energy_wh_kg", "Energy per kilogram of cells", energy_wh / mass_kg, "Wh/kg",
                    "energy / mass of the cells alone, without metal and housing", by_mass)
        )  # fmt: skip
    return rows


def _metal_counts(layout: Layout) -> list[Figure]:
    top, bottom = len(layout.segments_on("top")), len(layout.segments_on("bottom"))
    told: Inputs = {"segments in all": f"{layout.n_segments} = S + 1", "contacts": layout.cell_type.contacts}
    joints: Inputs = {"cells in groups": _assigned(layout)}
    return [
        figure("segments_top", "Segments on the top face", top, "", "segments 0…S that lie there", told),
        figure("segments_bottom", "Segments on the bottom face", bottom, "", "segments 0…S that lie there", told),
        figure("joints", "Joints", 2 * _assigned(layout), "", "2 × cells in groups, one for each terminal", joints),
    ]


def _mass_and_space(layout: Layout) -> list[Figure]:
    cell, housing, n_cells = layout.cell_type, layout.housing, len(layout.cells)
    cell_area_mm2 = n_cells * math.pi / 4 * cell.diameter_mm**2
    told: Inputs = {"cells": n_cells, "cell diameter": f"{cell.diameter_mm:g} mm"}
    free: Inputs = {"free area": f"{housing.free_area_mm2:.6g} mm²", "keep-outs": len(housing.keep_outs)}
    volume: Inputs = {
        "area inside the wall": f"{housing.outline.area_mm2:.6g} mm²",
        "cell height": f"{cell.height_mm:g} mm",
    }
    rows = [
        figure("cell_mass_kg", "Mass of the cells", _cell_mass_kg(layout), "kg", "cells × cell mass",
                {"cells": n_cells, "cell mass": f"{cell.mass_g:g} g"}, f"cell type {cell.id}: {cell.source}"),
        figure("housing_volume_l", "Housing volume", _volume_l(layout), "l",
                "area inside the housing's wall × cell height, keep-outs included", volume),
    ]  # fmt: skip
    if housing.free_area_mm2 > 0:
        rows.append(
            figure("packing_fraction", "Packing fraction", cell_area_mm2 / housing.free_area_mm2, "",
                    "cells × π/4 × diameter² / (area inside the wall − keep-outs)", told | free)
        )  # fmt: skip
    return rows


def _currents(layout: Layout) -> list[Figure]:
    if _smallest(layout) == 0:
        return []
    cell = layout.cell_type
    cases = (
        ("continuous", "Design current", layout.design_current_a, cell.continuous_current_a),
        ("peak", "Ten-second current", layout.peak_current_a, cell.peak_current_a),
    )
    return [figure for case in cases for figure in _current_case(layout, *case)]


def _current_case(layout: Layout, case: str, label: str, current_a: float, cell_rating_a: float) -> list[Figure]:
    n_parallel = _smallest(layout)
    told: Inputs = {
        "module current": f"{current_a:g} A" if current_a else "not given",
        "cells per group": _groups_text(layout),
    }
    rating: Inputs = {"cell rating": f"{cell_rating_a:g} A", "cells per group": _groups_text(layout)}
    of_cell = f"cell type {layout.cell_type.id}: {layout.cell_type.source}"
    rate: Inputs = {"module current": told["module current"], "capacity": f"{_capacity_ah(layout):g} Ah"}
    return [
        figure(f"{case}_current_a", label, current_a, "A", "whole module", {}, "chosen"),
        figure(f"{case}_current_per_cell_a", f"{label} per cell", current_a / n_parallel, "A",
                "module current / cells of the smallest group, shared evenly", told),
        figure(f"{case}_rating_a", f"{label}, rating of the cells", n_parallel * cell_rating_a, "A",
                "cells of the smallest group × cell rating, shared evenly", rating, of_cell),
        figure(f"{case}_rate_per_h", f"{label} as C-rate", current_a / _capacity_ah(layout), "1/h",
                "module current / capacity", rate),
    ]  # fmt: skip
