"""Whatever a layout holds, both models and the netlist answer in finite numbers or in one clear line.

Warnings are errors here, so a singular matrix or a division by nothing would fail the test.
"""

import json
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.exchange.netlist import netlist
from layout_app.model.errors import LayoutError
from layout_app.physics.currents import NetworkModel, SheetModel
from layout_app.physics.module import CellCondition
from layout_app.plates.deriving import Plates
from tests.plates.modules import CELL, COPPER, banded


def powers(low, high):
    return st.floats(low, high).map(lambda power: 10.0**power)


@st.composite
def damaged(draw):
    """Return a small module with metal, cells and groups as absurd as the door lets through, or None if it does not."""
    metal = replace(COPPER, resistivity_ohm_m=draw(st.just(1.7e-8) | powers(-12, -3)))
    sizes = {
        "thickness_mm": draw(st.just(0.5) | powers(-9, 1.3)),
        "positive_window_mm": draw(st.none() | st.floats(0.1, 40.0)),
        "gap_mm": draw(st.just(1.5) | st.floats(0.01, 25.0)),
        "min_web_mm": draw(st.just(1.0) | st.floats(0.0, 20.0)),
        "corner_radius_mm": draw(st.just(1.0) | st.floats(0.0, 30.0)),
    }
    cell = replace(CELL, resistance_ohm=draw(st.just(0.02) | powers(-6, 5)))
    n_series = draw(st.integers(1, 3))
    layout = banded(n_columns=4, n_rows=3, n_series=n_series, cell=cell, material=metal, **sizes)
    groups = layout.cells.groups.copy()
    for _ in range(draw(st.integers(0, 5))):
        groups[draw(st.integers(0, len(groups) - 1))] = draw(st.integers(0, n_series))
    return replace(layout, cells=layout.cells.regrouped(groups))


CONDITIONS = st.lists(
    st.integers(-1, 13).map(CellCondition.opened)
    | st.integers(0, 11).map(CellCondition.shorted)
    | st.builds(CellCondition, cell=st.integers(0, 11), source_v=st.floats(-10, 10), resistance_ohm=powers(-8, 8)),
    max_size=12,
)


def answer(ask):
    """Return what is found, or None for a line that says what is wrong; anything else is a fault."""
    try:
        return ask()
    except LayoutError as error:
        message = str(error)
    assert len(message) > 20
    assert "\n" not in message
    return None


@settings(deadline=None, max_examples=15)
@given(layout=damaged(), conditions=CONDITIONS, current=st.sampled_from([None, 0.0, 50.0, -1e5, 1e-12]))
def test_no_layout_brings_more_than_a_message(layout, conditions, current):
    plates = Plates(layout)
    if answer(lambda: plates.segments) is None:
        return
    network = NetworkModel(plates)
    deck = answer(lambda: netlist(network, current, conditions))
    assert deck is None or " nan" not in deck
    sheet = answer(lambda: SheetModel(plates))
    for model in (network, sheet):
        found = None if model is None else answer(lambda model=model: model.solve(current, conditions))
        if found is None:
            continue
        json.dumps(found.as_json(), allow_nan=False)
        assert np.isfinite(found.solved.segment_loss_w).all()
        if model is sheet:
            for field in sheet.fields(found):
                assert np.isfinite(field.density_a_mm2).all()
                assert np.isfinite([field.peak_a_mm2, field.peak_error_a_mm2, field.foot_peak_a_mm2]).all()
