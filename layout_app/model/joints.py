"""How cells are joined to the metal: bond wires, or a weld of known resistance."""

from __future__ import annotations

from dataclasses import dataclass

from layout_app.model.validation import require_count, require_line, require_number


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSettings:
    """The joint of every cell terminal. With `weld_ohm` given it is a weld of that resistance, else bond wires.

    Two 0.3 mm aluminium wires of 9 mm, feet of 0.05 mΩ, three diameters long and 1.4 wide: common practice, no source.
    The wires' resistivity is that of pure aluminium at 20 °C, CRC Handbook (read).
    """

    wire_metal: str = "aluminium-wire"
    wire_resistivity_ohm_m: float = 2.65e-8
    wire_diameter_mm: float = 0.3
    wire_length_mm: float = 9.0  # of the wire itself, from foot to foot
    n_wires: int = 2
    foot_ohm: float = 5e-5  # from wire to metal at each of its two feet
    weld_ohm: float | None = None
    weld_width_mm: float = 3.0  # of the tongue that is welded down, at its root

    def __post_init__(self) -> None:
        require_line("wire metal", self.wire_metal, least=1)
        require_number("wire resistivity", self.wire_resistivity_ohm_m, above=0, most=1e-3)
        require_number("wire diameter", self.wire_diameter_mm, above=0, most=10)
        require_number("wire length", self.wire_length_mm, above=0, most=1000)
        require_count("wires in a joint", self.n_wires, least=1, most=100)
        require_number("foot resistance", self.foot_ohm, least=0, most=1)
        require_number("weld width", self.weld_width_mm, above=0, most=100)
        if self.weld_ohm is not None:
            require_number("weld resistance", self.weld_ohm, above=0, most=1)
