"""Limits: every number a check compares with, settable, with the source of its default."""

from dataclasses import dataclass, fields
from typing import ClassVar

from layout_app.model.validation import require_number

UNITS = {"v": "V", "mm": "mm", "s": "s", "ohm": "Ω"}
BOUNDS: dict[
    str, tuple[float, float]
] = {  # more than, at most: what keeps the rules that use a limit from dividing by nothing
    "imbalance": (0.0, 1e3),
    "bond_share": (0.0, 1.0),
    "bond_peak_margin": (0.0, 1e3),
    "fault_s": (0.0, 1e6),
    "cell_fault_ohm": (0.0, 1e3),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the checks hold a layout to. `SOURCES` says where each default comes from."""

    touch_voltage_v: float = 60.0
    extra_low_voltage_v: float = 120.0
    cell_gap_mm: float = 0.5
    web_per_thickness: float = 1.0  # least web as a multiple of the sheet's thickness
    bolt_margin_per_hole: float = 0.59  # least metal beside a bolt hole as a multiple of the hole's diameter
    imbalance: float = 1.1  # a cell's current over the mean of its group, at most
    metal_loss_share: float = 0.01  # of the module's power at its continuous current, in joints and segments
    sense_error_v: float = 0.01  # between lands of one segment at the continuous current: what a sense tap may be off
    bond_share: float = 1 / 3  # of the current that opens a bond, carried for ever
    bond_peak_margin: float = 1.25  # the current that opens a bond within the peak over the peak, at least
    fault_s: float = 10.0  # how long neighbours can be relied on to feed a fault
    cell_fault_ohm: float = 5e-3  # inside a cell that is shorted
    outside_short_ohm: float = 0.0  # between the shorted terminals
    arc_voltage_v: float = 10.0  # from here on a parting metal may hold an arc

    SOURCES: ClassVar[dict[str, str]] = {
        "touch_voltage_v": "60 V d.c., touchable without basic protection in dry places: IEC 61140 / IEC 60364-4-41 "
        "(read second hand)",
        "extra_low_voltage_v": "120 V ripple-free d.c., extra-low voltage: IEC 62257-7-1:2010 3.55 (read)",
        "cell_gap_mm": "0.5 to 2 mm between cans is typical: common practice, no source; practice is divided",
        "web_per_thickness": "laser-cut sheet, web between cuts at least its thickness: cutting shops' design "
        "rules (read); one allows 0.7",
        "bolt_margin_per_hole": "derived from the narrowest bar DIN 43673 gives a bolt, 12 mm for M5 with its 5.5 mm "
        "hole: (12 − 5.5) / 2 / 5.5 (read second hand)",
        "imbalance": "a tenth over the mean: common practice, no source; practice is divided",
        "metal_loss_share": "a hundredth of the power: common practice, no source",
        "sense_error_v": "a few millivolts is what cell monitors resolve: common practice, no source",
        "bond_share": "a bonding-wire maker's advice for fine wires: design at one third of the opening current (read)",
        "bond_peak_margin": "derived: the model is known to meet bonds in the field to ±25 % (one cell bond, trade "
        "forum, read second hand)",
        "fault_s": "what a data sheet's peak current is given for: common practice, no source",
        "cell_fault_ohm": "a few milliohms are left inside a shorted cell: common practice, no source",
        "outside_short_ohm": "no resistance outside is the worst case: chosen",
        "arc_voltage_v": "metals part without a lasting arc below 12 to 15 V: Holm, Electric Contacts, from memory",
    }

    WORDS: ClassVar[dict[str, str]] = {  # what people call each
        "touch_voltage_v": "touch voltage limit",
        "extra_low_voltage_v": "extra-low voltage limit",
        "cell_gap_mm": "least cell gap",
        "web_per_thickness": "web per sheet thickness",
        "bolt_margin_per_hole": "bolt margin per hole",
        "imbalance": "imbalance limit",
        "metal_loss_share": "loss share of joints and metal",
        "sense_error_v": "sense error limit",
        "bond_share": "bond rating share",
        "bond_peak_margin": "bond peak margin",
        "fault_s": "feeding time of a fault",
        "cell_fault_ohm": "resistance of a cell's fault",
        "outside_short_ohm": "resistance of an outside short",
        "arc_voltage_v": "arc voltage",
    }

    def __post_init__(self) -> None:
        for name in (field.name for field in fields(self)):
            words, value, unit = self.WORDS.get(name, name), getattr(self, name), self.unit_of(name)
            if name in BOUNDS:
                above, most = BOUNDS[name]
                require_number(words, value, above=above, most=most, unit=unit)
            else:
                require_number(words, value, least=0, most=1e6, unit=unit)

    @staticmethod
    def unit_of(name: str) -> str:
        """Return the unit of a limit, by the end of its name; nothing for a plain number.

        >>> Limits.unit_of("arc_voltage_v"), Limits.unit_of("imbalance")
        ('V', '')
        """
        return UNITS.get(name.rpartition("_")[2], "")
