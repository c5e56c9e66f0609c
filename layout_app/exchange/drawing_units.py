"""Drawing units: what a number in a drawing means, by its header, by request, or by a stated assumption."""

from __future__ import annotations

from dataclasses import dataclass

from layout_app.model.errors import ValueOutOfRangeError

FROM_THE_DRAWING = "from the drawing"
AS_ASKED = "as asked"
ASSUMED = "assumed: the drawing names none"


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthUnit:
    """One unit of length; `code` is its $INSUNITS."""

    code: int
    name: str
    plural: str
    mm: float
    symbols: tuple[str, ...] = ()


def _unit(code: int, name: str, mm: float, *symbols: str, plural: str = "") -> LengthUnit:
    return LengthUnit(code=code, name=name, plural=plural or name + "s", mm=mm, symbols=symbols)


_SURVEY_FOOT_MM = 1_200_000 / 3937  # U.S. survey foot, exactly 1200/3937 m: NIST SP 811 B.6, from memory

# Codes: values.md section 14, system-variable reference (read); 22 to 24 from memory. Lengths of inch, foot, yard and
# mile follow from 1 in = 25.4 mm exactly; astronomical ones: IAU 2012 B2 (au) and 2015 B2 (pc), from memory.
UNITS: tuple[LengthUnit, ...] = (
    _unit(1, "inch", 25.4, "in", '"', plural="inches"),
    _unit(2, "foot", 304.8, "ft", plural="feet"),
    _unit(3, "mile", 1_609_344.0, "mi"),
    _unit(4, "millimetre", 1.0, "mm", "millimeter", "millimeters"),
    _unit(5, "centimetre", 10.0, "cm", "centimeter", "centimeters"),
    _unit(6, "metre", 1e3, "m", "meter", "meters"),
    _unit(7, "kilometre", 1e6, "km", "kilometer", "kilometers"),
    _unit(8, "microinch", 25.4e-6, "µin", "uin", plural="microinches"),
    _unit(9, "mil", 0.0254, "thou"),
    _unit(10, "yard", 914.4, "yd"),
    _unit(11, "ångström", 1e-7, "angstrom", "angstroms", "å"),
    _unit(12, "nanometre", 1e-6, "nm", "nanometer", "nanometers"),
    _unit(13, "micrometre", 1e-3, "µm", "um", "micron", "microns", "micrometer", "micrometers"),
    _unit(14, "decimetre", 100.0, "dm", "decimeter", "decimeters"),
    _unit(15, "decametre", 1e4, "dam", "decameter", "decameters"),
    _unit(16, "hectometre", 1e5, "hm", "hectometer", "hectometers"),
    _unit(17, "gigametre", 1e12, "gm", "gigameter", "gigameters"),
    _unit(18, "astronomical unit", 149_597_870_700e3, "au"),
    _unit(19, "light year", 9_460_730_472_580_800e3, "ly"),
    _unit(20, "parsec", 3.085_677_581_491_367e19, "pc"),
    _unit(21, "US survey foot", _SURVEY_FOOT_MM, plural="US survey feet"),
    _unit(22, "US survey inch", _SURVEY_FOOT_MM / 12, plural="US survey inches"),
    _unit(23, "US survey yard", _SURVEY_FOOT_MM * 3),
    _unit(24, "US survey mile", _SURVEY_FOOT_MM * 5280),
)
USUAL = ("mm", "cm", "m", "inch", "foot", "mil")  # what a message offers
_BY_CODE = {unit.code: unit for unit in UNITS}
_BY_WORD = {word.casefold(): unit for unit in UNITS for word in (unit.name, unit.plural, *unit.symbols)}
MILLIMETRE = _BY_CODE[4]

LARGEST_HOUSING_MM = 20_000.0  # own limit: a freight container is 12 m long; wrong units soon pass it
USUAL_HOUSING_MM = (50.0, 5000.0)  # what a drawing without a word on units is likely to be


def unit_named(word: str) -> LengthUnit:
    """Return the unit a user asked for.

    Raises
    ------
    ValueOutOfRangeError : no such unit

    >>> unit_named("inches").mm
    25.4
    """
    unit = _BY_WORD.get(word.strip().casefold()) if isinstance(word, str) else None
    if unit is None:
        raise ValueOutOfRangeError("drawing unit", word, "one of " + ", ".join(USUAL))
    return unit


def unit_of_code(code: object) -> LengthUnit | None:
    """Return the unit of an $INSUNITS value; None for 0, for a code nobody defined and for what is no number."""
    return _BY_CODE.get(code) if isinstance(code, int) else None


def in_other_units(length_mm: float, unit: LengthUnit, least_mm: float, most_mm: float) -> str:
    """Return what a drawn length would be in those everyday units that bring it between two lengths; "" if none do.

    >>> in_other_units(420e3, unit_named("m"), 50, 5000)
    '420 mm in millimetres, 4200 mm in centimetres'
    """
    drawn = length_mm / unit.mm
    others = [
        other for word in USUAL if (other := unit_named(word)) != unit and least_mm <= drawn * other.mm <= most_mm
    ]
    return ", ".join(f"{drawn * other.mm:.4g} mm in {other.plural}" for other in others)
