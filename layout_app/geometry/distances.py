"""Distances from points to a contour, exact for straight edges and arcs."""

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.contours import Contour

BLOCK = 1 << 18  # points × edges worked on at once: a few arrays of 2 MB stay in the cache
LEVEL = 1e-290  # an edge that rises by less has no slope a float can hold


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
    edges = _edges(contour)
    if edges.circle is not None:
        x, y, radius = edges.circle
        return np.asarray(radius - np.hypot(points[:, 0] - x, points[:, 1] - y), dtype=np.float64)
    step = max(1, BLOCK // len(contour.bulges))
    blocks = [points[k : k + step] for k in range(0, len(points), step)]
    signed = [np.where(_inside(edges, b), 1.0, -1.0) * _distances_mm(edges, b) for b in blocks]
    return np.concatenate(signed) if signed else np.empty(0)


@dataclass(frozen=True, slots=True)
class _Edges:
    """A loop's edges as columns: straight ones (x, y, dx, dy, length²), arcs, and the pieces rays are counted with."""

    straight: FloatArray  # (5, s)
    arcs: FloatArray  # (10, a): centre x, y; radius; start x, y; end x, y; unit vector to the middle; cos of half
    pieces: FloatArray  # (9, m), see _rising_pieces
    circle: tuple[float, float, float] | None


@lru_cache(maxsize=64)
def _edges(contour: Contour) -> _Edges:
    arc, start, end, bulges = contour.is_arc, contour.vertices_mm, contour.ends_mm, contour.bulges
    dx, dy = (end[~arc] - start[~arc]).T
    length_sq = np.maximum(dx * dx + dy * dy, np.finfo(float).tiny)  # a null edge is its start vertex
    straight = np.vstack([start[~arc].T, dx, dy, length_sq])
    middle = arc_middles(start[arc], end[arc], bulges[arc])
    radii, cos_half = contour.arc_radii_mm[arc], np.cos(2 * np.arctan(bulges[arc]))
    arcs = np.vstack([contour.arc_centres_mm[arc].T, radii, start[arc].T, end[arc].T, middle.T, cos_half])
    return _Edges(straight, arcs, _rising_pieces(contour).T, contour.as_circle)


def _distances_mm(edges: _Edges, points_mm: PointArray) -> FloatArray:
    """(n,): unsigned distance to the nearest edge."""
    x, y = points_mm[:, 0, None], points_mm[:, 1, None]
    nearest = np.minimum(
        _straight_distances_mm(edges.straight, x, y).min(axis=1, initial=np.inf),
        _arc_distances_mm(edges.arcs, x, y).min(axis=1, initial=np.inf),
    )
    return np.asarray(nearest, dtype=np.float64)


def _straight_distances_mm(straight: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    start_x, start_y, dx, dy, length_sq = straight
    x, y = x - start_x, y - start_y
    along = np.clip((x * dx + y * dy) / length_sq, 0.0, 1.0)
    return np.asarray(np.hypot(x - along * dx, y - along * dy), dtype=np.float64)


def _arc_distances_mm(arcs: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """A point in the arc's sector is | r - R | away from it, any other as far as the nearer end."""
    centre_x, centre_y, radius, start_x, start_y, end_x, end_y, middle_x, middle_y, cos_half = arcs
    r = np.hypot(x - centre_x, y - centre_y)
    in_sector = (x - centre_x) * middle_x + (y - centre_y) * middle_y >= r * cos_half
    to_ends = np.minimum(np.hypot(x - start_x, y - start_y), np.hypot(x - end_x, y - end_y))
    return np.asarray(np.where(in_sector, np.abs(r - radius), to_ends), dtype=np.float64)


def arc_middles(start_mm: PointArray, end_mm: PointArray, bulges: FloatArray) -> PointArray:
    """Return (n, 2) unit vectors from each arc's centre to the middle of the arc.

    A counter-clockwise arc (positive bulge) swells to the right of its chord.
    """
    chord = end_mm - start_mm
    right = np.column_stack([chord[:, 1], -chord[:, 0]]) * np.sign(bulges)[:, None]
    return np.asarray(right / np.hypot(*right.T)[:, None], dtype=np.float64)


def _inside(edges: _Edges, points_mm: PointArray) -> BoolArray:
    """Whether a ray to the right crosses the loop an odd number of times.

    Arcs are cut at their highest and lowest points, and every piece owns its lower end but not its upper one, so rays
    through vertices count right. Points on the loop itself may fall on either side: their distance is zero.
    """
    low, high, x_start, y_start, slope, centre_x, centre_y, radius, side = edges.pieces
    x, y = points_mm[:, 0, None], points_mm[:, 1, None]
    level = (low <= y) & (y < high)
    straight_x = x_start + slope * (y - y_start)
    bent_x = centre_x + side * np.sqrt(np.maximum(radius**2 - (y - centre_y) ** 2, 0.0))
    crossing = level & (x < np.where(side == 0, straight_x, bent_x))
    return np.asarray(crossing.sum(axis=1) % 2 == 1, dtype=np.bool_)


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
        elif abs(y1 - y0) > LEVEL:
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
