"""Fuse metals: what bonds are drawn from and necks cut from, as a conductor that can melt sees it."""

from __future__ import annotations

from dataclasses import dataclass

from layout_app.model.validation import require_line, require_number, require_text

REFERENCE_C = 20.0  # where resistivities and their coefficients are given


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseMetal:
    """A metal as a fuse sees it, at 20 °C. With no heat of melting, reaching the melting point counts as opening."""

    id: str
    name: str
    resistivity_ohm_m: float
    temperature_coefficient_per_k: float
    conductivity_w_mk: float
    density_kg_m3: float
    heat_capacity_j_kgk: float
    melting_c: float
    latent_heat_j_kg: float = 0.0
    diameters_mm: tuple[float, ...] = ()  # in which it is drawn for bonding
    source: str = ""

    def __post_init__(self) -> None:
        require_line("metal id", self.id, least=1)
        require_line("metal name", self.name)
        require_text("metal source", self.source)
        require_number("resistivity_ohm_m", self.resistivity_ohm_m, above=0, most=1e-3)
        require_number("temperature_coefficient_per_k", self.temperature_coefficient_per_k, least=0, most=0.1)
        for field in ("conductivity_w_mk", "density_kg_m3", "heat_capacity_j_kgk", "melting_c"):
            require_number(field, getattr(self, field), above=0, most=1e5)
        require_number("latent_heat_j_kg", self.latent_heat_j_kg, least=0, most=1e7)
        for diameter_mm in self.diameters_mm:
            require_number("diameters_mm", diameter_mm, above=0, most=10)

    @property
    def heat_capacity_j_m3k(self) -> float:
        """Heat to warm a cubic metre by one kelvin."""
        return self.density_kg_m3 * self.heat_capacity_j_kgk

    @property
    def latent_heat_j_m3(self) -> float:
        """Heat to melt a cubic metre at its melting point."""
        return self.density_kg_m3 * self.latent_heat_j_kg

    def resistivity_at_ohm_m(self, temperature_c: float) -> float:
        """Return the resistivity of the solid, linear in temperature."""
        return self.resistivity_ohm_m * (1 + self.temperature_coefficient_per_k * (temperature_c - REFERENCE_C))
