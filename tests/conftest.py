"""What the tests of the whole program share."""

import os

import numpy as np
import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")  # no test needs a screen


@pytest.fixture
def rows():
    """A layout of 4 groups of 5 cells, 22 mm apart, one group to a row; rows 1 mm and 1 mm from the wall."""
    from layout_app.geometry.contours import Contour
    from layout_app.model.catalogues import cell_type, material
    from layout_app.model.cells import Cells
    from layout_app.model.housings import Housing
    from layout_app.model.lattices import Lattice
    from layout_app.model.layouts import Layout
    from layout_app.model.plates import PlateSettings

    cell = cell_type("21700-energy")
    pitch_mm = cell.diameter_mm + 1.0
    column, row = np.meshgrid(np.arange(5), np.arange(4))
    edge_mm = cell.diameter_mm / 2 + 1.0
    housing = Housing(
        outline=Contour.rectangle(4 * pitch_mm + 2 * edge_mm, 3 * pitch_mm + 2 * edge_mm).moved(-edge_mm, -edge_mm)
    )
    return Layout(
        name="canal tender", housing=housing, cell_type=cell, lattice=Lattice.square(pitch_mm),
        cells=Cells(np.column_stack([column.ravel(), row.ravel()]) * pitch_mm, row.ravel() + 1),
        n_series=4, n_parallel=5, plates=PlateSettings(material=material("copper")), design_current_a=20.0,
    )  # fmt: skip


@pytest.fixture
def saved(rows, tmp_path):
    """The file `rows` is saved in."""
    from layout_app.model.saved_file import save

    path = tmp_path / "canal_tender.busweave"
    save(rows, path)
    return path
