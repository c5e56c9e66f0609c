"""Cell type: what the data sheet says of one kind of cylindrical cell."""

from dataclasses import dataclass
from typing import Literal, get_args

from layout_app.model.validation import require_choice, require_line, require_number, require_text

Contacts = Literal["opposite ends", "one end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellType:
    """One kind of cell. The can is the negative terminal; the positive one is a button on one end.

    `contacts` says where the metal is joined: "opposite ends" (button on one end, can bottom on the other) or
    "one end" (button and the can's shoulder ring on the same end).
    """

    id: str
    name: str
    diameter_mm: float  # nominal outer diameter, sleeve included
    diameter_tolerance_mm: float  # the can may be this much thicker
    height_mm: float
    mass_g: float
    capacity_ah: float
    voltage_min_v: float
    voltage_nominal_v: float
    voltage_max_v: float
    resistance_ohm: float  # d.c., 10 s, 25 °C, half charged
    continuous_current_a: float
    peak_current_a: float  # ten seconds
    contacts: Contacts
    button_diameter_mm: float  # positive contact
    shoulder_diameter_mm: float  # inner diameter of the shoulder ring, where the can's potential begins
    bottom_diameter_mm: float  # flat of the can bottom that a bond may land on
    source: str = "typical; replace by your data sheet"

    def __post_init__(self) -> None:
        require_line("cell type id", self.id, least=1)
        require_line("cell type name", self.name)
        require_text("cell type source", self.source, longest=400)
        require_choice("cell type contacts", self.contacts, get_args(Contacts))
        require_number("diameter_mm", self.diameter_mm, above=0, most=200)
        require_number("diameter_tolerance_mm", self.diameter_tolerance_mm, least=0, most=self.diameter_mm / 4)
        require_number("height_mm", self.height_mm, above=0, most=1000)
        for field in ("mass_g", "capacity_ah", "voltage_min_v", "resistance_ohm", "continuous_current_a"):
            require_number(field, getattr(self, field), above=0, most=1e5)
        require_number("voltage_nominal_v", self.voltage_nominal_v, least=self.voltage_min_v, most=10)
        require_number("voltage_max_v", self.voltage_max_v, least=self.voltage_nominal_v, most=10)
        require_number("peak_current_a", self.peak_current_a, least=self.continuous_current_a, most=1e5)
        require_number("button_diameter_mm", self.button_diameter_mm, above=0, most=self.diameter_mm)
        require_number(
            "shoulder_diameter_mm", self.shoulder_diameter_mm, least=self.button_diameter_mm, most=self.diameter_mm
        )
        require_number("bottom_diameter_mm", self.bottom_diameter_mm, above=0, most=self.diameter_mm)

    @property
    def largest_diameter_mm(self) -> float:
        """Outer diameter of the thickest can within tolerance; what walls and neighbours must allow for."""
        return self.diameter_mm + self.diameter_tolerance_mm

    @property
    def has_opposite_contacts(self) -> bool:
        """Whether the two terminals are joined on different ends of the cell."""
        return self.contacts == "opposite ends"
