"""Housing: the inner wall and the keep-outs a mechanical team hands over, with the clearances to both."""

from dataclasses import dataclass

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.validation import MAX_LENGTH_MM, require_number, require_text


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
        object.__setattr__(self, "outline", self.outline.counter_clockwise())
        object.__setattr__(self, "keep_outs", tuple(loop.counter_clockwise() for loop in self.keep_outs))
        require_number("wall clearance", self.wall_clearance_mm, least=0, most=1000)
        require_number("keep-out clearance", self.keep_out_clearance_mm, least=0, most=1000)
        require_text("housing source", self.source)
        if not self.outline.area_mm2 > 0:
            raise LayoutError("The housing's outline encloses no area. Draw it as one closed loop.")
        x_min, y_min, x_max, y_max = self.outline.bounds_mm
        if max(x_max - x_min, y_max - y_min) > MAX_LENGTH_MM:
            raise LayoutError(
                f"The housing is {x_max - x_min:.0f} × {y_max - y_min:.0f} mm; at most {MAX_LENGTH_MM:.0f} mm fits. "
                "Check the units of the drawing."
            )

    @property
    def free_area_mm2(self) -> float:
        """Area inside the outline less the keep-outs, mm²."""
        return self.outline.area_mm2 - sum(loop.area_mm2 for loop in self.keep_outs)
