"""The door every value of the model passes: plain checks that raise ValueOutOfRangeError."""

import math
from collections.abc import Collection

from layout_app.model.errors import ValueOutOfRangeError

MAX_CELLS = 100_000  # twelve times the largest rack we know; above it a slip of the keyboard is likelier than a module
MAX_LENGTH_MM = 100_000.0  # no module housing is 100 m long; drawings in wrong units are
MAX_COORDINATE_MM = 1e3 * MAX_LENGTH_MM  # drawings may lie far from their origin, yet 1e8 mm still resolves to 1e-8 mm


def require_number(
    field: str,
    value: float,
    *,
    above: float = -math.inf,
    least: float = -math.inf,
    most: float = math.inf,
    unit: str = "",
) -> None:
    """Raise unless `above < value`, `least <= value <= most` and the value is finite; `unit` is for the message."""
    is_finite = _is_finite(value)
    if is_finite and above < value and least <= value <= most:
        return
    bounds = [] if is_finite else ["a finite number"]
    bounds += [f"more than {above:.8g}"] if above > -math.inf else []
    bounds += [f"at least {least:.8g}"] if least > -math.inf else []
    bounds += [f"at most {most:.8g}"] if most < math.inf else []
    raise ValueOutOfRangeError(field, value, " and ".join(bounds), unit)


def _is_finite(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 1e300  # 10**400 is no float


def require_count(field: str, value: int, *, least: int = 0, most: int = MAX_CELLS) -> None:
    """Raise unless `value` is a whole number from `least` to `most`."""
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise ValueOutOfRangeError(field, value, f"a whole number from {least} to {most}")


def require_flag(field: str, value: bool) -> None:
    """Raise unless `value` is true or false."""
    if not isinstance(value, bool):
        raise ValueOutOfRangeError(field, value, "true or false")


def require_choice(field: str, value: str, choices: Collection[str]) -> None:
    """Raise unless `value` is one of `choices`."""
    if not isinstance(value, str) or value not in choices:
        raise ValueOutOfRangeError(field, value, "one of " + ", ".join(choices))


def require_pair(field: str, value: tuple[object, object]) -> None:
    """Raise unless `value` is a tuple of two."""
    if not isinstance(value, tuple) or len(value) != 2:
        raise ValueOutOfRangeError(field, value, "a pair")


def require_place(field: str, value: tuple[float, float]) -> None:
    """Raise unless `value` is a pair of coordinates in mm within MAX_COORDINATE_MM of the origin."""
    require_pair(field, value)
    for coordinate_mm in value:
        require_number(field, coordinate_mm, least=-MAX_COORDINATE_MM, most=MAX_COORDINATE_MM)


def require_text(field: str, value: str, *, longest: int = 2000) -> None:
    """Raise unless `value` is text of a reasonable length that UTF-8 can hold."""
    if not isinstance(value, str) or len(value) > longest:
        raise ValueOutOfRangeError(field, value, f"text of at most {longest} characters")
    try:
        value.encode()
    except UnicodeEncodeError:  # half a surrogate pair, which no file could keep
        raise ValueOutOfRangeError(field, value, "text of whole Unicode characters") from None


def require_line(field: str, value: str, *, least: int = 0, longest: int = 200) -> None:
    """Raise unless `value` is one line of text with at least `least` characters that are not blank."""
    require_text(field, value, longest=longest)
    if value.splitlines() not in ([], [value]) or min(value, default=" ") < " ":
        raise ValueOutOfRangeError(field, value, "one line of text without control characters")
    if len(value.strip()) < least:
        raise ValueOutOfRangeError(field, value, "a word, not blank")
