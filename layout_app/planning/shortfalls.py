"""Shortfalls: when fewer cells fit than asked for, which gap or clearance would let them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from layout_app.model.cell_types import CellType
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.planning.filling import Arrangement, arrangements

TENTHS = 10  # gaps and clearances are proposed in tenths of a millimetre


@dataclass(frozen=True)
class Remedy:
    """A length that would have to shrink: "gap", "wall clearance" or "keep-out clearance", and to what, mm."""

    what: str
    mm: float


class TooFewSitesError(LayoutError):
    """Fewer cells fit than asked for."""

    def __init__(
        self, n_fit: int, n_series: int, n_parallel: int, gap_mm: float, wall_mm: float, remedies: tuple[Remedy, ...]
    ) -> None:
        n_asked, n_less = n_series * n_parallel, n_fit // n_series
        fewer = f"ask for {n_series} × {n_less} cells" if n_less else "ask for fewer cells"
        ways = " or ".join(f"a {remedy.what} of {remedy.mm:.1f} mm" for remedy in remedies)
        advice = f"{ways[0].upper()}{ways[1:]} would let them fit" if ways else "No smaller gap or clearance would do"
        super().__init__(
            f"{n_series} × {n_parallel} = {n_asked} cells are asked for, but at most {n_fit} fit with a gap of "
            f"{gap_mm:g} mm and a wall clearance of {wall_mm:g} mm. {advice}; else {fewer} or use a smaller cell."
        )
        self.n_fit, self.n_asked, self.remedies = n_fit, n_asked, remedies


def remedies(
    housing: Housing, cell_type: CellType, gap_mm: float, fullest: Arrangement, n_asked: int
) -> tuple[Remedy, ...]:
    """Return the largest smaller gap, wall clearance and keep-out clearance that would each let the cells fit.

    Each is searched alone, with rows along the direction of the fullest arrangement, and rounded down to 0.1 mm. Those
    that would not do at zero are left out.
    """

    def fits(in_housing: Housing, with_gap_mm: float) -> bool:
        kind, angle_rad = fullest.lattice.kind, fullest.lattice.angle_rad
        found = arrangements(in_housing, cell_type, gap_mm=with_gap_mm, kinds=(kind,), angles_rad=(angle_rad,))
        return max(map(len, found), default=0) >= n_asked

    def with_wall(mm: float) -> bool:
        return fits(replace(housing, wall_clearance_mm=mm), gap_mm)

    def with_keep_out(mm: float) -> bool:
        return fits(replace(housing, keep_out_clearance_mm=mm), gap_mm)

    lengths = [("gap", gap_mm, lambda mm: fits(housing, mm)), ("wall clearance", housing.wall_clearance_mm, with_wall)]
    if housing.keep_outs:
        lengths.append(("keep-out clearance", housing.keep_out_clearance_mm, with_keep_out))
    found = [(what, _largest_mm(now_mm, does)) for what, now_mm, does in lengths]
    return tuple(Remedy(what, mm) for what, mm in found if mm is not None)


def _largest_mm(now_mm: float, does: Callable[[float], bool]) -> float | None:
    """Return the largest whole number of tenths below `now_mm` that does, by halving; None when zero does not."""
    if now_mm <= 0 or not does(0.0):
        return None
    low, high = 0, int(now_mm * TENTHS - 1e-9) + 1  # `low` does, `high` does not
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if does(middle / TENTHS) else (low, middle)
    return low / TENTHS
