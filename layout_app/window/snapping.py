"""Snapping: what a dragged cell or point is drawn to. The settings are the window's, not the layout's."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from layout_app.geometry.arrays import PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.distances import arc_middles
from layout_app.model.layouts import Layout
from layout_app.model.sites import nearest_sites_mm

translate = QCoreApplication.translate

SNAP_WORDS = {
    "sites": QT_TRANSLATE_NOOP("snapping", "Sites of the lattice"),
    "centres": QT_TRANSLATE_NOOP("snapping", "In line with other cells"),
    "edges": QT_TRANSLATE_NOOP("snapping", "Edges: cans at the gap, walls"),
    "grid": QT_TRANSLATE_NOOP("snapping", "Grid"),
}


@dataclass(frozen=True, slots=True)
class Snapping:
    """What draws, in the order of SNAP_WORDS; the first that is near enough wins."""

    kinds: frozenset[str] = frozenset({"sites", "centres", "edges"})
    grid_mm: float = 1.0


def snapped_cell(
    snapping: Snapping, layout: Layout, place_mm: tuple[float, float], others_mm: PointArray, reach_mm: float
) -> tuple[tuple[float, float], str]:
    """Return where a cell's centre goes when dropped near a place, and a word on why; "" when nothing draws it.

    Sites draw from anywhere; the rest from within `reach_mm`. `others_mm` are the centres of the cells that stay.
    """
    if "sites" in snapping.kinds:
        x, y = nearest_sites_mm(layout.lattice, np.array([place_mm]))[0].tolist()
        return (x, y), "site"
    if "edges" in snapping.kinds:
        touching = _at_the_gap(layout, place_mm, others_mm, reach_mm) or _at_the_wall(layout, place_mm, reach_mm)
        if touching:
            return touching
    if "centres" in snapping.kinds and len(others_mm):
        aligned, words = _in_line(place_mm, others_mm, reach_mm)
        if words:
            return aligned, words
    return _on_grid(snapping, place_mm)


def snapped_point(
    snapping: Snapping, layout: Layout, place_mm: tuple[float, float], reach_mm: float
) -> tuple[tuple[float, float], str]:
    """Return where a free point, e.g. a corner of a keep-out, goes: cells' centres, walls, or the grid."""
    centres = layout.cells.centres_mm
    if "centres" in snapping.kinds and len(centres):
        away = np.hypot(*(centres - place_mm).T)
        if away.min() <= reach_mm:
            x, y = centres[int(away.argmin())].tolist()
            return (x, y), translate("snapping", "centre of cell {number}").format(number=int(away.argmin()) + 1)
    return _on_grid(snapping, place_mm)


def nearest_on(contour: Contour, place_mm: tuple[float, float]) -> tuple[float, float]:
    """Return the point of a loop nearest to a place; closed form on straight edges and arcs."""
    point = np.asarray(place_mm)
    start, chord = contour.vertices_mm, contour.ends_mm - contour.vertices_mm
    share = ((point - start) * chord).sum(axis=1) / np.maximum((chord**2).sum(axis=1), 1e-300)
    found = start + np.clip(share, 0, 1)[:, None] * chord
    if contour.is_arc.any():
        found[contour.is_arc] = _nearest_on_arcs(contour, point)
    x, y = found[int(np.hypot(*(found - point).T).argmin())].tolist()
    return x, y


def _nearest_on_arcs(contour: Contour, point: np.ndarray) -> PointArray:
    """(a, 2): straight outwards on arcs whose sector the point is in, else the nearer end."""
    arc = contour.is_arc
    start, end, centre = contour.vertices_mm[arc], contour.ends_mm[arc], contour.arc_centres_mm[arc]
    away = point - centre
    far = np.hypot(*away.T)
    towards_middle = (away * arc_middles(start, end, contour.bulges[arc])).sum(axis=1)
    is_in_sector = (towards_middle >= far * np.cos(2 * np.arctan(contour.bulges[arc]))) & (far > 0)
    on_arc = centre + away * (contour.arc_radii_mm[arc] / np.maximum(far, 1e-300))[:, None]
    is_start = np.hypot(*(start - point).T) <= np.hypot(*(end - point).T)
    return np.where(is_in_sector[:, None], on_arc, np.where(is_start[:, None], start, end))


