"""Cuts of the metal where a keep-out's edge runs through the middle of a window: nothing there to divide by."""

import pytest

from layout_app.edits import AddKeepOut
from layout_app.geometry.contours import Contour
from layout_app.workings import Workings
from tests.edits.modules import PITCH_MM, module


def interconnect_ohm(beside_mm):
    """The metal keeps 2 mm off the keep-out, so its edge lies so far beside a column of cells, at 12.5 + 22 k."""
    layout = module()
    x_mm = 12.5 + 2 * PITCH_MM + layout.plates.setback_mm + beside_mm
    keep_out = Contour.rectangle(8.0, PITCH_MM).moved(x_mm, 12.5 + 0.5 * PITCH_MM)
    return Workings(AddKeepOut(keep_out).apply(layout)).currents.interconnect_resistance_ohm


def test_an_edge_through_the_middle_of_windows_makes_no_leap_in_what_the_metal_resists():
    # law: the resistance is continuous in the place of an edge; a hundredth of a millimetre is next to nothing
    assert interconnect_ohm(0.0) == pytest.approx(interconnect_ohm(0.01), rel=0.005)
