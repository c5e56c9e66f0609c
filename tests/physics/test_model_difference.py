"""Model difference: what is told of the network beside the sheet."""

from dataclasses import replace

import numpy as np
import pytest

from layout_app.model.errors import LayoutError
from layout_app.physics.currents import NetworkModel, SheetModel
from layout_app.physics.model_difference import model_difference
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded


@pytest.fixture(scope="module")
def both():
    plates = Plates(banded(n_columns=6, n_rows=4, n_series=3))
    return NetworkModel(plates), SheetModel(plates)


def changed(currents, **values):
    return replace(currents, solved=replace(currents.solved, **values))


def test_a_model_does_not_differ_from_itself(both):
    found = both[1].solve(50.0)
    difference = model_difference(found, found)
    assert difference.cell_current_a == difference.cell_current_share == difference.spread == 0
    assert difference.terminal_resistance == 0
    assert difference.segment_loss.tolist() == [0, 0, 0, 0]


def test_each_difference_is_told_for_itself(both):
    """By hand: one value changed at a time, by a share that is then told."""
    sheet = both[1].solve(50.0)
    solved = sheet.solved
    loss = solved.segment_loss_w * (1.0, 1.0, 0.9, 1.02)
    difference = model_difference(changed(sheet, segment_loss_w=loss), sheet)
    assert difference.segment_loss == pytest.approx([0, 0, -0.1, 0.02], abs=1e-12)
    assert difference.worst_segment == 2
    resistance = solved.terminal_resistance_ohm * 1.03
    assert model_difference(changed(sheet, terminal_resistance_ohm=resistance), sheet).terminal_resistance == (
        pytest.approx(0.03)
    )
    mean = solved.cell_current_a.mean()
    wider = mean + (solved.cell_current_a - mean) * 1.05
    difference = model_difference(changed(sheet, cell_current_a=wider), sheet)
    assert difference.spread == pytest.approx(0.05)
    assert difference.cell_current_a == pytest.approx(0.05 * np.abs(solved.cell_current_a - mean).max())
    assert difference.cell_current_share == pytest.approx(difference.cell_current_a / mean)


def test_the_network_keeps_within_what_was_asked_for(both):
    """Asked for by the user: 5 % of the spread, 10 % of a segment."""
    network, sheet = (model.solve(50.0) for model in both)
    difference = model_difference(network, sheet)
    assert abs(difference.spread) < 0.05
    assert np.abs(difference.segment_loss).max() < 0.10
    assert difference.as_json()["segment_loss_share"] == difference.segment_loss.tolist()


@pytest.mark.parametrize("amps", [0.0, -30.0])
def test_at_rest_nothing_differs_and_charging_differs_as_discharging(both, amps):
    """Law: with equal cells nothing flows at rest; otherwise all is proportional to the current."""
    difference = model_difference(*(model.solve(amps) for model in both))
    if amps == 0:
        assert difference.spread == 0
        assert difference.segment_loss.tolist() == [0, 0, 0, 0]
        assert difference.cell_current_a == pytest.approx(0, abs=1e-6)
    else:
        other = model_difference(*(model.solve(-amps) for model in both))
        assert difference.spread == pytest.approx(other.spread, rel=1e-3)
        assert difference.segment_loss == pytest.approx(other.segment_loss, rel=1e-3)


def test_two_currents_or_modules_are_not_compared(both):
    network, sheet = both
    with pytest.raises(LayoutError, match=r"at 40 A, the sheet of 24 at 50 A\. Compare both for one module"):
        model_difference(network.solve(40.0), sheet.solve(50.0))
    other = NetworkModel(Plates(banded(n_columns=4, n_rows=4, n_series=2)))
    with pytest.raises(LayoutError, match="of 16 cells"):
        model_difference(other.solve(50.0), sheet.solve(50.0))
