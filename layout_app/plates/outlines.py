"""Outlines: from the territories of a segment's cells to the contour a machine can cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.clearing import CLEARING_TOLERANCE_MM, Clearing, polygons_in, quarter_chords
from layout_app.geometry.contours import Contour
from layout_app.geometry.recovery import SHORTEST_EDGE_MM, with_arcs
from layout_app.geometry.regions import Region
from layout_app.geometry.rounding import CornerTooTightError, rounded
from layout_app.geometry.territories import Territories
from layout_app.plates.borders import Straightening, straightened
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

CORNER_RAD = 0.1  # chords of an arc turn less than this, corners worth an arc of their own more
FOOT_RADII = 2.5  # an arc at a tab's foot, up to 135° round, reaches less than this many radii from the strip
NEARER_MM = 2e-4  # the gap is kept to a fifth of a micrometre, so that edges just that far away are not cut to shreds
ROUGH_MM = 0.004  # chords for a quick look whether a region is sound
STRAY_MM = 0.006  # wider than what such chords can make; narrower than any fillet that is out of place
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


@dataclass(frozen=True, slots=True, eq=False)
class Plot:
    """The ground of one segment and what borders on it.

    Attributes
    ----------
    area : the territory of the segment's cells
    clearing : where metal may lie
    gap_mm : insulation gap to every other segment; each side of a border gives half of it
    radius_mm : least radius of every corner
    least_radius_mm : that of the segments around it. Where it is smaller, arcs in our inside corners could come nearer
        than the gap to their outside corners
    """

    area: BaseGeometry
    clearing: Clearing
    gap_mm: float
    radius_mm: float
    least_radius_mm: float

    def own(self) -> BaseGeometry:
        """Return the area less its half of the gap."""
        import shapely

        return shapely.buffer(self.area, -self.gap_mm / 2, join_style="mitre", mitre_limit=MITRE_LIMIT)

    def others(self, about: BaseGeometry, reach_mm: float) -> BaseGeometry:
        """Return where other segments may have metal within reach of a shape, before their corners are rounded."""
        import shapely

        near = shapely.intersection(self.clearing.shape, shapely.buffer(about, reach_mm, quad_segs=2))
        mine = shapely.buffer(self.area, self.gap_mm / 2, join_style="mitre", mitre_limit=MITRE_LIMIT)
        return shapely.difference(near, mine)

    def beside_others(self, piece: BaseGeometry) -> BaseGeometry:
        """Return where metal beside a piece would be nearer than the gap to other segments, corners rounded."""
        others = self.others(piece, self.gap_mm + 4 * max(self.radius_mm, self.least_radius_mm))
        return self.too_near(_filled(others, self.least_radius_mm))

    def too_near(self, others: BaseGeometry) -> BaseGeometry:
        """Return where metal would be nearer than the gap to others."""
        import shapely

        chords = 2 * quarter_chords(self.gap_mm)  # a quarter of what chords elsewhere fall short
        return shapely.buffer(others, self.gap_mm - NEARER_MM, quad_segs=chords)


def outline_pieces(plot: Plot, tabs: Sequence[Tab], cells_mm: PointArray) -> tuple[Region, ...]:
    """Return the regions of metal on a plot, largest first.

    Parameters
    ----------
    tabs : the terminal's strips, if it has any
    cells_mm : (n, 2) centres of the segment's cells; scraps of metal without a cell are dropped
    """
    import shapely

    clear = plot.clearing
    metal, allowed = shapely.intersection(plot.own(), clear.shape), clear.shape
    for tab in (tab for tab in tabs if tab.is_outside):
        strip, reach_mm = tab.strip(), FOOT_RADII * plot.radius_mm
        barred = shapely.union(plot.too_near(plot.others(strip, reach_mm + plot.gap_mm)), clear.kept_out)
        foot = shapely.buffer(strip, reach_mm, join_style="mitre")  # room for the arcs between the strip and the wall
        metal = shapely.union(metal, shapely.difference(strip, barred))
        allowed = shapely.union(allowed, shapely.difference(foot, barred))
    pieces = [p for p in polygons_in(metal) if _holds_a_cell(p, cells_mm)]
    regions = [r for p in pieces for r in _finished(p, plot, allowed)]
    return tuple(sorted(regions, key=lambda region: -region.area_mm2) if len(regions) > 1 else regions)


def _holds_a_cell(piece: Polygon, cells_mm: PointArray) -> bool:
    import shapely

    return bool(shapely.contains_xy(piece, cells_mm[:, 0], cells_mm[:, 1]).any())


def _finished(piece: Polygon, plot: Plot, allowed: BaseGeometry) -> list[Region]:
    """Return the piece with exact arcs and round corners.

    Where a corner is too tight for its arc, or its arc would lie where no metal may be, the piece is opened first; that
    may leave several.
    """
    import shapely

    circles, radius = plot.clearing.circles_mm, plot.radius_mm
    is_rounder = radius > plot.least_radius_mm
    if is_rounder:
        allowed = shapely.difference(allowed, plot.beside_others(piece))
    region = _region(piece, circles, radius, allowed, None if is_rounder else plot.clearing)
    if region is not None:
        return [region]
    if radius == 0:
        return [_chorded(piece)]
    if not is_rounder:
        allowed = shapely.difference(allowed, plot.beside_others(piece))
    shrunken, opened = _opened(piece, radius)
    circles = np.concatenate([circles, _circles_about(shrunken, radius)])
    return [region for part in polygons_in(opened) for region in _closed(part, circles, radius, allowed)]


def _closed(piece: Polygon, circles: FloatArray, radius: float, allowed: BaseGeometry) -> list[Region]:
    """Return an opened piece with its inside corners rounded: by arcs where they have room, else by moving its edge out
    and in; as chords should its arcs not be found again.

    What is filled keeps the gap to the others' metal: theirs, opened, is discs of the radius, and a disc with the gap
    around it meets none of our piece. Only what they fill may be too near; `allowed` leaves it out.
    """
    import shapely

    region = _region(piece, circles, radius, allowed)
    if region is not None:
        return [region]
    grown = shapely.buffer(piece, radius, quad_segs=quarter_chords(radius))
    closed = shapely.intersection(shapely.buffer(grown, -radius, quad_segs=quarter_chords(radius)), allowed)
    circles = np.concatenate([circles, _circles_about(grown, radius)])
    return [_region(part, circles, 0.0, allowed) or _chorded(part) for part in polygons_in(closed)]


def _chorded(piece: Polygon) -> Region:
    """Return a piece as it is, arcs as the chords of boolean work: should its arcs not be found again."""
    loops = [Contour(np.asarray(ring.coords)[:-1]).counter_clockwise() for ring in (piece.exterior, *piece.interiors)]
    return Region(loops[0], tuple(loops[1:]))


def _region(
    piece: Polygon, circles: FloatArray, radius: float, allowed: BaseGeometry, clearing: Clearing | None = None
) -> Region | None:
    """Return a piece with its arcs found again and its corners rounded; None if that cannot be, or would be no valid
    polygon or lie beyond where metal may be. Whatever lies in a `clearing` may be, which is quickly told."""
    rings = ((np.asarray(ring.coords)[:-1], ring.is_ccw) for ring in (piece.exterior, *piece.interiors))
    exterior, *interiors = (with_arcs(ring if is_left else ring[::-1], circles) for ring, is_left in rings)
    try:
        loops = [rounded(loop, radius).without_null_edges(SHORTEST_EDGE_MM) for loop in (exterior, *interiors)]
        region = Region(loops[0], tuple(loops[1:]))
    except CornerTooTightError:
        return None
    polygon = region.polygon(ROUGH_MM)
    is_inside = clearing is not None and clearing.holds(polygon)
    return region if polygon.is_valid and (is_inside or _lies_in(polygon, allowed)) else None


def _lies_in(polygon: Polygon, allowed: BaseGeometry) -> bool:
    """Whether a polygon lies where metal may be; arcs as chords may stand out a little."""
    import shapely

    return bool(shapely.is_empty(shapely.buffer(shapely.difference(polygon, allowed), -STRAY_MM / 2, quad_segs=2)))


def _corners(shape: BaseGeometry) -> PointArray:
    """Return (n, 2) the vertices at which a shape really turns, not those that only make an arc of chords."""
    import shapely

    rings = [shapely.get_coordinates(r)[:-1] for p in polygons_in(shape) for r in (p.exterior, *p.interiors)]
    turning = [ring[np.abs(Contour(ring).turns_rad) > CORNER_RAD] for ring in rings]
    return np.concatenate([np.empty((0, 2)), *turning])


def _circles_about(shape: BaseGeometry, radius: float) -> FloatArray:
    """Return (n, 3) the circles a buffer puts about a shape's corners."""
    centres = _corners(shape)
    return np.column_stack([centres, np.full(len(centres), radius)])


def _opened(shape: BaseGeometry, radius: float) -> tuple[BaseGeometry, BaseGeometry]:
    """Return a shape shrunken by a radius, and what growing it again leaves: no outside corner, no narrow strip.

    Chords about an inside corner do not come back to a point: cutting with the shape itself makes it one again, which
    further buffers need, for they take corners a hundredth of the radius across for noise.
    """
    import shapely

    chords = quarter_chords(radius)
    shrunken = shapely.buffer(shape, -radius, quad_segs=chords)
    grown = shapely.buffer(shrunken, radius + CLEARING_TOLERANCE_MM, quad_segs=chords)  # chords fall that much short
    return shrunken, shapely.intersection(shape, grown)


def _filled(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """Return what a shape becomes at most by rounding its corners."""
    import shapely

    chords = quarter_chords(radius)
    opened = shapely.buffer(_opened(shape, radius)[1], radius, quad_segs=chords)
    return shapely.buffer(opened, -radius, quad_segs=chords)
