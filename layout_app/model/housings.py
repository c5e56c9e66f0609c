"""Housing: the inner wall and the keep-outs a mechanical team hands over, with the clearances to both."""

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.validation import MAX_COORDINATE_MM, MAX_LENGTH_MM, require_count, require_number, require_text

MAX_KEEP_OUTS = 10_000
MAX_VERTICES = 100_000
MAX_BULGE = 1e6  # an arc within a few µrad of the full turn; beyond it the radius loses all digits
LEAST_BULGE = 1e-12  # an arc this flat is straight: 0.1 nm of sagitta on 100 m
LEAST_AREA_MM2 = 1e-3  # smaller than any burr, larger than the rounding of a 100 m loop's area


@dataclass(frozen=True, slots=True, kw_only=True)
class Housing:
    """The space cells may stand in, in the drawing's own coordinates.

    `wall_clearance_mm` and `keep_out_clearance_mm` are from a cell's can to the wall or keep-out. Contours run
    counter-clockwise, whatever way they were drawn.
    """

    outline: Contour
    keep_outs: tuple[Contour, ...] = ()
    wall_clearance_mm: float = 1.0
    keep_out_clearance_mm: float = 1.0
    source: str = ""  # e.g. "orchard_rover_tray.dxf, millimetres from the drawing"

    def __post_init__(self) -> None:
        require_count("number of keep-outs", len(self.keep_outs), most=MAX_KEEP_OUTS)
        object.__setattr__(self, "outline", as_loop("The housing's outline", self.outline))
        loops = (as_loop(f"Keep-out {k}", loop) for k, loop in enumerate(self.keep_outs, 1))
        object.__setattr__(self, "keep_outs", tuple(loops))
        require_number("wall clearance", self.wall_clearance_mm, least=0, most=1000, unit="mm")
        require_number("keep-out clearance", self.keep_out_clearance_mm, least=0, most=1000, unit="mm")
        require_text("housing source", self.source)
        x_min, y_min, x_max, y_max = self.outline.bounds_mm
        _require_size("The housing", x_max - x_min, y_max - y_min)

    @property
    def free_area_mm2(self) -> float:
        """Area inside the outline less the keep-outs, mm²."""
        return self.outline.area_mm2 - sum(loop.area_mm2 for loop in self.keep_outs)


def as_loop(what: str, loop: Contour) -> Contour:
    """Return a loop that can be computed with, running counter-clockwise; raise where that is not possible."""
    require_count(f"{what}: number of vertices", len(loop.bulges), most=MAX_VERTICES)
    if not np.abs(loop.vertices_mm).max() <= MAX_COORDINATE_MM or not np.abs(loop.bulges).max() <= MAX_BULGE:
        raise LayoutError(
            f"{what} has a vertex further than {MAX_COORDINATE_MM:g} mm from the origin or an arc with a bulge beyond "
            f"{MAX_BULGE:g}. Draw it nearer, and arcs shorter than a full turn."
        )
    _require_size(what, *np.ptp(loop.vertices_mm, axis=0).tolist())
    try:
        loop = _tidied(loop)
    except ValueError:  # nothing but edges without length
        raise LayoutError(f"{what} is a single point. Draw it as one closed loop.") from None
    if not abs(loop.area_mm2) >= LEAST_AREA_MM2:
        raise LayoutError(f"{what} encloses no area. Draw it as one closed loop.")
    return loop.counter_clockwise()


def _tidied(loop: Contour) -> Contour:
    """Return a loop without hair-thin arcs and without edges that have no length; a tidy one as it is."""
    hair = (loop.bulges != 0) & (np.abs(loop.bulges) < LEAST_BULGE)
    loop = Contour(loop.vertices_mm, np.where(hair, 0.0, loop.bulges)) if hair.any() else loop
    shorter = loop.without_null_edges()
    while shorter is not loop:  # taking a vertex out may shorten the edge before it
        loop, shorter = shorter, shorter.without_null_edges()
    return loop


def _require_size(what: str, width_mm: float, height_mm: float) -> None:
    if not max(width_mm, height_mm) <= MAX_LENGTH_MM:
        raise LayoutError(
            f"{what} is {width_mm:.0f} × {height_mm:.0f} mm; at most {MAX_LENGTH_MM:.0f} mm fits. "
            "Check the units of the drawing."
        )
