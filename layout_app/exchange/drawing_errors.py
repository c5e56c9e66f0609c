"""What can be wrong with a housing drawing. Each message says what, where, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from layout_app.exchange.drawing_units import LengthUnit
from layout_app.geometry.edges import Edges
from layout_app.model.errors import FileError

Place = tuple[float, float]
JOIN_MM = 0.01  # loose ends joined within this: a drawing's slips, far below any tolerance of a housing
MOST_JOIN_MM = 10.0  # above it, separate features would be joined


class DrawingError(FileError):
    """A housing drawing is not usable. `drawn` holds its edges, in mm, where they could be read."""

    drawn: Edges | None = None


class UnreadableDrawingError(DrawingError):
    """The file is missing, damaged, or no DXF."""


class NoLayerError(DrawingError):
    """A layer asked for is not in the drawing."""

    def __init__(self, file: Path, layer: str, layers: Sequence[str]) -> None:
        super().__init__(file, f"there is no layer {layer!r}. Ask for one of: {', '.join(layers) or 'none'}.")
        self.layer, self.layers = layer, tuple(layers)


class NothingClosedError(DrawingError):
    """No closed loop, and nothing that nearly is one."""


class OpenOutlineError(DrawingError):
    """The outline has a gap. `ends_mm` are the two ends, `gap_mm` is how far apart they are."""

    def __init__(
        self,
        file: Path,
        ends_mm: tuple[Place, Place],
        n_ends: int,
        join_mm: float,
        unit: LengthUnit,
        *,
        has_loops: bool = False,
    ) -> None:
        (x0, y0), (x1, y1) = ends_mm
        gap_mm = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        others = f" ({n_ends} loose ends in all; these are the nearest)" if n_ends > 2 else ""
        ways = ["Close it in the drawing"]
        ways += [f"have ends up to {gap_mm:.3g} mm apart joined (now {join_mm:g} mm)"] if gap_mm <= MOST_JOIN_MM else []
        ways += ["ask for the layer of the inner wall, if this is not it"] if has_loops else []
        super().__init__(
            file,
            f"the outline is open: it ends at {place_text(ends_mm[0], unit)} and at {place_text(ends_mm[1], unit)}, "
            f"{length_text(gap_mm, unit)} apart{others}. {', or '.join(ways)}.",
        )
        self.ends_mm, self.gap_mm, self.n_ends = ends_mm, gap_mm, n_ends


class SelfCrossingError(DrawingError):
    """A loop crosses or touches itself at `place_mm`."""

    def __init__(self, file: Path, role: str, layer: str, place_mm: Place, unit: LengthUnit) -> None:
        super().__init__(
            file,
            f"the {role} on layer {layer} crosses or touches itself at {place_text(place_mm, unit)}. "
            "Redraw it there as one simple loop.",
        )
        self.place_mm, self.layer = place_mm, layer


class DrawingSizeError(DrawingError):
    """The outline, or a coordinate, is larger than any housing."""


def printable(text: str) -> str:
    """Return text any terminal and file takes: bytes that are no text, and control characters, become "?"."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def length_text(length_mm: float, unit: LengthUnit) -> str:
    """Return a length in mm and, where the drawing has another unit, in that too.

    >>> from layout_app.exchange.drawing_units import unit_named
    >>> length_text(50.8, unit_named("inch"))
    '50.8 mm (2 inches)'
    """
    drawn = "" if unit.mm == 1 else f" ({length_mm / unit.mm:.6g} {unit.plural})"
    return f"{length_mm:.6g} mm{drawn}"


def place_text(place_mm: Place, unit: LengthUnit) -> str:
    """Return "(x, y) mm" and, where the drawing has another unit, the same in that."""
    x, y = place_mm
    drawn = "" if unit.mm == 1 else f" = ({_plain(x / unit.mm)}, {_plain(y / unit.mm)}) {unit.plural}"
    return f"({_plain(x)}, {_plain(y)}) mm{drawn}"


def _plain(value: float) -> str:
    """Return a coordinate without the noise of its last digits."""
    return f"{round(value, 4) + 0.0:.10g}"
