"""Upper bounds on how many cells can stand in a footprint, whatever their arrangement."""

import math

from layout_app.planning.footprints import Footprint


def oler_bound(area_mm2: float, perimeter_mm: float, pitch_mm: float) -> float:
    """Return 2 A / (√3 p²) + P / (2 p) + 1, which no packing in a compact convex set exceeds.

    Source: Groemer 1960; Oler, Acta Math. 105 (1961).
    """
    return 2 * area_mm2 / (math.sqrt(3) * pitch_mm**2) + perimeter_mm / (2 * pitch_mm) + 1


def upper_bound(footprint: Footprint, pitch_mm: float) -> int:
    """Return a number of cells that is never exceeded."""
    hull = footprint.region.convex_hull
    return math.floor(oler_bound(hull.area, hull.length, pitch_mm) + 1e-6)
