"""Room: where cells, new or moved, would overlap others."""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.errors import LayoutError

TOUCHING_MM = 1e-6  # places are computed, so cells that just touch may seem to overlap by rounding
FARTHEST_MM = 1e8  # beyond 100 km squares lose the micrometre
Clash = tuple[int, int, float]  # a cell, the other, by how many mm they overlap


def first_clash(
    centres_mm: PointArray, cells: IntArray, diameter_mm: float, before_mm: PointArray | None = None
) -> Clash | None:
    """Return (cell, other cell, overlap in mm) of the worst overlap of one of `cells` with any, or None.

    With `before_mm`, (n, 2) where the cells stood, overlaps that were there before and grow no worse are passed over.
    """
    clashes = all_clashes(centres_mm, cells, diameter_mm, before_mm)
    return max(clashes, key=lambda clash: (clash[2], -clash[0]), default=None)


def all_clashes(
    centres_mm: PointArray, cells: IntArray, diameter_mm: float, before_mm: PointArray | None = None
) -> list[Clash]:
    """Return every overlap of one of `cells` with any other; see `first_clash`."""
    from scipy.spatial import cKDTree  # loaded when something is moved

    if len(cells) and not np.abs(centres_mm[cells]).max() < FARTHEST_MM:
        raise LayoutError("A cell would stand more than 100 km from the origin. Place it inside the housing.")
    tree = cKDTree(centres_mm)
    near = np.asarray(tree.query_ball_point(centres_mm[cells], diameter_mm - TOUCHING_MM), dtype=object).tolist()
    found = []
    for cell, others in zip(cells.tolist(), near, strict=True):
        for other in others:
            if other == cell:
                continue
            apart_mm = math.dist(centres_mm[cell], centres_mm[other])
            was_mm = math.inf if before_mm is None else math.dist(before_mm[cell], before_mm[other])
            if apart_mm < was_mm - TOUCHING_MM:
                found.append((cell, other, diameter_mm - apart_mm))
    return found
