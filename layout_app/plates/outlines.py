"""Outlines: from the territories of a segment's cells to the contour a machine can cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.clearing import Clearing, polygons_in, quarter_chords
from layout_app.geometry.contours import Contour
from layout_app.geometry.recovery import with_arcs
from layout_app.geometry.regions import Region
from layout_app.geometry.rounding import CornerTooTightError, rounded
from layout_app.geometry.territories import Territories
from layout_app.plates.borders import Straightening, straightened
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

CORNER_RAD = 0.1  # chords of an arc turn less than this, corners worth an arc of their own more
MITRE_LIMIT = 10.0  # borders turn by 60° or 90°; the limit only tames slivers


def territory(grounds: Territories, walks: list[IntArray], rules: Straightening | None = None) -> BaseGeometry:
    """Return the area inside closed walks over corners, reaching far beyond the housing; straightened by `rules`."""
    import shapely

    rings = [grounds.corners_mm[walk] if rules is None else straightened(grounds, walk, rules) for walk in walks]
    contours = [Contour(ring) for ring in rings]
    outer = [contour.polygon() for contour in contours if contour.area_mm2 > 0]
    holes = [contour.polygon() for contour in contours if contour.area_mm2 <= 0]
    whole = shapely.multipolygons(outer) if len(outer) > 1 else outer[0]
    return shapely.difference(whole, shapely.multipolygons(holes)) if holes else whole


def outline_pieces(
    area: BaseGeometry,
    clearing: Clearing,
    *,
    gap_mm: float,
    radius_mm: float,
    tab: Tab | None,
    housing: Polygon,
    cells_mm: PointArray,
) -> tuple[Region, ...]:
    """Return the regions of metal over `area`, largest first.

    Parameters
    ----------
    area : the territory of the segment's cells
    clearing : where metal may lie
    gap_mm : insulation gap to every other segment; each side of a border gives half of it
    radius_mm : least radius of every corner
    tab : the terminal's strip, or None
    housing : the housing's outline; beyond it a tab has no neighbours to keep clear of
    cells_mm : (n, 2) centres of the segment's cells; scraps of metal without a cell are dropped
    """
    import shapely

    own = shapely.buffer(area, -gap_mm / 2, join_style="mitre", mitre_limit=MITRE_LIMIT)
    metal = shapely.intersection(own, clearing.shape)
    allowed = clearing.shape
    if tab is not None and tab.is_outside:
        strip = tab.strip()
        reach = shapely.union(shapely.intersection(strip, own), shapely.difference(strip, housing))
        metal = shapely.union(metal, reach)
        allowed = shapely.union(allowed, shapely.buffer(strip, radius_mm))  # room for the arcs at its foot
    pieces = [p for p in polygons_in(metal) if _holds_a_cell(p, cells_mm)]
    regions = [r for p in pieces for r in _finished(p, clearing.circles_mm, allowed, radius_mm)]
    return tuple(sorted(regions, key=lambda region: -region.area_mm2))


def _holds_a_cell(piece: Polygon, cells_mm: PointArray) -> bool:
    import shapely

    return bool(shapely.contains_xy(piece, cells_mm[:, 0], cells_mm[:, 1]).any())


def _finished(piece: Polygon, circles: FloatArray, allowed: BaseGeometry, radius: float) -> list[Region]:
    """Return the piece with exact arcs and round corners; by opening and closing where a corner is too tight."""
    try:
        return [_region(piece, circles, radius)]
    except CornerTooTightError:
        smooth, fillets = _opened_and_closed(piece, allowed, radius)
        return [_region(part, np.concatenate([circles, fillets]), 0.0) for part in polygons_in(smooth)]


def _region(piece: Polygon, circles: FloatArray, radius: float) -> Region:
    exterior = with_arcs(np.asarray(piece.exterior.coords)[:-1], circles)
    interiors = [with_arcs(np.asarray(ring.coords)[:-1], circles) for ring in piece.interiors]
    outline = rounded(exterior.counter_clockwise(), radius)
    holes = tuple(rounded(hole.counter_clockwise(), radius) for hole in interiors)
    return Region(outline, holes)


def _corners(shape: BaseGeometry) -> PointArray:
    """Return (n, 2) the vertices at which a shape really turns, not those that only make an arc of chords."""
    import shapely

    rings = [shapely.get_coordinates(r)[:-1] for p in polygons_in(shape) for r in (p.exterior, *p.interiors)]
    turning = [ring[np.abs(Contour(ring).turns_rad) > CORNER_RAD] for ring in rings]
    return np.concatenate([np.empty((0, 2)), *turning])


def _opened_and_closed(piece: Polygon, allowed: BaseGeometry, radius: float) -> tuple[BaseGeometry, FloatArray]:
    """Return the piece with corners rounded by moving its edge in and out, and the circles of the new arcs.

    Opening rounds outside corners and removes strips narrower than two radii; closing rounds inside corners. An arc of
    the opening is centred on a vertex of the shrunken piece, an arc of the closing on one of the grown piece.
    """
    import shapely

    chords = quarter_chords(radius)
    shrunken = shapely.buffer(piece, -radius, quad_segs=chords)
    opened = shapely.buffer(shrunken, radius, quad_segs=chords)
    grown = shapely.buffer(opened, radius, quad_segs=chords)
    closed = shapely.intersection(shapely.buffer(grown, -radius, quad_segs=chords), allowed)
    centres = np.concatenate([_corners(shrunken), _corners(grown)])
    return closed, np.column_stack([centres, np.full(len(centres), radius)])
