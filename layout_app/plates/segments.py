"""Segment: one piece of busbar, as derived from a layout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.contours import CHORD_TOLERANCE_MM, Contour
from layout_app.geometry.regions import Region
from layout_app.model.materials import Material
from layout_app.model.plates import Face

if TYPE_CHECKING:
    from shapely import MultiPolygon


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segment:
    """One busbar segment, seen from above, in layout coordinates.

    Attributes
    ----------
    number : 0…S
    face : the face it lies on
    pieces : outlines with the holes keep-outs make, windows not taken out; one piece in a sound layout, none when
        no cell is under it, several when its cells are split
    windows_mm : (w, 3) float array: x, y, radius of the round opening over each of its cells
    window_cells : (w,) int array: the cell (index) under each window
    is_positive_end : (w,) bool array: whether the cell's positive end is under that window
    bolt_hole_mm : x, y, radius of the terminal's bolt hole, or None
    more_bolt_holes_mm : those of its further tabs, if it has any
    """

    number: int
    face: Face
    pieces: tuple[Region, ...]
    windows_mm: FloatArray
    window_cells: IntArray
    is_positive_end: np.ndarray
    bolt_hole_mm: tuple[float, float, float] | None
    material: Material
    thickness_mm: float
    more_bolt_holes_mm: tuple[tuple[float, float, float], ...] = ()

    @property
    def bolt_holes_mm(self) -> tuple[tuple[float, float, float], ...]:
        """x, y, radius of every bolt hole, that of the first tab first."""
        return () if self.bolt_hole_mm is None else (self.bolt_hole_mm, *self.more_bolt_holes_mm)

    @property
    def circles_mm(self) -> FloatArray:
        """(w + bolt holes, 3): x, y, radius of every round hole: windows, then bolt holes."""
        return np.vstack([self.windows_mm, *self.bolt_holes_mm]) if self.bolt_holes_mm else self.windows_mm

    @property
    def window_centres_mm(self) -> PointArray:
        """(w, 2): where the windows are."""
        return self.windows_mm[:, :2]

    @property
    def area_mm2(self) -> float:
        """Metal area with windows and holes taken out, mm²."""
        return sum(piece.area_mm2 for piece in self.pieces) - float(np.pi * (self.circles_mm[:, 2] ** 2).sum())

    @property
    def mass_g(self) -> float:
        """Mass of the finished piece, g."""
        return self.area_mm2 * self.thickness_mm * self.material.density_kg_m3 * 1e-6

    @property
    def perimeter_mm(self) -> float:
        """Length of the outer outlines, mm."""
        return sum(piece.outline.perimeter_mm for piece in self.pieces)

    @property
    def cut_length_mm(self) -> float:
        """Length of all cuts: outlines, holes and windows, mm."""
        return sum(piece.perimeter_mm for piece in self.pieces) + float(2 * np.pi * self.circles_mm[:, 2].sum())

    def contours(self) -> tuple[Contour, ...]:
        """Return the outlines and non-round holes, outlines first."""
        return tuple(p.outline for p in self.pieces) + tuple(hole for p in self.pieces for hole in p.holes)

    def metal(self, tolerance_mm: float = CHORD_TOLERANCE_MM) -> MultiPolygon:
        """Return the finished metal, windows and holes taken out, arcs as chords."""
        import shapely

        solid = shapely.multipolygons([piece.polygon(tolerance_mm) for piece in self.pieces])
        circles = [Contour.circle(*circle).polygon(tolerance_mm) for circle in self.circles_mm]
        cut = shapely.difference(solid, shapely.union_all(circles))
        return shapely.multipolygons(shapely.get_parts(cut))
