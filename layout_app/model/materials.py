"""Material: what a busbar sheet is made of."""

from dataclasses import dataclass

from layout_app.model.validation import require_line, require_number, require_pair, require_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A sheet metal at 20 °C."""

    id: str
    name: str
    resistivity_ohm_m: float
    temperature_coefficient_per_k: float
    density_kg_m3: float
    conductivity_w_mk: float
    heat_capacity_j_kgk: float
    melting_c: float
    current_density_a_mm2: tuple[float, float]  # published range for short thin links, continuous
    source: str

    def __post_init__(self) -> None:
        require_line("material id", self.id, least=1)
        require_line("material name", self.name)
        require_text("material source", self.source)
        require_number("resistivity_ohm_m", self.resistivity_ohm_m, above=0, most=1e-3)
        require_number("temperature_coefficient_per_k", self.temperature_coefficient_per_k, least=0, most=0.1)
        for field in ("density_kg_m3", "conductivity_w_mk", "heat_capacity_j_kgk", "melting_c"):
            require_number(field, getattr(self, field), above=0, most=1e5)
        require_pair("current_density_a_mm2", self.current_density_a_mm2)
        low, high = self.current_density_a_mm2
        require_number("current_density_a_mm2", high, above=0, most=1000)
        require_number("current_density_a_mm2", low, above=0, most=high)
