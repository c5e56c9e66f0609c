"""Bare sites: empty places of the lattice that the metal leaves alone."""

import numpy as np

from layout_app.geometry.arrays import PointArray
from layout_app.model.layouts import Layout
from layout_app.planning.filling import sites_mm

BESIDE_PITCHES = (
    1.6  # sites up to here lie beside one another, in every lattice; the next ones are at √3 pitches or more
)
APART_PITCHES = 0.9  # a site nearer to a cell is taken by it, though the cell may stand a little off


def bare_sites_mm(layout: Layout) -> PointArray:
    """Return (n, 2) the empty sites no segment reaches over, mm.

    Where cells leave a wide part of the housing empty, the metal ends with the last cells. A single empty site, or a
    row of them one site wide, is covered all the same: metal there costs little and carries current. So a site is bare
    when it is not beside a cell, and so are the empty sites beside such a one.
    """
    from scipy.spatial import KDTree

    sites, cells = sites_mm(layout.lattice, layout.housing, layout.cell_type), layout.cells.centres_mm
    if len(sites) == 0 or len(cells) == 0:
        return np.empty((0, 2))
    pitch_mm = layout.lattice.pitch_mm
    to_cell = KDTree(cells).query(sites)[0]
    far = sites[to_cell > BESIDE_PITCHES * pitch_mm]
    if len(far) == 0:
        return np.empty((0, 2))
    to_far = KDTree(far).query(sites)[0]
    is_bare = (to_cell > APART_PITCHES * pitch_mm) & (to_far < BESIDE_PITCHES * pitch_mm)
    return np.asarray(sites[is_bare], dtype=np.float64)
