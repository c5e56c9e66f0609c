"""Close pairs among many points, found without looking at all pairs."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray

NEAREST = 8  # six neighbours touch a round cell at most; two to spare keep a heap of cells from filling the memory


def close_pairs(points_mm: PointArray, within_mm: float) -> tuple[IntArray, FloatArray]:
    """Return the pairs of points nearer to each other than `within_mm`, nearest pair first.

    Of each point only its eight nearest neighbours are looked at: a point in a close pair is always found, though in
    a heap of points not every pair is.

    Parameters
    ----------
    points_mm : (n, 2) float array, mm; may be empty
    within_mm : float, mm

    Returns
    -------
    (m, 2) int array of indices, lower one first, and (m,) float array of distances in mm, ascending
    """
    if len(points_mm) < 2:
        return np.empty((0, 2), dtype=np.int64), np.empty(0)
    found = cKDTree(points_mm).query(points_mm, k=NEAREST + 1, distance_upper_bound=within_mm)
    distance_mm, other = np.asarray(found[0]), np.asarray(found[1])
    one = np.broadcast_to(np.arange(len(points_mm))[:, None], other.shape)
    is_pair = np.isfinite(distance_mm) & (one != other)
    pairs = np.sort(np.column_stack([one[is_pair], other[is_pair]]), axis=1)
    pairs, first = np.unique(pairs, axis=0, return_index=True)
    apart_mm = distance_mm[is_pair][first]
    order = np.argsort(apart_mm, kind="stable")
    return pairs[order], apart_mm[order]
