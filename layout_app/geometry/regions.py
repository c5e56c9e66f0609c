"""Region: one connected piece of the plane, an outline with holes, arcs exact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout_app.geometry.contours import CHORD_TOLERANCE_MM, Contour

if TYPE_CHECKING:
    from shapely import Polygon


@dataclass(frozen=True, slots=True)
class Region:
    """An outline, counter-clockwise, and the holes in it, each counter-clockwise too."""

    outline: Contour
    holes: tuple[Contour, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Exact area, holes taken out, mm²."""
        return abs(self.outline.area_mm2) - sum(abs(hole.area_mm2) for hole in self.holes)

    @property
    def perimeter_mm(self) -> float:
        """Exact length of the outline and all holes, mm."""
        return self.outline.perimeter_mm + sum(hole.perimeter_mm for hole in self.holes)

    def polygon(self, tolerance_mm: float = CHORD_TOLERANCE_MM) -> Polygon:
        """Return the region with arcs flattened, as a shapely polygon."""
        from shapely import Polygon

        return Polygon(self.outline.flattened(tolerance_mm), [hole.flattened(tolerance_mm) for hole in self.holes])
