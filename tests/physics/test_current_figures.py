"""Figures of currents: each against its own definition, worked out by hand where metal adds nothing."""

from dataclasses import replace

import pytest

from layout_app.model.joints import JointSettings
from layout_app.workings import Workings
from tests.edits.modules import CELL, module


def figures_of(layout):
    return {figure.key: figure for figure in Workings(layout).current_figures}


def ideal(**changes):
    layout = module(4, 5)
    material = replace(layout.plates.material, resistivity_ohm_m=1e-12)
    plates = replace(layout.plates, material=material)
    return replace(layout, plates=plates, joints=JointSettings(weld_ohm=1e-3), **changes)


def test_over_perfect_metal_the_terminals_see_cells_and_joints_alone():
    found = figures_of(ideal(peak_current_a=40.0))
    # derived: 4 groups of 5 cells of 20 mΩ with two joints of 1 mΩ each
    assert found["terminal_resistance_mohm"].value == pytest.approx(4 * 22 / 5, rel=1e-4)
    assert found["interconnect_resistance_mohm"].value == pytest.approx(4 * 2 / 5, rel=1e-3)
    assert found["imbalance"].value == pytest.approx(1.0, abs=1e-6)
    assert found["least_share"].value == pytest.approx(1.0, abs=1e-6)
    assert found["terminal_voltage_v"].value == pytest.approx(4 * 3.6 - 20 * 0.0176, rel=1e-4)
    # derived: 20 cells at 4 A: Σ i² R
    assert found["cell_loss_w"].value == pytest.approx(20 * 16 * CELL.resistance_ohm, rel=1e-4)
    assert found["joint_loss_w"].value == pytest.approx(20 * 16 * 2e-3, rel=1e-4)
    assert found["hottest_joint_w"].value == pytest.approx(16 * 1e-3, rel=1e-4)
    assert found["peak_loss_w"].value == pytest.approx(4 * 20 * 16 * 0.022, rel=1e-3)


def test_the_worst_neck_is_the_one_of_highest_density_wherever_sheets_differ():
    layout = module(4, 5)
    workings = Workings(layout)
    found = figures_of(layout)["worst_neck_a_mm2"]
    by_hand = [20.0 / (neck.width_mm * layout.plates.thickness_mm) for neck in workings.necks]
    assert found.value == pytest.approx(max(by_hand))
    assert dict(found.inputs)["segment"] == str(by_hand.index(max(by_hand)))
    assert "practice is divided" in found.source


def test_without_a_path_there_are_no_figures_of_currents():
    layout = module(4, 5)
    groups = layout.cells.groups.copy()
    groups[groups == 2] = 0
    workings = Workings(replace(layout, cells=layout.cells.regrouped(groups)))
    assert workings.current_figures == ()
    assert workings.no_currents
