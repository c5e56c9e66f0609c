"""Limits: every number a check compares with, settable, with the source of its default."""

from dataclasses import dataclass, fields
from typing import ClassVar

from layout_app.model.validation import require_number


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the checks hold a layout to. `SOURCES` says where each default comes from."""

    touch_voltage_v: float = 60.0
    extra_low_voltage_v: float = 120.0
    cell_gap_mm: float = 0.5
    web_per_thickness: float = 1.0  # least web as a multiple of the sheet's thickness
    bolt_margin_per_hole: float = 0.59  # least metal beside a bolt hole as a multiple of the hole's diameter

    SOURCES: ClassVar[dict[str, str]] = {
        "touch_voltage_v": "60 V d.c., touchable without basic protection in dry places: IEC 61140 / IEC 60364-4-41 "
        "(read second hand)",
        "extra_low_voltage_v": "120 V ripple-free d.c., extra-low voltage: IEC 62257-7-1:2010 3.55 (read)",
        "cell_gap_mm": "0.5 to 2 mm between cans is typical: common practice, no source; practice is divided",
        "web_per_thickness": "laser-cut sheet, web between cuts at least its thickness: cutting shops' design "
        "rules (read); one allows 0.7",
        "bolt_margin_per_hole": "derived from the narrowest bar DIN 43673 gives a bolt, 12 mm for M5 with its 5.5 mm "
        "hole: (12 − 5.5) / 2 / 5.5 (read second hand)",
    }

    def __post_init__(self) -> None:
        for field in fields(self):
            require_number(field.name, getattr(self, field.name), least=0, most=1e6)
