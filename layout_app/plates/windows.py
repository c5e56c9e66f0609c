"""Windows: how wide a segment opens over each end of a cell."""

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face

BOND_ROOM_MM = 2.0  # around the button, for the bond's foot and the tool's tip; common practice, no source


def positive_window_mm(layout: Layout) -> float:
    """Return the diameter of the window over a positive button, mm: the button and room for the bond around it.

    The can's shoulder ring is at the other potential. The window's edge stays `shoulder_clearance_mm` inside the ring,
    so that it shows the button and the insulator only; it is never narrower than the button itself.
    """
    if layout.plates.positive_window_mm is not None:
        return layout.plates.positive_window_mm
    cell = layout.cell_type
    inside_ring_mm = cell.shoulder_diameter_mm - 2 * layout.plates.shoulder_clearance_mm
    wanted_mm = min(cell.button_diameter_mm + 2 * BOND_ROOM_MM, inside_ring_mm, _room_mm(layout))
    return max(wanted_mm, cell.button_diameter_mm)


def negative_window_mm(layout: Layout) -> float:
    """Return the diameter of the window over a can bottom, mm: the whole flat, as far as the webs allow."""
    if layout.plates.negative_window_mm is not None:
        return layout.plates.negative_window_mm
    cell = layout.cell_type
    return max(min(cell.bottom_diameter_mm, _room_mm(layout)), min(cell.button_diameter_mm, cell.bottom_diameter_mm))


def _room_mm(layout: Layout) -> float:
    """Return the widest window that leaves the least web all round, mm.

    A web runs along every border too: half the pitch must hold the window's radius, the web and half the gap. Straight
    borders run halfway between rows, which are closer together, and at the wall the metal ends at the setback.
    """
    lattice, plates = layout.lattice, layout.plates
    across_mm = lattice.pitch_mm if plates.borders == "zigzag" else min(lattice.pitch_mm, lattice.row_mm)
    to_border_mm = (across_mm - plates.gap_mm) / 2
    to_wall_mm = layout.cell_type.diameter_mm / 2 + layout.housing.wall_clearance_mm - plates.setback_mm
    return 2 * (min(to_border_mm, to_wall_mm) - plates.min_web_mm)


def window_radii_mm(layout: Layout, is_positive_end: BoolArray) -> FloatArray:
    """Return the window radius over each cell end, mm, in the order given."""
    return np.where(is_positive_end, positive_window_mm(layout) / 2, negative_window_mm(layout) / 2)


def positive_ends(layout: Layout, face: Face) -> BoolArray:
    """Return (n,) which cells show their positive end on a face."""
    return layout.positive_up if face == "top" else ~layout.positive_up


def segment_of_cells(layout: Layout, face: Face) -> np.ndarray:
    """Return (n,) the segment over each cell on a face; -1 over unassigned cells.

    Segment k joins the positive ends of group k to the negative ends of group k+1.
    """
    groups = layout.cells.groups
    return np.where(groups > 0, groups - 1 + positive_ends(layout, face), -1)
