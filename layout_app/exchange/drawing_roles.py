"""Roles: the largest loop is the outline, loops inside it are keep-outs, and every other loop has its reason."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

from layout_app.exchange.drawing_errors import NothingClosedError, SelfCrossingError
from layout_app.exchange.drawing_loops import DrawnLoop
from layout_app.exchange.drawing_units import LengthUnit
from layout_app.geometry.arrays import BoolArray, FloatArray
from layout_app.geometry.contours import CHORD_TOLERANCE_MM

SAME_MM = 0.01  # loops nearer than this all along are one loop drawn twice


def with_roles(path: Path, loops: Sequence[DrawnLoop], unit: LengthUnit) -> tuple[DrawnLoop, ...]:
    """Return the loops, the outline first and the rest by falling area, each with its role and the reason.

    Raises
    ------
    SelfCrossingError : the outline or a keep-out crosses itself
    NothingClosedError : no loop encloses any area
    """
    polygons = np.array([loop.contour.polygon(_tolerance_mm(loop)) for loop in loops])
    valid = shapely.is_valid(polygons)
    sizes = np.array([loop.area_mm2 for loop in loops])
    sizes[~valid] = shapely.area(shapely.make_valid(polygons[~valid]))
    order = np.argsort(-sizes, kind="stable")
    loops, polygons, valid, sizes = [loops[k] for k in order], polygons[order], valid[order], sizes[order]
    slack = _slack_mm2(loops)
    if not sizes[0] > slack[0]:
        raise NothingClosedError(path, "no loop encloses any area. Draw the housing's inner wall as a closed loop.")
    if not valid[0]:
        raise SelfCrossingError(path, "outline", loops[0].layer, _trouble(polygons[0]), unit)
    remarks = _remarks(polygons, valid, sizes, slack)
    cast = [loops[0].cast("outline")]
    for k, loop in enumerate(loops[1:], start=1):
        if remarks[k] in _REASONS:
            cast.append(loop.cast("ignored", remarks[k]))
        elif not valid[k]:
            raise SelfCrossingError(path, "keep-out", loop.layer, _trouble(polygons[k]), unit)
        else:
            cast.append(loop.cast("keep-out", remarks[k]))
    return tuple(cast)


COPY, FLAT, OUTSIDE, NESTED = (
    "a copy of another loop", "encloses no area", "outside the outline", "inside a keep-out",
)  # fmt: skip
_REASONS = {COPY, FLAT, OUTSIDE, NESTED}


def _tolerance_mm(loop: DrawnLoop) -> float:
    """Return the chord tolerance for comparing loops: coarser for what is larger than any housing."""
    return max(CHORD_TOLERANCE_MM, 1e-6 * float(loop.contour.chords_mm.sum()))


def _slack_mm2(loops: Sequence[DrawnLoop]) -> FloatArray:
    """Return the area by which each loop may differ and still be the same to any tolerance of a housing."""
    return np.array([SAME_MM * loop.contour.perimeter_mm / 2 for loop in loops])


def _remarks(polygons: np.ndarray, valid: BoolArray, sizes: FloatArray, slack: FloatArray) -> list[str]:
    """Return what is to be said of each loop, largest first; "" for a plain keep-out."""
    sound = polygons.copy()
    sound[~valid] = shapely.make_valid(sound[~valid])
    shapely.prepare(sound[0])
    inside = shapely.contains_properly(sound[0], sound)
    remarks = [""] * len(sound)
    for k in (np.flatnonzero(~inside[1:]) + 1).tolist():
        shared = shapely.area(shapely.intersection(sound[0], sound[k]))
        if shared <= slack[k]:
            remarks[k] = OUTSIDE
        else:
            remarks[k] = "touches the wall" if sizes[k] - shared <= slack[k] else "crosses the wall"
    for k in range(1, len(sound)):
        if sizes[k] <= slack[k] and sizes[k] <= 0.01 * sizes[0]:
            remarks[k] = FLAT
    for inner, outer in _covered(sound, sizes, slack):
        same = sizes[outer] - sizes[inner] <= slack[outer]
        if same:
            remarks[inner] = COPY
        elif outer != 0 and remarks[outer] not in _REASONS and remarks[inner] not in _REASONS:
            remarks[inner] = NESTED
    return remarks


def _covered(sound: np.ndarray, sizes: FloatArray, slack: FloatArray) -> list[tuple[int, int]]:
    """Return (inner, outer) for every loop that lies within an earlier, larger one, by falling size."""
    inner, outer = shapely.STRtree(sound).query(shapely.point_on_surface(sound), predicate="within")
    later = inner > outer
    inner, outer = inner[later], outer[later]
    shared = shapely.area(shapely.intersection(sound[inner], sound[outer]))
    within = sizes[inner] - shared <= slack[inner]
    pairs = sorted(zip(inner[within].tolist(), outer[within].tolist(), strict=True))
    return [(a, b) for a, b in pairs]


def _trouble(polygon: shapely.Polygon) -> tuple[float, float]:
    """Return where a polygon crosses or touches itself."""
    place = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
    x, y = (float(place[1]), float(place[2])) if place else polygon.exterior.coords[0][:2]
    return x, y
