"""Voltage and current rules against the limits of the standards named there."""

from dataclasses import replace

import numpy as np
import pytest

from layout_app.checks import voltage
from layout_app.model.limits import Limits


def only(findings):
    """Return the single finding of a rule."""
    (finding,) = list(findings)
    return finding


def module(bench, n_series, n_parallel=1, **changes):
    """Return a layout of S groups of P cells in one row."""
    groups = np.repeat(np.arange(1, n_series + 1), n_parallel)
    return bench.lay(bench.row(len(groups)), groups, n_series=n_series, n_parallel=n_parallel, **changes)


@pytest.mark.parametrize(("n_series", "limit_v"), [(15, 60.0), (28, 60.0), (29, 120.0), (96, 120.0)])
def test_open_circuit_voltage_is_held_against_60_and_120_v_dc(bench, n_series, limit_v):
    # 60 V d.c. touchable: IEC 61140 / 60364-4-41; 120 V d.c. extra-low voltage: IEC 62257-7-1. 15 × 4.2 V = 63 V
    finding = only(voltage.touch_voltage(module(bench, n_series)))
    assert finding.severity == "warning"
    assert finding.measured == pytest.approx(n_series * 4.2)
    assert finding.limit == limit_v
    assert "IEC" in finding.source


def test_voltage_at_or_below_60_v_says_nothing(bench):
    assert not list(voltage.touch_voltage(module(bench, 14)))  # 58.8 V
    exactly = replace(bench.cell_type, voltage_max_v=4.0)
    assert not list(voltage.touch_voltage(module(bench, 15, cell_type=exactly)))  # 60.0 V


def test_touch_limit_can_be_set_for_wet_places(bench):
    wet = Limits(touch_voltage_v=30.0)  # from memory: IEC 60364-4-41, 414.4.5
    assert only(voltage.touch_voltage(module(bench, 8, limits=wet))).limit == 30.0


def test_design_current_above_the_cells_rating_is_an_error(bench):
    # 2 groups of 4 cells of 10 A: 48 A is 12 A a cell
    finding = only(voltage.continuous_current(module(bench, 2, 4, design_current_a=48.0)))
    assert finding.severity == "error"
    assert (finding.measured, finding.limit) == (pytest.approx(12.0), 10.0)
    assert "at least 5 cells" in finding.message
    assert not list(voltage.continuous_current(module(bench, 2, 4, design_current_a=40.0)))


def test_peak_current_is_held_against_the_ten_second_rating(bench):
    finding = only(voltage.peak_current(module(bench, 2, 4, peak_current_a=61.0)))
    assert finding.limit == 15.0
    assert not list(voltage.peak_current(module(bench, 2, 4, peak_current_a=60.0)))


def test_the_smallest_group_bears_the_most_current(bench):
    layout = bench.lay(bench.row(3), [1, 1, 2], n_series=2, n_parallel=2, design_current_a=18.0)
    finding = only(voltage.continuous_current(layout))
    assert finding.measured == pytest.approx(18.0)
    assert finding.cells == (2,)


def test_current_through_a_group_without_cells_is_left_to_the_missing_group(bench):
    layout = bench.lay(bench.row(2), [1, 1], n_series=2, n_parallel=2, design_current_a=1000.0)
    assert not list(voltage.continuous_current(layout))
