"""Fault scenarios against trade practice's selectivity numbers, hand calculation, and what must always hold."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.model.catalogues import wire_metals
from layout_app.model.errors import LayoutError
from layout_app.physics.bonds import BondWire, Fuse, SheetNeck
from layout_app.physics.fault_remarks import (
    load_remarks,
    lost_bonds_remarks,
    shorted_cell_remarks,
    shorted_terminals_remarks,
)
from layout_app.physics.fault_results import PathPart
from layout_app.physics.faults import fuse_chart, load_margins, lost_bonds, shorted_cell, shorted_terminals
from layout_app.physics.fuses import middle_after_c, opening_current_a, opening_times

ALUMINIUM = wire_metals()["aluminium-wire"]
QUICK = settings(deadline=None, max_examples=30)


def bond(diameter_mm=0.3, length_mm=10.0, **fuse):
    return Fuse(conductor=BondWire(metal=ALUMINIUM, diameter_mm=diameter_mm, length_mm=length_mm), **fuse)


def bond_opening_at(current_a):
    """A bond whose steady opening current is this: trade.md row 7, I_f L = 264.27 A mm for 0.30 mm aluminium."""
    return bond(length_mm=264.27 / current_a)


def short(fuse=None, **changes):
    """A block of ten as in trade.md section 3: 4.2 V, 25 mΩ a cell, 1 mΩ of wire, 5 mΩ inside the fault."""
    given_ = {"n_parallel": 10, "source_v": 4.2, "cell_ohm": 0.025, "joint_ohm": 0.001, "fault_ohm": 0.005}
    return shorted_cell(fuse or bond(), **{**given_, **changes})


# One cell shorted inside


@pytest.mark.parametrize(
    ("n_parallel", "cell_ohm", "faulty_a", "healthy_a"),
    [(10, 0.025, 472.5, 52.5), (3, 0.020, 254.5, 127.3)],  # trade.md section 3, selectivity, derived
)
def test_faulty_and_healthy_joints_carry_the_published_currents(n_parallel, cell_ohm, faulty_a, healthy_a):
    result = short(n_parallel=n_parallel, cell_ohm=cell_ohm)
    assert result.fault_a == pytest.approx(faulty_a, abs=0.06)
    assert result.neighbour_fault_a == pytest.approx(healthy_a, abs=0.06)


def test_in_a_block_of_ten_the_faulty_joint_opens_and_the_others_stay_solid():
    # trade.md row 8: (27 500 + 10 700) A²s/mm⁴, here 472.5 A / 0.0707 mm² = 6 685 A/mm²: 0.85 ms by hand
    result = short(neighbour_limit_a=30.0, before_a=4.0)
    assert result.fault_opening_s == pytest.approx(0.85e-3, rel=0.05)
    assert result.clears
    assert result.neighbours_survive
    assert result.neighbour_middle_c < 60.0
    assert shorted_cell_remarks("Group 3", result) == ()


def test_two_neighbours_of_20_a_cannot_open_a_link_of_58_6_a():
    # trade.md section 3, forum case (read): 3P, 20 A cells, link of 58.6 A: only 40 A is available
    result = short(bond_opening_at(58.6), n_parallel=3, cell_ohm=0.020, neighbour_limit_a=20.0)
    assert result.sustained_a == 40.0
    assert result.opening_a == pytest.approx(58.6, rel=1e-4)
    assert result.clears_at_fault
    assert not result.clears
    (remark,) = shorted_cell_remarks("Group 2", result)
    assert remark.severity == "warning"
    assert remark.message.startswith("Group 2: with a cell shorted inside, its 2 neighbours can drive 255 A")
    assert "the 40 A they are rated to keep up never open it, which takes 58.6 A" in remark.message
    assert (remark.measured, remark.unit) == (40.0, "A")


def test_resistive_cells_cannot_open_a_strong_bond_at_all():
    # by hand: 4.2 / (0.201 / 1 + 0.006) = 20.3 A, below the bond's 26.4 A
    result = short(n_parallel=2, cell_ohm=0.2)
    assert result.fault_opening_s == math.inf
    assert not result.clears_at_fault
    (remark,) = shorted_cell_remarks("Group 1", result)
    assert "its one neighbour can drive 20.3 A" in remark.message
    assert "does not clear" in remark.message


def test_with_one_neighbour_both_joints_melt_alike_and_the_healthy_cell_is_lost_too():
    result = short(n_parallel=2, cell_ohm=0.02, before_a=4.0)
    assert result.neighbour_fault_a == result.fault_a
    assert not result.neighbours_survive
    assert any("Healthy cells are lost with it" in remark.message for remark in shorted_cell_remarks("Group 1", result))


def test_a_hot_bond_weakens_the_sustained_current():
    # by hand: wire at melting has 3.668 times its resistance at 25 °C: 4.2 / (26/9 + 3.668 + 5) mΩ = 363.4 A
    assert short().sustained_a == pytest.approx(363.4, abs=0.2)


def test_a_cell_without_neighbours_is_fed_by_none():
    result = short(n_parallel=1)
    assert (result.fault_a, result.neighbour_fault_a, result.clears) == (0.0, 0.0, False)
    assert shorted_cell_remarks("Group 1", result) == ()


@QUICK
@given(n_parallel=st.integers(2, 100), cell_ohm=st.floats(0.001, 0.2), fault_ohm=st.floats(0.0005, 0.1))
def test_the_faulty_joint_carries_what_all_neighbours_give_together(n_parallel, cell_ohm, fault_ohm):
    result = short(n_parallel=n_parallel, cell_ohm=cell_ohm, fault_ohm=fault_ohm)
    # Kirchhoff's voltage law round one neighbour and the fault, by hand
    drop_v = result.neighbour_fault_a * (cell_ohm + 0.001) + result.fault_a * (0.001 + fault_ohm)
    assert drop_v == pytest.approx(4.2)
    assert result.fault_a == pytest.approx((n_parallel - 1) * result.neighbour_fault_a)
    assert result.sustained_a <= result.fault_a
    assert result.sustained_opening_s >= result.fault_opening_s


@QUICK
@given(n_parallel=st.integers(2, 60), cell_ohm=st.floats(0.005, 0.1))
def test_more_cells_in_parallel_open_the_faulty_joint_no_later(n_parallel, cell_ohm):
    fewer, more = (short(n_parallel=n, cell_ohm=cell_ohm) for n in (n_parallel, n_parallel + 1))
    assert more.fault_opening_s <= fewer.fault_opening_s
    assert more.neighbour_fault_a < fewer.neighbour_fault_a


# Load


def test_a_modest_load_has_margins_and_nothing_to_say():
    # 4 A continuous, 8 A peak on a bond of 26.43 A (trade.md row 7), rated at a third: by hand 2.20 and 3.30
    load = load_margins(bond(), continuous_a=4.0, peak_a=8.0)
    assert load.continuous_margin == pytest.approx(26.427 / 3 / 4, rel=1e-4)
    assert load.peak_margin == pytest.approx(26.427 / 8, rel=1e-4)  # ten seconds are for ever to 10 mm of aluminium
    assert load.peak_opening_s == math.inf
    assert load_remarks("Group 1", load) == ()


def test_a_continuous_current_over_the_rating_is_a_warning_and_one_that_melts_an_error():
    (over,) = load_remarks("Group 1", load_margins(bond(), continuous_a=12.0, peak_a=12.0))
    assert (over.rule, over.severity, over.unit) == ("bond rating", "warning", "A")
    assert "are over its rating of 8.81 A, 33 % of the 26.4 A" in over.message
    melts = load_remarks("Group 1", load_margins(bond(), continuous_a=30.0, peak_a=30.0))
    assert [remark.severity for remark in melts] == ["error", "error"]
    assert "30 A continuous through the 0.3 mm wire melt it" in melts[0].message


def test_a_ten_second_peak_that_opens_the_bond_is_an_error():
    load = load_margins(bond(), continuous_a=8.0, peak_a=30.0)
    assert load.opens_at_peak
    assert load.middle_peak_c == pytest.approx(660.3)
    (remark,) = load_remarks("Group 1", load)
    assert (remark.rule, remark.severity) == ("nuisance opening", "error")
    assert "before its 10 s are over" in remark.message


def test_a_peak_near_the_opening_current_is_a_warning_with_the_margin():
    (remark,) = load_remarks("Group 1", load_margins(bond(), continuous_a=8.0, peak_a=23.0))
    assert remark.severity == "warning"
    assert remark.measured == pytest.approx(26.427 / 23.0, rel=1e-3)
    assert remark.limit == 1.25


def test_a_peak_too_short_to_melt_the_bond_may_exceed_its_steady_opening_current():
    load = load_margins(bond(), continuous_a=5.0, peak_a=60.0, peak_s=0.02)
    assert load.peak_a > load.opening_a
    assert not load.opens_at_peak
    assert 1.0 < load.peak_margin < 2.0


def test_two_wires_carry_twice_the_load_of_one():
    one = load_margins(bond(), continuous_a=5.0, peak_a=12.0)
    two = load_margins(bond(n_conductors=2), continuous_a=10.0, peak_a=24.0)
    assert two.peak_margin == pytest.approx(one.peak_margin)
    assert two.middle_peak_c == pytest.approx(one.middle_peak_c)


# Terminals shorted


def shorted(n_series=6, parts=None, **changes):
    parts = parts or [PathPart(name="bond of each cell", fuse=bond(), share=1 / 20)]
    given_ = {"n_parallel": 20, "source_v": 4.2, "cell_ohm": 0.025, "joint_ohm": 0.002, "metal_ohm": 0.0004,
              "outside_ohm": 0.0015}  # fmt: skip
    return shorted_terminals(parts, n_series=n_series, **{**given_, **changes})


def test_a_shorted_module_says_that_a_bond_is_no_interrupting_device():
    # by hand: 25.2 V / (6 × 27 mΩ / 20 + 1.9 mΩ) = 2 520 A, 126 A a cell
    result = shorted()
    assert result.current_a == pytest.approx(2520.0)
    assert result.cell_current_a == pytest.approx(126.0)
    assert result.first is not None
    assert result.first.opening_s == pytest.approx(float(opening_times(bond(), 126.0).opening_s))
    (remark,) = shorted_terminals_remarks("Module", result)
    assert remark.severity == "note"
    assert "the whole 25.2 V, which may hold an arc" in remark.message
    assert "not an interrupting device" in remark.message
    assert "about 2520 A" in remark.message


def test_what_opens_first_comes_first():
    neck = SheetNeck(metal=ALUMINIUM, width_mm=3.0, thickness_mm=0.5, length_mm=4.0)
    weak = PathPart(name="neck of segment 3", fuse=Fuse(conductor=neck), share=1.0)
    strong = PathPart(name="bond of each cell", fuse=bond(0.5, n_conductors=2), share=1 / 20)
    result = shorted(parts=[strong, weak])
    assert [opening.part.name for opening in result.parts] == ["neck of segment 3", "bond of each cell"]
    assert "First to open: neck of segment 3" in shorted_terminals_remarks("Module", result)[0].message


def test_two_groups_in_series_have_too_little_voltage_for_an_arc():
    # 8.4 V; metals hold arcs from 12 to 15 V up: Holm, from memory
    result = shorted(n_series=2)
    assert not result.may_arc
    (remark,) = shorted_terminals_remarks("Module", result)
    assert remark.severity == "note"
    assert "too little to hold an arc" in remark.message


def test_a_short_that_opens_nothing_is_said_to_go_on():
    result = shorted(outside_ohm=1.0)
    assert result.first is None
    assert "nothing in their path opens" in shorted_terminals_remarks("Module", result)[0].message


# Lost bonds


def test_cells_left_in_a_group_carry_the_share_of_those_cut_off():
    # by hand: 80 A over 20 cells is 4 A, over 18 it is 4.444 A
    lost = lost_bonds(bond(), n_parallel=20, continuous_a=80.0, peak_a=160.0)
    assert lost.before.continuous_a == pytest.approx(4.0)
    assert lost.after is not None
    assert lost.after.continuous_a == pytest.approx(80 / 18)
    assert lost.after.peak_a == pytest.approx(160 / 18)
    assert lost_bonds_remarks("Group 3", lost) == ()


def test_only_what_the_loss_makes_wrong_is_said():
    # 5 A a cell is fine, 2 of 4 lost makes it 10 A, over a third of 26.4 A
    lost = lost_bonds(bond(), n_parallel=4, continuous_a=20.0, peak_a=20.0)
    (remark,) = lost_bonds_remarks("Group 3", lost)
    assert remark.message.startswith("Group 3, with 2 of its 4 cells cut off: 10 A continuous")
    already = lost_bonds(bond(), n_parallel=4, continuous_a=40.0, peak_a=40.0)
    assert all("continuous" not in remark.message for remark in lost_bonds_remarks("Group 3", already))


def test_losing_every_bond_opens_the_module():
    lost = lost_bonds(bond(), n_parallel=2, continuous_a=10.0, peak_a=10.0)
    assert lost.after is None
    assert "opens the module" in lost_bonds_remarks("Group 3", lost)[0].message
    with pytest.raises(LayoutError, match="Give fewer"):
        lost_bonds(bond(), n_parallel=1, continuous_a=10.0, peak_a=10.0)


# Chart


def test_the_chart_reaches_past_every_scenario_and_holds_its_points():
    scenarios = [load_margins(bond(), continuous_a=4.0, peak_a=8.0), short(), shorted()]
    chart = fuse_chart(bond(), scenarios)
    assert chart.rating_a == pytest.approx(opening_current_a(bond()) / 3)
    assert [point.label for point in chart.points] == [
        "continuous", "peak", "shorted cell", "shorted cell, sustained", "its neighbours",
        "terminals shorted: bond of each cell",
    ]  # fmt: skip
    assert chart.curve.current_a[-1] >= 2 * 472.5
    faulty = chart.points[2]
    assert faulty.time_s == pytest.approx(float(opening_times(bond(), faulty.current_a).opening_s))


@pytest.mark.parametrize(
    "wrong",
    [{"source_v": 0.0}, {"cell_ohm": -1.0}, {"fault_ohm": math.nan}, {"n_parallel": 0}, {"joint_ohm": math.inf}],
)
def test_numbers_no_circuit_can_have_are_refused_by_name(wrong):
    with pytest.raises(LayoutError, match=next(iter(wrong))):
        short(**wrong)


def test_neighbours_hot_from_their_load_may_melt_before_the_cold_faulty_joint_opens():
    # by hand: 4.2 / (0.061 / 2 + 0.006) = 115 A, and 57.5 A in each neighbour
    result = short(n_parallel=3, cell_ohm=0.06, before_a=26.3)
    assert middle_after_c(bond(), 26.3, 0.0, before_a=26.3) > 580
    assert result.neighbour_fault_a == pytest.approx(57.5, abs=0.1)
    assert result.neighbour_fault_melting_s < result.fault_opening_s
    assert not result.neighbours_survive
    (remark,) = shorted_cell_remarks("Group 1", result)
    assert "each of its neighbours' joints carries 57.5 A and begins to melt after" in remark.message
    assert "its own opens only after" in remark.message
