"""Figures of currents: each against its own definition, worked out by hand where metal adds nothing."""

from dataclasses import replace

import pytest

from layout_app.model.joints import JointSettings
from layout_app.model.plates import Terminal
from layout_app.physics.current_figures import shares_of_groups, tab_losses_w
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
    by_hand = [abs(neck.current_a) / (neck.width_mm * layout.plates.thickness_mm) for neck in workings.necks]
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


def test_a_bond_tells_what_it_stands_and_what_it_does_in_a_fault():
    wire = JointSettings(n_wires=1, wire_diameter_mm=0.3, wire_length_mm=10.0, foot_ohm=0.0)
    found = figures_of(replace(ideal(peak_current_a=40.0), joints=wire))
    # trade.md section 3: 0.3 mm aluminium, ends cooled, 264.27 A mm / 10 mm
    assert found["joint_opening_a"].value == pytest.approx(26.43, rel=2e-3)
    assert found["joint_margin"].value == pytest.approx(26.43 / 3 / 4.0, rel=5e-3)
    # derived: E / ((R_c + R_j) / (P − 1) + R_j + R_fault), both joints of a cell in its path
    bond_ohm = 2 * 2.65e-8 * 10e-3 / (3.141592653589793 / 4 * 0.3e-3**2)
    fault_a = 4.2 / ((0.02 + bond_ohm) / 4 + bond_ohm + 5e-3)
    assert found["shorted_cell_a"].value == pytest.approx(fault_a, rel=1e-9)
    assert found["shorted_cell_neighbour_a"].value == pytest.approx(fault_a / 4, rel=1e-9)
    assert found["shorted_terminals_a"].value == pytest.approx(4 * 4.2 / (4 * (0.02 + bond_ohm) / 5), rel=1e-3)


def test_without_a_current_to_carry_there_is_no_margin():
    found = figures_of(replace(ideal(), design_current_a=0.0))
    assert "joint_margin" not in found
    assert "joint_opening_a" in found


def test_the_shares_of_groups_enclose_one_and_the_worst_is_the_figure():
    layout = module(4, 5)
    workings = Workings(layout)
    shares = shares_of_groups(layout, workings.currents)
    assert len(shares) == 4
    assert all(least <= 1 <= largest for least, largest in shares)  # law: a mean lies between
    worst = {figure.key: figure.value for figure in workings.current_figures}
    assert max(largest for _, largest in shares) == worst["imbalance"]
    assert min(least for least, _ in shares) == worst["least_share"]


def test_a_tab_outside_loses_what_a_strip_does_and_one_inside_is_not_told_apart():
    layout = module(4, 5)
    solved = Workings(layout).currents.solved
    negative, positive = tab_losses_w(layout, solved)
    # derived: 20² × 1.724e-8 / 0.5e-3 × 18 / 20
    thickness_m = 1e-3 * layout.plates.thickness_mm
    assert negative == positive == pytest.approx(400 * 1.724e-8 / thickness_m * 18 / 20)
    assert negative < solved.segment_loss_w[0]
    inside = replace(layout, terminals=(Terminal(place="inside"), Terminal()))
    assert tab_losses_w(inside, Workings(inside).currents.solved)[0] == 0.0
