"""Layouts for the tests of the window: hexagonal rows in a rectangle, groups as bands."""

import math

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.plates import PlateSettings
from tests.edits.modules import CELL, COPPER, PITCH_MM

CORNER_MM = (1013.0, 512.0)  # where the first cell stands: drawings rarely start at the origin


def module(n_series: int = 6, n_parallel: int = 20, n_rows: int = 10) -> Layout:
    """S x P cells in hexagonal rows; each group is a band of whole columns, two free sites are left at the end."""
    n_cells = n_series * n_parallel
    n_columns = math.ceil(n_cells / n_rows)
    column, row = np.divmod(np.arange(n_cells), n_rows)
    lattice = Lattice.hexagonal(PITCH_MM, origin_mm=CORNER_MM)
    centres_mm = lattice.points_mm(row.astype(float), column.astype(float))
    width_mm, height_mm = (n_columns + 1.5) * PITCH_MM + 3, (n_rows - 1) * lattice.row_mm + PITCH_MM + 3
    outline = Contour.rectangle(width_mm, height_mm, 6.0).moved(CORNER_MM[0] - 12.5, CORNER_MM[1] - 12.5)
    return Layout(
        name="orchard rover", housing=Housing(outline=outline), cell_type=CELL, lattice=lattice,
        cells=Cells(centres_mm, np.arange(n_cells) // n_parallel + 1), n_series=n_series, n_parallel=n_parallel,
        plates=PlateSettings(material=COPPER), design_current_a=80.0, peak_current_a=160.0,
    )  # fmt: skip
