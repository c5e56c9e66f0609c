"""Rules about currents and about bonds as fuses: each says its piece where theory says so, and is silent elsewhere."""

from dataclasses import replace

import numpy as np
import pytest

from layout_app.checks import rules
from layout_app.model.joints import JointSettings
from layout_app.model.limits import Limits
from layout_app.physics.currents import network_currents
from layout_app.workings import Workings
from tests.edits.modules import module

PERFECT = 1e-12  # Ω m: metal that adds next to nothing


def said(layout, rule):
    """Return what one rule says about a layout."""
    return [finding for finding in Workings(layout).current_findings if finding.rule == rule]


def sheet(layout, **changes):
    return replace(layout, plates=replace(layout.plates, **changes))


def resistive(layout, resistivity_ohm_m):
    return sheet(layout, material=replace(layout.plates.material, resistivity_ohm_m=resistivity_ohm_m))


def test_cells_over_perfect_metal_share_alike_and_nothing_is_said():
    layout = resistive(module(), PERFECT)
    assert not said(layout, "imbalance")
    assert not said(layout, "sense error")


def test_a_cell_over_its_share_is_named_with_how_much_it_carries():
    layout = resistive(module(), 1e-6)
    (finding,) = said(layout, "imbalance")
    flow = network_currents(Workings(layout).plates).solved.cell_current_a
    worst = finding.cells[0]
    own = flow[layout.cells.groups == layout.cells.groups[worst]]
    assert finding.measured == pytest.approx(flow[worst] / own.mean())  # derived: the definition
    assert finding.measured == pytest.approx(max(flow.reshape(4, 5).max(axis=1) / flow.reshape(4, 5).mean(axis=1)))
    assert f"Cell {worst + 1} " in finding.message
    assert finding.limit == Limits().imbalance
    lenient = replace(layout, limits=replace(layout.limits, imbalance=finding.measured + 1e-6))
    assert not said(lenient, "imbalance")


def test_the_loss_of_joints_and_metal_is_held_against_the_modules_power():
    # derived: 1 mΩ welds and perfect metal: 4 groups of 2 joints at 20 A / 5 cells: 4 × 5 × 2 × 4² × 1e-3 = 0.64 W
    # of 4 × 3.6 V × 20 A = 288 W
    layout = replace(resistive(module(), PERFECT), joints=JointSettings(weld_ohm=1e-3))
    assert not said(layout, "metal loss")
    (finding,) = said(replace(layout, limits=Limits(metal_loss_share=0.002)), "metal loss")
    assert finding.measured == pytest.approx(0.64 / 288, rel=1e-4)
    assert "joints" in finding.message


def test_potentials_that_differ_along_a_segment_are_told_to_whoever_taps_it():
    layout = resistive(module(), 1e-6)
    (finding,) = said(layout, "sense error")
    spread_v = [np.ptp(v[: len(s.window_cells)]) for s, v in _potentials(layout)]
    assert finding.measured == pytest.approx(max(spread_v))
    assert finding.segments == tuple(k for k, spread in enumerate(spread_v) if spread > Limits().sense_error_v)


def _potentials(layout):
    workings = Workings(layout)
    return zip(workings.segments, workings.currents.solved.contact_v, strict=True)


def test_without_a_brief_nothing_is_said_that_needs_its_current():
    layout = replace(resistive(module(), 1e-5), design_current_a=0.0, peak_current_a=0.0)
    rules_said = {finding.rule for finding in Workings(layout).current_findings}
    assert not rules_said & {"metal loss", "sense error", "bond rating", "nuisance opening", "lost bonds"}
    assert "shorted terminals" in rules_said


def thin_wire(layout, diameter_mm, **more):
    return replace(layout, joints=JointSettings(n_wires=1, wire_diameter_mm=diameter_mm, wire_length_mm=10.0, **more))


