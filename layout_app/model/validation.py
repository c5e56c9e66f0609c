"""The door every value of the model passes: plain checks that raise ValueOutOfRangeError."""

import math
from collections.abc import Collection

from layout_app.model.errors import ValueOutOfRangeError

MAX_CELLS = 100_000  # twelve times the largest rack we know; above it a slip of the keyboard is likelier than a module
MAX_LENGTH_MM = 100_000.0  # no module housing is 100 m long; drawings in wrong units are


def require_number(
    field: str, value: float, *, above: float = -math.inf, least: float = -math.inf, most: float = math.inf
) -> None:
    """Raise unless `above < value`, `least <= value <= most` and the value is finite."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if is_number and above < value and least <= value <= most:
        return
    bounds = [f"more than {above:g}"] if above > -math.inf else []
    bounds += [f"at least {least:g}"] if least > -math.inf else []
    bounds += [f"at most {most:g}"] if most < math.inf else []
    raise ValueOutOfRangeError(field, value, " and ".join(["a finite number", *bounds]))


def require_count(field: str, value: int, *, least: int = 0, most: int = MAX_CELLS) -> None:
    """Raise unless `value` is a whole number from `least` to `most`."""
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise ValueOutOfRangeError(field, value, f"a whole number from {least} to {most}")


def require_choice(field: str, value: str, choices: Collection[str]) -> None:
    """Raise unless `value` is one of `choices`."""
    if value not in choices:
        raise ValueOutOfRangeError(field, value, "one of " + ", ".join(choices))


def require_text(field: str, value: str, *, longest: int = 2000) -> None:
    """Raise unless `value` is text of a reasonable length."""
    if not isinstance(value, str) or len(value) > longest:
        raise ValueOutOfRangeError(
            field, value if not isinstance(value, str) else value[:20] + "…", f"text of at most {longest} characters"
        )
