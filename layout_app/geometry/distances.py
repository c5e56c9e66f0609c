"""Distances from points to a contour, exact for straight edges and arcs."""

import itertools
import math
from functools import lru_cache

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.contours import Contour

BLOCK = 1 << 18  # points × edges worked on at once: a few arrays of 2 MB stay in the cache


def signed_distances_mm(contour: Contour, points_mm: PointArray) -> FloatArray:
    """Return the distance from each point to a counter-clockwise or clockwise loop, negative outside it.

    Parameters
    ----------
    contour : loop that does not cross itself
    points_mm : (n, 2) float array, mm

    Returns
    -------
    (n,) float array, mm; closed form, arcs are not flattened

    >>> signed_distances_mm(Contour.circle(0.0, 0.0, 5.0), np.array([[0.0, 0.0], [0.0, 7.0]])).tolist()
    [5.0, -2.0]
    """
    points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
    step = max(1, BLOCK // len(contour.bulges))
    blocks = [points[k : k + step] for k in range(0, len(points), step)]
    signed = [np.where(_inside(contour, b), 1.0, -1.0) * _distances_mm(contour, b) for b in blocks]
    return np.concatenate(signed) if signed else np.empty(0)


def _distances_mm(contour: Contour, points_mm: PointArray) -> FloatArray:
    """(n,): unsigned distance to the nearest edge."""
    nearest = np.full(len(points_mm), np.inf)
    if not contour.is_arc.all():
        nearest = np.minimum(nearest, _straight_distances_mm(contour, points_mm))
    if contour.is_arc.any():
        nearest = np.minimum(nearest, _arc_distances_mm(contour, points_mm))
    return nearest


def _straight_distances_mm(contour: Contour, points_mm: PointArray) -> FloatArray:
    start = contour.vertices_mm[~contour.is_arc]
    dx, dy = (contour.ends_mm[~contour.is_arc] - start).T
    x, y = points_mm[:, 0, None] - start[:, 0], points_mm[:, 1, None] - start[:, 1]
    length_sq = np.maximum(dx * dx + dy * dy, np.finfo(float).tiny)  # a null edge is its start vertex
    along = np.clip((x * dx + y * dy) / length_sq, 0.0, 1.0)
    return np.asarray(np.hypot(x - along * dx, y - along * dy).min(axis=1), dtype=np.float64)


def _arc_distances_mm(contour: Contour, points_mm: PointArray) -> FloatArray:
    """A point in the arc's sector is | r - R | away from it, any other as far as the nearer end."""
    arc = contour.is_arc
    start, end, bulges = contour.vertices_mm[arc], contour.ends_mm[arc], contour.bulges[arc]
    centres, radii = contour.arc_centres_mm[arc], contour.arc_radii_mm[arc]
    middle = arc_middles(start, end, bulges)
    x, y = points_mm[:, 0, None] - centres[:, 0], points_mm[:, 1, None] - centres[:, 1]
    r = np.hypot(x, y)
    in_sector = x * middle[:, 0] + y * middle[:, 1] >= r * np.cos(2 * np.arctan(bulges))
    to_start = np.hypot(points_mm[:, 0, None] - start[:, 0], points_mm[:, 1, None] - start[:, 1])
    to_end = np.hypot(points_mm[:, 0, None] - end[:, 0], points_mm[:, 1, None] - end[:, 1])
    away = np.where(in_sector, np.abs(r - radii), np.minimum(to_start, to_end))
    return np.asarray(away.min(axis=1), dtype=np.float64)


def arc_middles(start_mm: PointArray, end_mm: PointArray, bulges: FloatArray) -> PointArray:
    """Return (n, 2) unit vectors from each arc's centre to the middle of the arc.

    A counter-clockwise arc (positive bulge) swells to the right of its chord.
    """
    chord = end_mm - start_mm
    right = np.column_stack([chord[:, 1], -chord[:, 0]]) * np.sign(bulges)[:, None]
    return np.asarray(right / np.hypot(*right.T)[:, None], dtype=np.float64)


def _inside(contour: Contour, points_mm: PointArray) -> BoolArray:
    """Whether a ray to the right crosses the loop an odd number of times.

    Arcs are cut at their highest and lowest points, and every piece owns its lower end but not its upper one, so rays
    through vertices count right. Points on the loop itself may fall on either side: their distance is zero.
    """
    low, high, x_start, y_start, slope, centre_x, centre_y, radius, side = _rising_pieces(contour).T
    x, y = points_mm[:, 0, None], points_mm[:, 1, None]
    level = (low <= y) & (y < high)
    straight_x = x_start + slope * (y - y_start)
    bent_x = centre_x + side * np.sqrt(np.maximum(radius**2 - (y - centre_y) ** 2, 0.0))
    crossing = level & (x < np.where(side == 0, straight_x, bent_x))
    return np.asarray(crossing.sum(axis=1) % 2 == 1, dtype=np.bool_)


@lru_cache(maxsize=64)
def _rising_pieces(contour: Contour) -> FloatArray:
    """(m, 9): pieces along which y only rises or only falls; side is ±1 for the right or left half of a circle."""
    pieces: list[tuple[float, ...]] = []
    centres, radii, included = contour.arc_centres_mm, contour.arc_radii_mm, 4 * np.arctan(contour.bulges)
    for edge, ((x0, y0), (x1, y1)) in enumerate(zip(contour.vertices_mm, contour.ends_mm, strict=True)):
        if contour.bulges[edge]:
            (cx, cy), radius = centres[edge], radii[edge]
            first_rad = math.atan2(y0 - cy, x0 - cx)
            for ya, yb, side in _arc_halves(y0, y1, cy, radius, first_rad, float(included[edge])):
                pieces.append((min(ya, yb), max(ya, yb), 0, 0, 0, cx, cy, radius, side))
        elif y0 != y1:
            pieces.append((min(y0, y1), max(y0, y1), x0, y0, (x1 - x0) / (y1 - y0), 0, 0, 0, 0))
    return np.array(pieces, dtype=np.float64).reshape(-1, 9)


def _arc_halves(
    y0_mm: float, y1_mm: float, centre_y_mm: float, radius_mm: float, first_rad: float, included_rad: float
) -> list[tuple[float, float, float]]:
    """Return (y from, y to, side) of the stretches of an arc between its highest and lowest points."""
    low, high = sorted((first_rad, first_rad + included_rad))
    tops = [math.pi * (k + 0.5) for k in range(math.ceil(low / math.pi - 0.5), math.floor(high / math.pi - 0.5) + 1)]
    tops = sorted((t for t in tops if low < t < high), reverse=included_rad < 0)
    angles = [first_rad, *tops, first_rad + included_rad]
    levels = [y0_mm, *(centre_y_mm + radius_mm * round(math.sin(t)) for t in tops), y1_mm]
    sides = [math.copysign(1.0, math.cos((a + b) / 2)) for a, b in itertools.pairwise(angles)]
    return [(a, b, side) for (a, b), side in zip(itertools.pairwise(levels), sides, strict=True)]