def _at_the_gap(
    layout: Layout, place_mm: tuple[float, float], others_mm: PointArray, reach_mm: float
) -> tuple[tuple[float, float], str] | None:
    """A can as far from its neighbour as the lattice's cells are; from two, where both distances can be kept."""
    pitch_mm = layout.lattice.pitch_mm
    if not len(others_mm):
        return None
    away = np.hypot(*(others_mm - place_mm).T)
    near = np.argsort(np.abs(away - pitch_mm))[:2]
    near = near[np.abs(away[near] - pitch_mm) <= reach_mm]
    if len(near) == 2 and (both := _meeting(others_mm[near], pitch_mm, place_mm, reach_mm)):
        return both, translate("snapping", "two gaps")
    if len(near) and away[near[0]] > 0:
        other = others_mm[near[0]]
        x, y = (other + (np.asarray(place_mm) - other) * (pitch_mm / away[near[0]])).tolist()
        return (x, y), translate("snapping", "gap")
    return None


def _meeting(
    pair_mm: PointArray, distance_mm: float, place_mm: tuple[float, float], reach_mm: float
) -> tuple[float, float] | None:
    """The point at a distance from both of a pair of points that is nearest to a place, if within reach."""
    (ax, ay), (bx, by) = pair_mm.tolist()
    half = math.dist((ax, ay), (bx, by)) / 2
    if not 0 < half < distance_mm:
        return None
    rise = math.sqrt(distance_mm**2 - half**2) / (2 * half)
    mid = ((ax + bx) / 2, (ay + by) / 2)
    points = [(mid[0] - side * rise * (by - ay), mid[1] + side * rise * (bx - ax)) for side in (1, -1)]
    best = min(points, key=lambda point: math.dist(point, place_mm))
    return best if math.dist(best, place_mm) <= 2 * reach_mm else None


def _at_the_wall(
    layout: Layout, place_mm: tuple[float, float], reach_mm: float
) -> tuple[tuple[float, float], str] | None:
    """A can at its clearance from the wall or a keep-out, on the side it is on."""
    housing, radius_mm = layout.housing, layout.cell_type.diameter_mm / 2
    loops = [(housing.outline, housing.wall_clearance_mm, translate("snapping", "wall"))]
    keep_out = translate("snapping", "keep-out")
    loops += [(loop, housing.keep_out_clearance_mm, keep_out) for loop in housing.keep_outs]
    for loop, clearance_mm, word in loops:
        foot = np.array(nearest_on(loop, place_mm))
        away_mm, wanted_mm = math.dist(foot, place_mm), radius_mm + clearance_mm
        if away_mm > 0 and abs(away_mm - wanted_mm) <= reach_mm:
            x, y = (foot + (np.asarray(place_mm) - foot) * (wanted_mm / away_mm)).tolist()
            return (x, y), word
    return None


def _in_line(place_mm: tuple[float, float], others_mm: PointArray, reach_mm: float) -> tuple[tuple[float, float], str]:
    """The same x or y, or both, as other cells have."""
    place, words = list(place_mm), []
    for axis in (0, 1):
        off = others_mm[:, axis] - place_mm[axis]
        nearest = int(np.abs(off).argmin())
        if abs(off[nearest]) <= reach_mm:
            place[axis] = float(others_mm[nearest, axis])
            words.append("xy"[axis])
    return (place[0], place[1]), translate("snapping", "in line in {names}").format(
        names=" and ".join(words)
    ) if words else ""


def _on_grid(snapping: Snapping, place_mm: tuple[float, float]) -> tuple[tuple[float, float], str]:
    if "grid" not in snapping.kinds:
        return place_mm, ""
    step = snapping.grid_mm
    return (round(place_mm[0] / step) * step, round(place_mm[1] / step) * step), "grid"
