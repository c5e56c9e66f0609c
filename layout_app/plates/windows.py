"""Windows: how wide a segment opens over each end of a cell."""

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face


def positive_window_mm(layout: Layout) -> float:
    """Return the diameter of the window over a positive button, mm.

    The can's shoulder ring is at the other potential: the window ends `shoulder_clearance_mm` short of it, so that it
    shows the button and the insulator only, but is never narrower than the button itself.
    """
    if layout.plates.positive_window_mm is not None:
        return layout.plates.positive_window_mm
    cell = layout.cell_type
    return max(cell.shoulder_diameter_mm - 2 * layout.plates.shoulder_clearance_mm, cell.button_diameter_mm)


def negative_window_mm(layout: Layout) -> float:
    """Return the diameter of the window over a can bottom, mm: the whole flat, as far as the webs allow.

    A web runs along every border too: half the pitch must hold the window's radius, the web and half the gap. Straight
    borders run halfway between rows, which are closer together, and the metal at the wall ends at the setback.
    """
    if layout.plates.negative_window_mm is not None:
        return layout.plates.negative_window_mm
    lattice, plates = layout.lattice, layout.plates
    across_mm = lattice.pitch_mm if plates.borders == "zigzag" else min(lattice.pitch_mm, lattice.row_mm)
    to_border_mm = (across_mm - plates.gap_mm) / 2
    to_wall_mm = layout.cell_type.diameter_mm / 2 + layout.housing.wall_clearance_mm - plates.setback_mm
    room_mm = 2 * (min(to_border_mm, to_wall_mm) - plates.min_web_mm)
    least_mm = min(layout.cell_type.button_diameter_mm, layout.cell_type.bottom_diameter_mm)
    return max(min(layout.cell_type.bottom_diameter_mm, room_mm), least_mm)


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
