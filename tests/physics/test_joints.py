"""Lands of joints: where they sit, and that the metal under them can be worked with."""

import numpy as np
import pytest

from layout_app.model import saved_file
from layout_app.model.joints import JointSettings
from layout_app.model.resources import sample_layouts
from layout_app.physics.currents import SheetModel
from layout_app.physics.joints import lands
from layout_app.plates.deriving import Plates
from layout_app.workings import Workings
from tests.plates.modules import banded


@pytest.mark.parametrize("width_mm", [1.0, 3.0, 6.0])
def test_welded_tongues_can_be_meshed_and_keep_the_current(width_mm):
    """The root of a tongue is open to its window: no sliver of metal is left between that no mesh can fill."""
    joints = JointSettings(weld_ohm=4e-4, weld_width_mm=width_mm)
    found = SheetModel(Plates(banded(n_columns=6, n_rows=4, n_series=3)), joints).solve(50.0)
    assert found.solved.cell_current_a.sum() == pytest.approx(3 * 50.0)


def test_a_tongue_takes_the_metal_it_is_cut_from():
    """Derived: its width by its depth of a millimetre, and what lies between the window's rim and the tangent to it.

    That is w·r less the circle's area over the chord, half a chord of c: c·√(r² − c²) + r²·asin(c / r).
    """
    segment = Workings(saved_file.load(sample_layouts()["orchard_rover"])).segments[2]
    where = lands(segment, JointSettings(weld_ohm=4e-4, weld_width_mm=3.0))
    r, c = segment.windows_mm[:, 2], 1.5
    beside_rim = 3.0 * r - (c * np.sqrt(r**2 - c**2) + r**2 * np.arcsin(c / r))
    metal = segment.metal(1e-4)
    assert [feet.intersection(metal).area for feet in where.feet] == pytest.approx(3.0 + beside_rim, rel=1e-3)
