"""Surroundings: the free sites and the tints of the layouts seen last, kept while what they follow from is the same."""

from __future__ import annotations

from typing import Any

import numpy as np

from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.layouts import Layout
from layout_app.window.colours import group_tints
from layout_app.window.scene import NO_PLACES

NO_PAIRS: IntArray = np.zeros((0, 2), dtype=np.int64)


class Surroundings:
    """Sites and neighbours of the last layouts seen, kept while cells and lattice are the same. Used by one thread."""

    def __init__(self) -> None:
        self._sites: tuple[Any, PointArray] = (None, NO_PLACES)
        self._free: tuple[Any, PointArray] = (None, NO_PLACES)
        self._pairs: tuple[Any, IntArray] = (None, NO_PAIRS)
        self._tints: dict[int, int] = {}

    def free_sites_mm(self, layout: Layout) -> PointArray:
        """(n, 2): sites of the lattice inside the footprint where a cell fits."""
        key = (layout.housing, layout.lattice, layout.cell_type)
        if self._sites[0] != key:
            from layout_app.planning.filling import sites_mm

            self._sites = (key, sites_mm(layout.lattice, layout.housing, layout.cell_type))
            self._free = (None, NO_PLACES)
        centres = layout.cells.centres_mm
        if self._free[0] is not centres:
            self._free = (centres, _not_taken(self._sites[1], centres, layout.cell_type.diameter_mm))
        return self._free[1]

    def tints(self, layout: Layout) -> dict[int, int]:
        """Tint of each group; neighbours are looked for again only when cells moved."""
        centres = layout.cells.centres_mm
        if self._pairs[0] is not centres:
            from layout_app.geometry.neighbours import neighbour_pairs

            self._pairs = (centres, neighbour_pairs(centres, 1.5 * layout.lattice.pitch_mm))
        self._tints = group_tints(layout.cells.groups, self._pairs[1], self._tints)
        return self._tints


def _not_taken(sites: PointArray, centres: PointArray, diameter_mm: float) -> PointArray:
    """Return the sites where no cell stands, nor so near that another would overlap it."""
    if not len(sites) or not len(centres):
        return sites
    from scipy.spatial import cKDTree

    distance_mm, _ = cKDTree(centres).query(sites, distance_upper_bound=diameter_mm * (1 - 1e-6))
    return sites[np.isinf(distance_mm)]
