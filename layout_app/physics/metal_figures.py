"""Metal figures: what the sheet of the segments weighs, each figure with its formula, inputs and source."""

from __future__ import annotations

from collections.abc import Sequence

from layout_app.physics.figures import Figure, Inputs, figure, number_text
from layout_app.plates.segments import Segment

FORMULA = "area of the metal without windows and holes × thickness × density, summed"


def metal_figures(segments: Sequence[Segment]) -> tuple[Figure, ...]:
    """Return the mass of the metal, kg, of each face that has some and of both; nothing where there is none."""
    by_face = {face: [segment for segment in segments if segment.face == face] for face in ("top", "bottom")}
    rows = [("metal_mass_kg", "Mass of the metal", list(segments))]
    rows += [(f"metal_mass_{face}_kg", f"Mass of the metal, {face} face", some) for face, some in by_face.items()]
    return tuple(_mass(key, label, some) for key, label, some in rows if some and _mass_kg(some) > 0)


def _mass(key: str, label: str, segments: Sequence[Segment]) -> Figure:
    return figure(key, label, _mass_kg(segments), "kg", FORMULA, _sheets(segments))


def _mass_kg(segments: Sequence[Segment]) -> float:
    return sum(segment.mass_g for segment in segments) / 1000


def _sheets(segments: Sequence[Segment]) -> Inputs:
    """Tell of each kind of sheet how much there is of it; segments may have a sheet of their own."""
    areas_mm2: dict[tuple[str, float, float], float] = {}
    for segment in segments:
        sheet = (segment.material.name, segment.thickness_mm, segment.material.density_kg_m3)
        areas_mm2[sheet] = areas_mm2.get(sheet, 0.0) + segment.area_mm2
    return {
        f"{name}, {thickness_mm:g} mm": f"{number_text(area_mm2 / 100)} cm² × {thickness_mm:g} mm × {density:g} kg/m³"
        for (name, thickness_mm, density), area_mm2 in areas_mm2.items()
    }