def test_a_bond_that_normal_use_melts_is_an_error_on_the_cell_that_carries_most():
    # trade.md section 3: 0.2 mm aluminium, ends cooled, opens at 117.45 A mm / 10 mm = 11.7 A; a third of it is 3.9 A
    (finding,) = said(thin_wire(resistive(module(), PERFECT), 0.2), "bond rating")  # 4 A a cell
    assert (finding.severity, finding.measured) == ("warning", pytest.approx(4.0, rel=1e-3))
    assert finding.limit == pytest.approx(11.745 / 3, rel=5e-3)
    assert len(finding.places_mm) == 1
    (finding,) = said(replace(thin_wire(module(), 0.2), design_current_a=70.0), "bond rating")
    assert finding.severity == "error"
    assert not said(thin_wire(module(), 0.3), "bond rating")  # 26.4 A / 3


def test_a_peak_that_opens_bonds_is_told_as_a_nuisance():
    layout = replace(thin_wire(module(), 0.2), peak_current_a=100.0)  # 20 A a cell, 11.7 A open it in the long run
    (finding,) = said(layout, "nuisance opening")
    assert finding.severity == "error"
    assert not said(replace(layout, peak_current_a=30.0), "nuisance opening")


def test_a_thick_bond_among_few_neighbours_does_not_clear_a_shorted_cell():
    layout = thin_wire(module(n_series=2, n_parallel=2), 0.5)  # one neighbour, rated 20 A; 73.4 A open the bond
    (finding,) = said(layout, "shorted cell")[:1]
    assert finding.cells == (0, 1)
    wide = thin_wire(module(n_series=2, n_parallel=12), 0.2)  # eleven neighbours
    assert not said(wide, "shorted cell")


def test_losing_two_bonds_of_three_is_told():
    layout = replace(thin_wire(module(n_parallel=3), 0.2), design_current_a=9.0)  # 3 A a cell, then 9 A
    assert said(layout, "lost bonds")
    assert not said(replace(layout, design_current_a=3.0), "lost bonds")


def test_where_no_current_can_flow_one_finding_says_why():
    layout = module()
    groups = layout.cells.groups.copy()
    groups[groups == 2] = 1
    (finding,) = Workings(replace(layout, cells=layout.cells.regrouped(groups))).current_findings
    assert finding.rule == "no currents"
    assert "no metal" in finding.message or "Group 2" in finding.message


def test_a_tongue_that_its_busbar_would_melt_is_told_and_takes_no_other_figure_away():
    soft = replace(module().plates.material, melting_c=232.0)  # tin's, from memory
    layout = replace(sheet(module(), material=soft), joints=JointSettings(weld_ohm=1e-4, busbar_c=240.0))
    worked = Workings(layout)
    (finding,) = said(layout, "no joint faults")
    assert "is molten (232 °C)" in finding.message
    assert worked.joint_faults is None
    keys = {figure.key for figure in worked.figures}
    assert "terminal_resistance_mohm" in keys
    assert "joint_opening_a" not in keys
    assert finding in worked.findings
    assert not said(replace(layout, joints=replace(layout.joints, busbar_c=200.0)), "no joint faults")


def test_an_edit_that_touches_two_segments_lends_the_others_links_and_gives_what_a_fresh_start_gives():
    before = Workings(module(n_series=6))
    assert before.findings
    groups = before.layout.cells.groups.copy()
    groups[5] = 1
    layout = replace(before.layout, cells=before.layout.cells.regrouped(groups))
    after, fresh = Workings(layout, before), Workings(layout)
    assert after.findings == fresh.findings
    assert after.current_figures == fresh.current_figures
    lent = [one is other for one, other in zip(after.network.metals, before.network.metals, strict=True)]
    assert sum(lent) >= 4


def test_every_rule_of_currents_and_faults_has_a_reason_and_a_source():
    from layout_app.checks.reasons import reason

    for name in ("imbalance", "metal loss", "sense error", "bond rating", "nuisance opening", "shorted cell",
                 "shorted terminals", "lost bonds", "no currents", "no joint faults"):  # fmt: skip
        assert reason(name)
    assert len(rules.CURRENT_RULES) + len(rules.FAULT_RULES) == 7
