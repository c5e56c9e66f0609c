"""Upper bounds on how many cells can stand in a footprint, whatever their arrangement.

Centres p apart in a compact convex set of area A and perimeter P number at most 2 A / (√3 p²) + P / (2 p) + 1 (Oler).
A footprint is seldom convex, and putting its own area, perimeter and Euler characteristic in place of A, P and 1 is not
a bound: three thin arms 1/√3 long, 120° apart, hold three points a distance 1 apart where that would allow 2.73, and a
pinhole in the unit triangle would cost one of its three corners. What is proven for any compact set is used instead:

- Oler's bound of the convex hull, which contains the set.
- Less what the pockets could take. Points of the hull at least p from the set can be added to any packing of the set,
  and the whole is still a packing of the hull. So if k such points are p from one another, the set holds k fewer.
- 2 / (√3 p²) times the area within p/√3 of the set. Own derivation: of a centre's Voronoi cell take the part within
  p/√3, the circumradius of the hexagon about a circle of diameter p. Each neighbour, at least p away, cuts off a cap
  of at most 60°; caps do not overlap, since no point nearer than p/√3 to a centre is as far from two others; and a
  cap's area grows faster than its angle, so six of 60° cut off most. What is left is at least that hexagon, √3 p² / 2,
  and these parts are disjoint and lie within p/√3 of the set.
- The sum of such bounds over pieces that are not connected, each rounded down.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import rotation
from layout_app.planning.footprints import Footprint

if TYPE_CHECKING:
    from shapely import Geometry, Polygon

QUAD_SEGS = 32  # chords to a quarter circle; grown shapes are made a little larger, so that chords lie outside
ROUNDING = 1e-6  # cells: of the sums, not of the shapes, which are drawn too large (see Footprint.region)
N_OFFSETS = 6


def oler_bound(area_mm2: float, perimeter_mm: float, pitch_mm: float) -> float:
    """Return 2 A / (√3 p²) + P / (2 p) + 1, which no packing in a compact convex set exceeds.

    Source: Groemer 1960; Oler, Acta Math. 105 (1961).

    >>> round(oler_bound(1.0, 4.0, 1.0), 3)
    4.155
    """
    return 2 * area_mm2 / (math.sqrt(3) * pitch_mm**2) + perimeter_mm / (2 * pitch_mm) + 1


def upper_bound(footprint: Footprint, pitch_mm: float) -> int:
    """Return a number of cells that no arrangement at this pitch exceeds; 0 for an empty footprint."""
    whole = footprint.region
    if whole.is_empty:
        return 0
    in_pieces: int = sum(_bound(piece, pitch_mm) for piece in whole.geoms)
    return min(_bound(whole, pitch_mm), in_pieces)


def _bound(shape: Geometry, pitch_mm: float) -> int:
    hull = shape.convex_hull
    by_hull = oler_bound(hull.area, hull.length, pitch_mm) - _cells_in_pockets(hull, shape, pitch_mm)
    near = _grown(shape, pitch_mm / math.sqrt(3))
    by_area = 2 * near.area / (math.sqrt(3) * pitch_mm**2)
    most: float = min(by_hull, by_area)
    return math.floor(most + ROUNDING)


def _grown(shape: Geometry, radius_mm: float) -> Geometry:
    """Return a shape that holds every point within the radius, and little else."""
    return shape.buffer(radius_mm / math.cos(math.pi / (4 * QUAD_SEGS)), quad_segs=QUAD_SEGS)


def _cells_in_pockets(hull: Geometry, shape: Geometry, pitch_mm: float) -> int:
    """Return how many points, a pitch from one another and from the shape, were found in its hull."""
    import shapely

    free = [part for part in shapely.get_parts(hull.difference(_grown(shape, pitch_mm))) if part.area > 0]
    taken: list[Polygon] = []
    total = 0
    for pocket in sorted(free, key=lambda part: -part.area):
        if all(pocket.distance(other) >= pitch_mm for other in taken):
            taken.append(pocket)
            total += _cells_in_pocket(pocket, pitch_mm)
    return total


def _cells_in_pocket(pocket: Polygon, pitch_mm: float) -> int:
    """Return the most points of a hexagonal lattice along the pocket's longer side, over a grid of offsets; 1 at least.

    Any packing will do, so nothing is lost but sharpness.
    """
    import shapely

    corners = shapely.get_coordinates(pocket.minimum_rotated_rectangle)[:3]
    sides = np.diff(corners, axis=0)
    if len(sides) < 2:
        return 1
    along, across = sides[np.argsort(-np.hypot(*sides.T))]
    middle = (corners[0] + corners[2]) / 2
    n_columns, n_rows = (int(np.hypot(*side) / pitch_mm) // 2 + 2 for side in (along, across))
    row, column = (k.ravel() for k in np.mgrid[-n_rows : n_rows + 1, -n_columns : n_columns + 1])
    steps = np.arange(N_OFFSETS) / N_OFFSETS
    x, y = (k.ravel()[:, None] for k in np.meshgrid(steps, steps))
    local = np.stack([column + row % 2 / 2 + x, (row + y) * math.sqrt(3) / 2], axis=-1) * pitch_mm
    points = local @ rotation(math.atan2(along[1], along[0])).T + middle
    return max(1, int(shapely.intersects_xy(pocket, points[..., 0], points[..., 1]).sum(axis=1).max()))
