"""Lengths as shown: millimetres or inches. Layouts always hold millimetres."""

from __future__ import annotations

from typing import Literal

Unit = Literal["mm", "inch"]
PER_MM: dict[str, float] = {"mm": 1.0, "inch": 1 / 25.4}
PLACES = {"mm": 2, "inch": 4}  # a hundredth of a millimetre, or a ten-thousandth of an inch (2.5 µm)


def length_text(length_mm: float, unit: Unit, is_signed: bool = False) -> str:
    """Return a length in words.

    >>> length_text(25.4, "inch"), length_text(-0.5, "mm")
    ('1.0000 inch', '−0.50 mm')
    """
    return f"{number_text(length_mm, unit, is_signed)} {unit}"


def number_text(length_mm: float, unit: Unit, is_signed: bool = False) -> str:
    """Return the number alone."""
    sign = "+" if is_signed else ""
    value = round(length_mm * PER_MM[unit], PLACES[unit]) + 0.0  # no minus before a nought
    return f"{value:{sign}.{PLACES[unit]}f}".replace("-", "−")
