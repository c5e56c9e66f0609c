"""How cells are joined to the metal: bond wires, or a weld of known resistance."""

from __future__ import annotations

from dataclasses import dataclass, field

from layout_app.model.catalogues import wire_metal
from layout_app.model.fuse_metals import FuseMetal
from layout_app.model.validation import require_count, require_number


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSettings:
    """The joint of every cell terminal. With `weld_ohm` given it is a welded tongue, else bond wires.

    Two 0.3 mm aluminium wires of 9 mm, feet of 0.05 mΩ, a tongue 3 mm wide and 4 mm long: common practice, no source.
    """

    wire_metal: FuseMetal = field(default_factory=lambda: wire_metal("aluminium-wire"))
    wire_diameter_mm: float = 0.3
    wire_length_mm: float = 9.0  # of the wire itself, from foot to foot
    n_wires: int = 2
    foot_ohm: float = 5e-5  # from wire to metal at each of its two feet
    weld_ohm: float | None = None
    weld_width_mm: float = 3.0  # of the tongue that is welded down
    neck_length_mm: float = 4.0  # of the tongue, from the sheet to its weld
    busbar_c: float = 25.0  # of the metal at both ends of a bond, when it is looked at as a fuse
    side_loss_w_m2k: float = 0.0  # heat a bond gives off by its side, per area and kelvin; 0 leaves all to its ends

    def __post_init__(self) -> None:
        require_number("wire diameter", self.wire_diameter_mm, above=0, most=10, unit="mm")
        require_number("wire length", self.wire_length_mm, above=0, most=1000, unit="mm")
        require_count("wires in a joint", self.n_wires, least=1, most=100)
        require_number("foot resistance", self.foot_ohm, least=0, most=1, unit="Ω")
        require_number("tongue width", self.weld_width_mm, above=0, most=100, unit="mm")
        require_number("tongue length", self.neck_length_mm, above=0, most=1000, unit="mm")
        melting_c = self.wire_metal.melting_c
        require_number("busbar temperature", self.busbar_c, least=-60, most=min(melting_c - 1, 500), unit="°C")
        require_number("side loss", self.side_loss_w_m2k, least=0, most=1e6, unit="W/(m² K)")
        if self.weld_ohm is not None:
            require_number("weld resistance", self.weld_ohm, above=0, most=1, unit="Ω")
