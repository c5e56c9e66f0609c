"""Room: where cells, new or moved, would overlap others."""

from __future__ import annotations

from itertools import chain

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.model.errors import LayoutError

TOUCHING_MM = 1e-6  # places are computed, so cells that just touch may seem to overlap by rounding
FARTHEST_MM = 1e8  # beyond 100 km squares lose the micrometre
AT_A_TIME = 256
Clash = tuple[int, int, float]  # a cell, the other, by how many mm they overlap


def first_clash(
    centres_mm: PointArray, cells: IntArray, diameter_mm: float, before_mm: PointArray | None = None
) -> Clash | None:
    """Return (cell, other cell, overlap in mm) of the worst overlap of one of `cells` with any, or None.

    With `before_mm`, (n, 2) where the cells stood, overlaps that were there before and grow no worse are passed over.
    """
    of, others, apart_mm = _near(centres_mm, cells, diameter_mm)
    if before_mm is not None:
        worse = apart_mm < _apart_mm(before_mm, of, others) - TOUCHING_MM
        of, others, apart_mm = of[worse], others[worse], apart_mm[worse]
    if not len(of):
        return None
    worst = np.lexsort((of, apart_mm))[0]
    return int(of[worst]), int(others[worst]), float(diameter_mm - apart_mm[worst])


def first_without_room(centres_mm: PointArray, n_old: int, diameter_mm: float) -> Clash | None:
    """Return the first cell from number `n_old` on that overlaps an earlier one, and which it overlaps most; or None.

    Looks at some cells at a time: thousands of copies in one place overlap in millions of pairs.
    """
    for start in range(n_old, len(centres_mm), AT_A_TIME):
        cells = np.arange(start, min(start + AT_A_TIME, len(centres_mm)))
        of, others, apart_mm = _near(centres_mm[: cells[-1] + 1], cells, diameter_mm)
        of, others, apart_mm = of[others < of], others[others < of], apart_mm[others < of]
        if len(of):
            first = np.lexsort((apart_mm, of))[0]
            return int(of[first]), int(others[first]), float(diameter_mm - apart_mm[first])
    return None


def _near(centres_mm: PointArray, cells: IntArray, diameter_mm: float) -> tuple[IntArray, IntArray, FloatArray]:
    """Return (k,) cells, (k,) others that each overlaps, (k,) how far apart their centres are."""
    from scipy.spatial import cKDTree  # loaded when something is moved

    if len(cells) and not np.abs(centres_mm[cells]).max() < FARTHEST_MM:
        raise LayoutError("A cell would stand more than 100 km from the origin. Place it inside the housing.")
    tree = cKDTree(centres_mm)
    near = np.asarray(tree.query_ball_point(centres_mm[cells], diameter_mm - TOUCHING_MM), dtype=object).tolist()
    of = np.repeat(cells, [len(some) for some in near])
    others = np.fromiter(chain.from_iterable(near), dtype=np.int64, count=len(of))
    of, others = of[of != others], others[of != others]
    return of, others, _apart_mm(centres_mm, of, others)


def _apart_mm(centres_mm: PointArray, of: IntArray, others: IntArray) -> FloatArray:
    apart: FloatArray = np.hypot(*(centres_mm[of] - centres_mm[others]).T)
    return apart
