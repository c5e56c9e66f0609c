"""Borders: the line between two segments, zigzag as the territories make it, or as straight as the webs allow."""

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.territories import Territories

NO_SHARE = 1e-6  # of a few millimetres: rounding noise that would leave an edge nobody can see


@dataclass(frozen=True, slots=True, eq=False)
class Straightening:
    """What decides how far borders may leave their zigzag.

    Attributes
    ----------
    cells_mm : (n, 2) float array, the cells' centres
    reach_mm : (n,) float array, how near to each cell's centre a border may come on this face
    is_fixed : (c,) bool array, the corners that stay: those where three or more segments meet
    """

    cells_mm: PointArray
    reach_mm: FloatArray
    is_fixed: BoolArray


def straightened(grounds: Territories, walk: IntArray, rules: Straightening) -> PointArray:
    """Return the (k, 2) points of a walk that cuts its corners.

    A ridge's middle is halfway between two cells, so a border over the middles is as far from the cells on either side.
    Where a middle-to-middle chord would come too near to the one cell whose corner it cuts off, the cut moves out
    towards the corner until it is just far enough. Both segments at a border find the same points.
    """
    ridge = grounds.ridges_between(walk, np.roll(walk, -1))
    corners, ends = grounds.corners_mm[walk], grounds.corners_mm[np.roll(walk, -1)]
    middles = _clipped(grounds.halfway_mm[ridge], corners, ends)
    before = np.roll(middles, 1, axis=0)
    share = _share_to_corner(grounds.pairs[ridge], before, corners, middles, rules)
    share = np.where(rules.is_fixed[walk], 1.0, share)[:, None]
    points = np.stack([corners + (1 - share) * (before - corners), corners + (1 - share) * (middles - corners)], axis=1)
    return points.reshape(-1, 2)


def _clipped(points: PointArray, starts: PointArray, ends: PointArray) -> PointArray:
    """Return each point's nearest point on the stretch from start to end."""
    along = ends - starts
    fraction = ((points - starts) * along).sum(axis=1) / (along**2).sum(axis=1)
    return np.asarray(starts + np.clip(fraction, 0, 1)[:, None] * along)


def _share_to_corner(
    pairs: IntArray, before: PointArray, corners: PointArray, after: PointArray, rules: Straightening
) -> FloatArray:
    """Return (k,) how far each cut lies out towards its corner, 0 middle to middle, 1 at the corner."""
    earlier = np.roll(pairs, 1, axis=0)
    shared = np.full(len(pairs), -1)
    for mine, theirs in ((0, 0), (0, 1), (1, 0), (1, 1)):
        shared = np.where(pairs[:, mine] == earlier[:, theirs], pairs[:, mine], shared)
    is_cell = (shared >= 0) & (shared < len(rules.cells_mm))
    cell = np.where(is_cell, shared, 0)
    chord = after - before
    normal = np.column_stack([chord[:, 1], -chord[:, 0]]) / np.maximum(np.hypot(*chord.T), 1e-9)[:, None]
    nearest = np.abs(((before - rules.cells_mm[cell]) * normal).sum(axis=1))
    farthest = np.abs(((corners - rules.cells_mm[cell]) * normal).sum(axis=1))
    wanted = (rules.reach_mm[cell] - nearest) / np.maximum(farthest - nearest, 1e-9)
    share = np.clip(np.where(wanted < NO_SHARE, 0.0, wanted), 0, 1)
    return np.where(is_cell, share, 1.0)
