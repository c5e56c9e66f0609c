"""Published rules for fusing and for bond currents, to stand beside what the model of `fuses` says.

They hold for other conditions than a bond's (long wires in free air, pulses so short that nothing is conducted away,
wires inside packages), so they frame the model and do not replace it.
"""

from __future__ import annotations

import math

from layout_app.model.fuse_metals import FuseMetal
from layout_app.model.validation import require_number
from layout_app.physics.bonds import BondWire, Fuse

MM_PER_INCH = 25.4

# A/inch^1.5, Preece, Proc. R. Soc. 1884-88, as a fuse-equation page reproduces them (read)
PREECE_A_PER_INCH = {"copper": 10_244.0, "aluminium": 7_585.0}

# A/inch^1.5 up to 1.0 mm of length and above, MIL-PRF-38535K A.3.5.5.3 (read)
PACKAGE_A_PER_INCH = {"aluminium": (22_000.0, 15_200.0), "copper": (30_000.0, 20_500.0)}
PACKAGE_OTHER_A_PER_INCH = (9_000.0, 6_300.0)
PACKAGE_SHORT_MM = 1.0


def preece_current_a(wire: BondWire) -> float | None:
    """Return what opens a long straight wire in free air by Preece's rule, A; None for metals without a constant.

    Source: Preece, Proc. R. Soc. 1884-88: I = C d^1.5. Bonds are short and cooled by their ends and carry more.
    """
    constant = PREECE_A_PER_INCH.get(_element(wire.metal))
    return None if constant is None else constant * math.pow(wire.diameter_mm / MM_PER_INCH, 1.5)


def preece_side_loss_w_m2k(wire: BondWire, ends_c: float = 25.0) -> float | None:
    """Return the side loss with which a long wire of our model opens at Preece's current, W/(m²·K); None as there.

    Derived: I² ρ(Tm) / A = h π d (Tm − T0); about 222 for 0.30 mm aluminium. It stands for convection and radiation at
    the melting point, so cooler wires lose less.
    """
    current_a = preece_current_a(wire)
    if current_a is None:
        return None
    made_w_m = current_a**2 * wire.metal.resistivity_at_ohm_m(wire.metal.melting_c) / (wire.area_mm2 * 1e-6)
    return made_w_m / (wire.perimeter_mm * 1e-3 * (wire.metal.melting_c - ends_c))


def package_current_a(wire: BondWire) -> float:
    """Return the current MIL-PRF-38535K A.3.5.5.3 allows a wire inside a package, A; a limit, no fusing current."""
    short, longer = PACKAGE_A_PER_INCH.get(_element(wire.metal), PACKAGE_OTHER_A_PER_INCH)
    constant = short if wire.length_mm <= PACKAGE_SHORT_MM else longer
    return constant * math.pow(wire.diameter_mm / MM_PER_INCH, 1.5)


def adiabatic_a_s_mm2(metal: FuseMetal, from_c: float, to_c: float) -> float:
    """Return k in I = k S / √t for a pulse too short for conduction, A·√s/mm².

    Source: IEC 60949 / IEC 60364-5-54 Annex A: k = √(Q (β + 20) / ρ20 × ln((β + θf) / (β + θi))). Valid for times
    far below L² C / (π² k), 0.1 s for 10 mm of aluminium.
    """
    require_number("to_c", to_c, least=from_c)
    alpha = metal.temperature_coefficient_per_k
    rise = to_c - from_c
    if alpha > 0:  # with β = 1 / α − 20 °C; else the limit, where heating is in proportion to time
        ratio = metal.resistivity_at_ohm_m(to_c) / metal.resistivity_at_ohm_m(from_c)
        rise = math.log(ratio) / alpha
    return math.sqrt(metal.heat_capacity_j_m3k / metal.resistivity_ohm_m * rise) * 1e-6


def adiabatic_i2t_a2s(fuse: Fuse) -> tuple[float, float]:
    """Return the joule integral of a very short pulse to first melting and to opening, A²s, for all conductors.

    Derived: to opening, the heat of melting over the hot solid's resistivity is added (10 700 A²s/mm⁴ in aluminium).
    """
    metal = fuse.metal
    section_4 = (fuse.n_conductors * fuse.conductor.area_mm2) ** 2
    to_melting = adiabatic_a_s_mm2(metal, fuse.ends_c, metal.melting_c) ** 2
    while_melting = metal.latent_heat_j_m3 / metal.resistivity_at_ohm_m(metal.melting_c) * 1e-12
    return to_melting * section_4, (to_melting + while_melting) * section_4


def _element(metal: FuseMetal) -> str:
    """Ids begin with the element: "aluminium-wire", "copper-half-hard"."""
    return metal.id.split("-")[0]
