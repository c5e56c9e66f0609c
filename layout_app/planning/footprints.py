"""Footprint: where the centres of cells may be, given a housing and a diameter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.distances import signed_distances_mm
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing

if TYPE_CHECKING:
    from shapely import MultiPolygon

TOUCH_MM = 1e-6  # a cell this little too near still counts as touching: 1 nm is far below any drawing's rounding
FLAT_MM = 5e-4  # chords of `region`: half of what boolean work elsewhere uses, so bounds keep four digits
WIDEN_MM = 2e-3  # `region` is this much wider: shrinking drops what is left narrower than about a tenth of it


class NoRoomError(LayoutError):
    """Not a single cell fits the housing."""

    def __init__(self, diameter_mm: float, largest_mm: float, wall_mm: float, keep_out_mm: float) -> None:
        most = f"the widest place takes {largest_mm:.2f} mm" if largest_mm > 0 else "no cell of any size would"
        super().__init__(
            f"No cell of {diameter_mm:g} mm fits the housing: with clearances of {wall_mm:g} mm to the wall and "
            f"{keep_out_mm:g} mm to keep-outs {most}. Use a smaller cell or clearance, or a larger housing."
        )
        self.diameter_mm, self.largest_mm = diameter_mm, largest_mm


@dataclass(frozen=True)
class Footprint:
    """The closed set of points a cell's centre may take.

    `wall_mm` and `keep_out_mm` are least distances from a centre to the outline and to keep-outs: clearance plus
    nominal radius. The set may be empty, or be several pieces.
    """

    outline: Contour
    keep_outs: tuple[Contour, ...]
    wall_mm: float
    keep_out_mm: float

    @classmethod
    def from_housing(cls, housing: Housing, diameter_mm: float) -> Footprint:
        """Return the footprint of cells of a nominal diameter, tolerance not included."""
        return cls(
            outline=housing.outline,
            keep_outs=housing.keep_outs,
            wall_mm=housing.wall_clearance_mm + diameter_mm / 2,
            keep_out_mm=housing.keep_out_clearance_mm + diameter_mm / 2,
        )

    def moved(self, dx_mm: float, dy_mm: float) -> Footprint:
        """Return the footprint shifted by (dx, dy)."""
        outline, *keep_outs = (loop.moved(dx_mm, dy_mm) for loop in (self.outline, *self.keep_outs))
        return replace(self, outline=outline, keep_outs=tuple(keep_outs))

    def margins_mm(self, points_mm: PointArray) -> FloatArray:
        """Return how much further from wall and keep-outs each point is than it must be, mm; negative: not allowed.

        (n, 2) float array in, (n,) float array out; closed form, arcs are not flattened.
        """
        margins = signed_distances_mm(self.outline, points_mm) - self.wall_mm
        for loop in self.keep_outs:
            margins = np.minimum(margins, -signed_distances_mm(loop, points_mm) - self.keep_out_mm)
        return margins

    def contains(self, points_mm: PointArray) -> BoolArray:
        """Return which of (n, 2) points are allowed, touching included."""
        return self.margins_mm(points_mm) >= -TOUCH_MM

    @cached_property
    def region(self) -> MultiPolygon:
        """The footprint with arcs as chords, widened by WIDEN_MM so that it holds every allowed point for certain.

        Chords of a loop may run FLAT_MM on its far side; those about a corner run on the allowed side anyway.
        """
        import shapely

        wall_mm, reach_mm = self.wall_mm - WIDEN_MM, self.keep_out_mm - WIDEN_MM
        allowed = self.outline.polygon(FLAT_MM).buffer(-wall_mm, quad_segs=_quad_segs(wall_mm))
        barred = [loop.polygon(FLAT_MM).buffer(reach_mm, quad_segs=_quad_segs(reach_mm)) for loop in self.keep_outs]
        left = shapely.difference(allowed, shapely.union_all(barred)) if barred else allowed
        return shapely.multipolygons([part for part in shapely.get_parts(left) if part.geom_type == "Polygon"])

    @property
    def area_mm2(self) -> float:
        """Area of the footprint, mm²; right to FLAT_MM along its border."""
        return max(0.0, float(self.region.area - WIDEN_MM * self.region.length))

    @property
    def perimeter_mm(self) -> float:
        """Length of all borders of the footprint, holes included, mm; right to a few WIDEN_MM a corner."""
        return float(self.region.length)

    @property
    def euler_characteristic(self) -> int:
        """Number of pieces less the number of holes."""
        return sum(1 - len(part.interiors) for part in self.region.geoms)


def no_room_error(housing: Housing, diameter_mm: float) -> NoRoomError:
    """Return the error that tells how large a cell could be, for a housing this one does not fit."""
    largest_mm = _largest_diameter_mm(housing, diameter_mm)
    return NoRoomError(diameter_mm, largest_mm, housing.wall_clearance_mm, housing.keep_out_clearance_mm)


def _largest_diameter_mm(housing: Housing, too_large_mm: float) -> float:
    """Diameter of the largest cell that fits, by halving, to 0.01 mm; 0 when none does."""
    fits, fails = 0.0, too_large_mm
    while fails - fits > 0.01:
        half = (fits + fails) / 2
        if Footprint.from_housing(housing, half).region.is_empty:
            fails = half
        else:
            fits = half
    return fits


def _quad_segs(radius_mm: float) -> int:
    """Chords to a quarter circle that stay within FLAT_MM of it: sagitta = r (1 - cos(turn / 2))."""
    half_turn = np.arccos(np.clip(1 - FLAT_MM / max(radius_mm, FLAT_MM), -1, 1))
    return int(np.ceil(np.pi / 4 / max(half_turn, 1e-4)))
