"""Bonds as conductors that can melt: wires and sheet necks, their metals, and the fuse they make between two cold ends.

A bond wire, a ribbon, a tongue's neck and a segment's neck differ in section and perimeter only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout_app.model.errors import LayoutError
from layout_app.model.fuse_metals import FuseMetal
from layout_app.model.joints import JointSettings
from layout_app.model.materials import Material
from layout_app.model.validation import require_count, require_number

# J/kg, CRC Handbook, from memory; brass: mean of its metals by mass; steel: iron
LATENT_HEATS_J_KG = {
    "copper": 205e3,
    "copper-half-hard": 205e3,
    "aluminium-1050": 397e3,
    "nickel-200": 298e3,
    "brass-70-30": 177e3,
    "steel-nickel-plated": 247e3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BondWire:
    """A round wire; its length is that of the wire itself from foot to foot, loop included."""

    metal: FuseMetal
    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        require_number("bond wire diameter_mm", self.diameter_mm, above=0, most=10)
        require_number("bond wire length_mm", self.length_mm, above=0, most=1e4)

    @property
    def area_mm2(self) -> float:
        """Section the current crosses."""
        return math.pi / 4 * self.diameter_mm**2

    @property
    def perimeter_mm(self) -> float:
        """Line round the section, through which the side gives off heat."""
        return math.pi * self.diameter_mm

    @property
    def text(self) -> str:
        """How people name it, e.g. "0.3 mm wire"."""
        return f"{self.diameter_mm:g} mm wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetNeck:
    """A strip of even width between two wide pieces of metal: a tongue's neck, a segment's neck, a ribbon."""

    metal: FuseMetal
    width_mm: float
    thickness_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        require_number("neck width_mm", self.width_mm, above=0, most=1e4)
        require_number("neck thickness_mm", self.thickness_mm, above=0, most=100)
        require_number("neck length_mm", self.length_mm, above=0, most=1e4)

    @property
    def area_mm2(self) -> float:
        """Section the current crosses."""
        return self.width_mm * self.thickness_mm

    @property
    def perimeter_mm(self) -> float:
        """Line round the section, through which the faces and edges give off heat."""
        return 2 * (self.width_mm + self.thickness_mm)

    @property
    def text(self) -> str:
        """How people name it, e.g. "2 × 0.15 mm neck"."""
        return f"{self.width_mm:g} × {self.thickness_mm:g} mm neck"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse:
    """One or several equal conductors side by side that share a current evenly, between two pieces of metal.

    Attributes
    ----------
    ends_c : temperature of the metal at both ends and of what surrounds the conductor; held, whatever flows
    side_loss_w_m2k : heat the conductor's side gives off per area and kelvin; 0 when it hangs in still air and is
        short, where the ends take nearly all
    """

    conductor: BondWire | SheetNeck
    n_conductors: int = 1
    ends_c: float = 25.0
    side_loss_w_m2k: float = 0.0

    def __post_init__(self) -> None:
        require_count("n_conductors", self.n_conductors, least=1, most=1000)
        require_number("ends_c", self.ends_c, least=-60)
        require_number("resistivity at ends_c", self.metal.resistivity_at_ohm_m(self.ends_c), above=0)
        require_number("side_loss_w_m2k", self.side_loss_w_m2k, least=0, most=1e6)
        if self.ends_c >= self.metal.melting_c:
            raise LayoutError(
                f"The ends of the {self.conductor.text} are given as {self.ends_c:g} °C, where {self.metal.name} is "
                f"molten ({self.metal.melting_c:g} °C). Give the temperature of the busbar in use."
            )

    @property
    def metal(self) -> FuseMetal:
        """What the conductors are made of."""
        return self.conductor.metal

    @property
    def cold_ohm(self) -> float:
        """Resistance of all conductors side by side at the temperature of their ends, without feet."""
        per_conductor = self.metal.resistivity_at_ohm_m(self.ends_c) * self.conductor.length_mm
        return per_conductor / (self.conductor.area_mm2 * 1e-3) / self.n_conductors

    @property
    def hot_ratio(self) -> float:
        """Resistivity just before melting over that at the ends; a hot bond has less than this ratio, for its ends."""
        metal = self.metal
        return metal.resistivity_at_ohm_m(metal.melting_c) / metal.resistivity_at_ohm_m(self.ends_c)

    @property
    def text(self) -> str:
        """How people name it, e.g. "2 × 0.3 mm wire"."""
        return self.conductor.text if self.n_conductors == 1 else f"{self.n_conductors} × {self.conductor.text}"


def sheet_metal(material: Material, latent_heat_j_kg: float | None = None) -> FuseMetal:
    """Return a sheet material as a fuse sees it.

    Parameters
    ----------
    latent_heat_j_kg : heat of melting; when not given, that of the shipped material of the same id, else 0, with which
        reaching the melting point counts as opening
    """
    known = LATENT_HEATS_J_KG.get(material.id, 0.0)
    return FuseMetal(
        id=material.id,
        name=material.name,
        resistivity_ohm_m=material.resistivity_ohm_m,
        temperature_coefficient_per_k=material.temperature_coefficient_per_k,
        conductivity_w_mk=material.conductivity_w_mk,
        density_kg_m3=material.density_kg_m3,
        heat_capacity_j_kgk=material.heat_capacity_j_kgk,
        melting_c=material.melting_c,
        latent_heat_j_kg=known if latent_heat_j_kg is None else latent_heat_j_kg,
        source=material.source,
    )


def joint_fuse(joints: JointSettings, sheet: FuseMetal, thickness_mm: float) -> Fuse:
    """Return the fuse that one joint of a cell is: its wires side by side, or the neck of its welded tongue.

    `sheet` and `thickness_mm` are those of the segment the tongue is cut from; wires have their own metal.
    """
    conductor: BondWire | SheetNeck
    if joints.weld_ohm is None:
        conductor = BondWire(
            metal=joints.wire_metal, diameter_mm=joints.wire_diameter_mm, length_mm=joints.wire_length_mm
        )
    else:
        conductor = SheetNeck(
            metal=sheet, width_mm=joints.weld_width_mm, thickness_mm=thickness_mm, length_mm=joints.neck_length_mm
        )
    n_conductors = joints.n_wires if joints.weld_ohm is None else 1
    return Fuse(
        conductor=conductor, n_conductors=n_conductors, ends_c=joints.busbar_c, side_loss_w_m2k=joints.side_loss_w_m2k
    )
