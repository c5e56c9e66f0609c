"""The numbers behind the charts: laws they obey, hand calculations, and what they say in words."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.charting.cell_currents import CellCurrents
from layout_app.charting.charts import TITLES
from layout_app.charting.loss_budget import LossBudget
from layout_app.charting.voltage_drop import VoltageDrop
from layout_app.physics.module import CellCondition


@pytest.mark.parametrize("key", TITLES)
def test_every_chart_has_a_summary_and_a_table_of_its_numbers(charts, key):
    chart = charts[key]
    assert chart.title == TITLES[key]
    assert chart.summary.endswith(".")
    assert all(len(row) == len(chart.header) for row in chart.rows)


# -- cell currents ----------------------------------------------------------------------------------------------


def cell_currents(current_a, groups, limit=1.1):
    """The chart of cells 10, 11, …"""
    return CellCurrents(
        module_a=6.0, cells=np.arange(9, 9 + len(groups)), groups=np.array(groups), limit=limit, rating_a=4.0,
        current_a=np.array(current_a, dtype=float),
    )  # fmt: skip


def test_cells_are_ranked_by_current_and_compared_with_the_mean_of_their_group():
    chart = cell_currents([1.0, 3.0, 2.5, 2.0, 1.5], [1, 1, 2, 2, 2])
    assert chart.rows == [  # by hand: means are 2 A and 2 A
        (1, 11, 1, 3.0, 1.5), (2, 12, 2, 2.5, 1.25), (3, 13, 2, 2.0, 1.0), (4, 14, 2, 1.5, 0.75),
        (5, 10, 1, 1.0, 0.5),
    ]  # fmt: skip
    assert "cell 11 in group 1 carries 3 A, 1.500 times its group's mean" in chart.summary
    assert "cell 10 in group 1 the least part, 0.500" in chart.summary
    assert "2 cells are over the limit of 1.1" in chart.summary


def test_no_cell_is_called_over_a_limit_that_rounding_alone_touches():
    assert not cell_currents([2.0, 2.0], [1, 1], limit=1.0).is_over.any()
    assert "no cell is over" in cell_currents([2.0, 2.0], [1, 1], limit=1.0).summary


def test_a_module_without_current_shares_nothing_unevenly():
    chart = cell_currents([0.0, 0.0], [1, 1])
    assert chart.share.tolist() == [1.0, 1.0]


def test_cells_in_no_group_are_left_out(worked):
    groups = worked.layout.cells.groups.copy()
    groups[3] = 0
    some = replace(worked.layout, cells=worked.layout.cells.regrouped(groups))
    assert 3 not in CellCurrents.of(some, worked.currents).cells
    assert len(CellCurrents.of(some, worked.currents).cells) == 19


@given(st.lists(st.tuples(st.floats(-5.0, 50.0), st.integers(1, 4)), min_size=1, max_size=40))
@settings(deadline=None, max_examples=60)
def test_strips_keep_to_their_group_and_never_lay_one_cell_on_another(cells):
    groups = [1, *(group for _, group in cells)]
    chart = cell_currents([1.0, *(a for a, _ in cells)], groups)
    x = chart._strip_x()
    assert (np.abs(x - chart.groups) < 0.5).all()
    assert len(set(x.tolist())) == len(x)
    for group in set(groups):
        its = np.flatnonzero(chart.groups == group)
        falling = chart.current_a[its[np.argsort(x[its])]]
        assert (np.diff(falling) <= 0).all()


# -- losses -----------------------------------------------------------------------------------------------------


def test_losses_and_shares_are_those_of_a_hand_calculation():
    budget = LossBudget(
        current_a=10.0,
        peak_a=30.0,
        nominal_v=20.0,
        part_w=np.array([4.5, 1.0, 0.4, 0.1]),
        segment_w=np.array([0.4, 0.1]),
    )
    # by hand: 200 W at 10 A; at 30 A losses are nine times as large, of 600 W
    assert budget.rows == [
        ("cells", 4.5, 0.0225, 40.5, 0.0675), ("joints", 1.0, 0.005, 9.0, 0.015),
        ("segments", 0.4, 0.002, 3.6, pytest.approx(0.006)),
        ("terminals", 0.1, 0.0005, 0.9, pytest.approx(0.0015)), ("segment 0", 0.4, 0.002, 3.6, pytest.approx(0.006)),
        ("segment 1", 0.1, 0.0005, 0.9, pytest.approx(0.0015)),
    ]  # fmt: skip
    assert "6 W become heat, 3 % of the module's power" in budget.summary
    assert "54 W, 9 %" in budget.summary


def test_the_budget_is_whole(worked, charts):
    budget, solved = charts["loss_budget"], worked.currents.solved
    # all a module of equal sources loses is current² × its resistance: what an ohmmeter at its terminals would say
    assert budget.part_w.sum() == pytest.approx(solved.current_a**2 * solved.terminal_resistance_ohm, rel=1e-9)


def test_losses_at_the_peak_are_those_of_a_module_solved_for_it(worked, charts):
    at_peak = worked.network.solve(worked.layout.peak_current_a).solved
    budget = charts["loss_budget"]
    assert budget.peak_ratio * budget.segment_w == pytest.approx(at_peak.segment_loss_w, rel=1e-9)
    assert budget.peak_ratio * budget.part_w[0] == pytest.approx(at_peak.cell_loss_w, rel=1e-9)


def test_without_a_peak_its_columns_are_empty(worked):
    budget = LossBudget.of(replace(worked.layout, peak_current_a=0.0), worked.currents)
    assert budget.rows[0][3:] == ("", "")
    assert "peak" not in budget.summary


# -- voltage drop -----------------------------------------------------------------------------------------------


def test_drops_add_up_to_current_times_resistance(worked, charts):
    solved, drop = worked.currents.solved, charts["voltage_drop"]
    assert drop.total_v == pytest.approx(solved.current_a * solved.terminal_resistance_ohm, rel=1e-9)  # Ohm's law
    open_v = worked.layout.n_series * worked.layout.cell_type.voltage_nominal_v
    assert drop.total_v == pytest.approx(open_v - solved.voltage_v, rel=1e-9)
    assert drop.rows[-1][4] == pytest.approx(drop.total_v)


def test_current_times_a_segments_drop_is_its_loss(worked, charts):
    solved, drop = worked.currents.solved, charts["voltage_drop"]
    # Tellegen's theorem: power in less power out of a piece of metal is what it turns into heat
    assert drop.metal_v * solved.current_a == pytest.approx(solved.segment_loss_w, rel=1e-6)
    assert drop.cell_v.sum() * solved.current_a == pytest.approx(solved.cell_loss_w, rel=1e-6)
    assert drop.joint_v.sum() * solved.current_a == pytest.approx(solved.joint_loss_w, rel=1e-9)


def test_drops_are_right_whatever_a_cell_is_like(worked):
    found = worked.network.solve(conditions=[CellCondition.weak(2, worked.layout), CellCondition.opened(11)])
    drop = VoltageDrop.of(worked.layout, worked.segments, found)
    assert drop.metal_v * found.solved.current_a == pytest.approx(found.solved.segment_loss_w, rel=1e-6)
    # by hand: four cells left of five, and one of five with half its conductance
    assert drop.cell_v[[2, 0]] / drop.cell_v[1] == pytest.approx([5 / 4, 5 / 4.5], rel=0.02)


def test_a_group_of_even_cells_loses_about_what_its_cells_in_parallel_do(worked, charts):
    expected_v = 20.0 * worked.layout.cell_type.resistance_ohm / 5  # by hand: I R / P; uneven shares add a little
    assert charts["voltage_drop"].cell_v == pytest.approx(np.full(4, expected_v), rel=0.01)


def test_the_spread_of_a_segment_is_what_the_rule_on_sense_taps_measures(worked, charts):
    from layout_app.checks.currents import sense_error

    tight = replace(worked.layout, limits=replace(worked.layout.limits, sense_error_v=1e-9))
    (finding,) = sense_error(tight, worked.currents, worked.segments)
    assert charts["voltage_drop"].spread_v.max() == pytest.approx(finding.measured, rel=1e-12)


# -- opening times ----------------------------------------------------------------------------------------------


def test_the_chart_of_a_fuse_shows_every_scenario(worked, charts):
    chart, faults = charts["opening_times"], worked.joint_faults
    labels = [point.label for point in chart.points]
    assert labels[:5] == ["continuous", "peak", "shorted cell", "shorted cell, sustained", "its neighbours"]
    assert "continuous, 2 lost" in labels
    assert any(label.startswith("terminals shorted: the neck") for label in labels)
    assert [name for name, _ in chart.necks] == [
        each.part.name for each in faults.terminals.parts if "neck" in each.part.name
    ]
    assert "bench tests decide" in chart.summary


def test_a_shorted_cells_point_lies_on_the_curve(charts):
    chart = charts["opening_times"]
    (point,) = (p for p in chart.points if p.label == "shorted cell")
    curve = chart.chart.curve
    log_s = np.interp(math.log(point.current_a), np.log(curve.current_a), np.log(curve.opening_s))
    assert math.exp(log_s) == pytest.approx(point.time_s, rel=0.02)  # between the points of the curve: a straight line


def test_scenarios_without_current_are_in_the_table_but_not_in_the_drawing(worked):
    from layout_app.charting.opening_times import OpeningTimes
    from layout_app.physics.joint_faults import joint_faults

    idle = replace(worked.layout, design_current_a=0.0, peak_current_a=50.0)
    chart = OpeningTimes.of(idle, joint_faults(idle, worked.currents, worked.necks))
    assert "continuous" in [row[0] for row in chart.rows]
    assert "continuous" not in [point.label for point in chart.points]
