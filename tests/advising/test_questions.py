"""What if: answers held to laws, to hand-made cases, and to layouts really changed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout_app.advising.measures import ROWS, differences
from layout_app.advising.questions import (
    DeadCell,
    LostJoint,
    OtherMaterial,
    OtherThickness,
    TerminalElsewhere,
    TwoFeeds,
    WeakCell,
    ask,
    usual_questions,
)
from layout_app.advising.trials import Trial
from layout_app.model.catalogues import material
from layout_app.model.errors import LayoutError
from layout_app.model.plates import Terminal
from layout_app.physics.joints import joint_ohm
from layout_app.workings import Workings
from tests.plates.modules import COPPER, banded, modules

THICK_MM = 20.0  # metal of hardly any resistance
QUICK = settings(
    deadline=None, max_examples=15, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
OUTSIDE = (Terminal(width_mm=12.0), Terminal(width_mm=12.0))


@pytest.fixture(scope="module")
def base():
    """Three groups of sixteen cells."""
    return Trial.of(Workings(banded(n_columns=12, n_rows=4, n_series=3, terminals=OUTSIDE)))


def anew(layout, current_a):
    """The same, derived without any lending."""
    return Workings(layout).network.solve(current_a)


def test_base_and_variant_carry_the_same_current_and_the_difference_is_what_it_says(base):
    answer = ask(OtherThickness(1.0), base, 40.0)
    assert answer.base.current_a == answer.variant.current_a == 40.0
    apart = differences(answer.base, answer.variant)
    assert apart["segment_loss_w"] == pytest.approx(answer.variant.segment_loss_w - answer.base.segment_loss_w)
    assert apart["segment_loss_w"] < 0 < apart["metal_mass_g"]
    assert [row.shown(answer.base) for row in ROWS if row.field == "terminal_resistance_ohm"] == pytest.approx(
        [answer.base.terminal_resistance_ohm * 1e3]
    )


@pytest.mark.parametrize(
    "question",
    [
        OtherThickness(1.3),
        OtherThickness(0.2, segment=1),
        OtherMaterial(material("aluminium-1050"), segment=2),
        OtherMaterial(material("aluminium-1050")),
        TerminalElsewhere(False, (0.0, 70.0)),
        TwoFeeds(True),
        TwoFeeds(False, ((-12.0, 10.0), (-12.0, 55.0))),
    ],
    ids=lambda question: question.label,
)
def test_a_variant_is_what_the_changed_layout_gives_when_made_anew(base, question):
    answer = ask(question, base, 40.0)
    assert answer.edit.apply(base.layout) == answer.layout
    found = anew(answer.layout, 40.0)
    assert answer.currents.solved.cell_current_a == pytest.approx(found.solved.cell_current_a, rel=1e-9)
    assert answer.variant.terminal_resistance_ohm == pytest.approx(found.solved.terminal_resistance_ohm, rel=1e-9)
    made = Workings(answer.layout)
    assert answer.variant.metal_mass_g == pytest.approx(sum(segment.mass_g for segment in made.segments), rel=1e-12)


def test_questions_may_be_asked_of_an_answer(base):
    """Thicker sheet, then a terminal elsewhere, then thin sheet for one segment: as if made anew."""
    trial = base
    for question in (
        OtherThickness(1.0),
        TerminalElsewhere(True, (260.0, 10.0)),
        OtherThickness(0.3, 1),
        TwoFeeds(True),
    ):
        answer = ask(question, trial, 40.0)
        trial = answer.trial
    found = anew(answer.layout, 40.0)
    assert answer.variant.imbalance == pytest.approx(found.imbalance, rel=1e-9)
    assert answer.variant.interconnect_resistance_ohm == pytest.approx(found.interconnect_resistance_ohm, rel=1e-9)


def test_a_changed_terminal_leaves_all_other_segments_as_they_are(base):
    moved = ask(TerminalElsewhere(False, (0.0, 70.0)), base).trial
    assert [one is other for one, other in zip(moved.segments, base.segments, strict=True)] == [False, True, True, True]
    assert [one is other for one, other in zip(moved.metals, base.metals, strict=True)] == [False, True, True, True]


def test_with_perfect_metal_a_lost_joint_leaves_its_share_to_the_others():
    """Derived: P cells in parallel on metal without resistance; P − 1 of them carry P / (P − 1) of the mean."""
    base = Trial.of(Workings(banded(n_columns=12, n_rows=4, n_series=3, thickness_mm=THICK_MM)))
    lost = ask(LostJoint(5), base)
    assert lost.variant.imbalance == pytest.approx(16 / 15, rel=2e-3)
    assert lost.variant.least_share == pytest.approx(1.0, rel=2e-3)  # of those that carry: in the other groups
    open_inside = ask(DeadCell(5, is_shorted=False), base)
    assert open_inside.variant == lost.variant
    assert lost.currents.solved.cell_current_a[5] == 0


def test_with_perfect_metal_only_joints_are_left_between_cells_and_terminals():
    """Derived: S groups of P cells, two joints each: S 2 R_j / P; what the metal adds goes with 1 / thickness."""
    base = Trial.of(Workings(banded(n_columns=12, n_rows=4, n_series=3)))
    joints_ohm = 3 * 2 * joint_ohm(base.layout.joints) / 16
    added = {mm: ask(OtherThickness(mm), base).variant.interconnect_resistance_ohm - joints_ohm for mm in (10.0, 20.0)}
    assert added[20.0] == pytest.approx(added[10.0] / 2, rel=0.02)
    assert 0 < added[20.0] < 0.2 * joints_ohm


def test_a_shorted_cell_takes_what_its_neighbours_give():
    """trade.md section 3, selectivity: E / ((R_c + R_j) / (P − 1) + R_j + R_fault), P − 1 times a healthy one's."""
    layout = banded(n_columns=12, n_rows=4, n_series=3, thickness_mm=THICK_MM)
    base, both_ohm, cell = Trial.of(Workings(layout)), 2 * joint_ohm(layout.joints), layout.cell_type
    fault_a = cell.voltage_nominal_v / ((cell.resistance_ohm + both_ohm) / 15 + both_ohm + layout.limits.cell_fault_ohm)
    answer = ask(DeadCell(5), base, 1e-3)  # all but at rest
    assert answer.variant.hottest_joint_cell == 5
    assert answer.variant.hottest_joint_a == pytest.approx(fault_a, rel=0.02)
    mine = layout.cells.groups == layout.cells.groups[5]
    flow = answer.currents.solved.cell_current_a
    assert -flow[5] / np.delete(flow[mine], np.flatnonzero(np.flatnonzero(mine) == 5)).mean() == pytest.approx(
        15, rel=1e-3
    )


def test_with_perfect_metal_a_cell_of_twice_the_resistance_carries_half():
    """Derived: in parallel currents go with 1 / R, joints included."""
    layout = banded(n_columns=12, n_rows=4, n_series=3, thickness_mm=THICK_MM)
    both_ohm, ohm = 2 * joint_ohm(layout.joints), layout.cell_type.resistance_ohm
    flow = ask(WeakCell(5), Trial.of(Workings(layout))).currents.solved.cell_current_a
    assert flow[5] / flow[layout.cells.groups == layout.cells.groups[5]].max() == pytest.approx(
        (ohm + both_ohm) / (2 * ohm + both_ohm), rel=5e-3
    )


@given(layout=modules(), factor=st.floats(1.0, 10.0))
@QUICK
def test_thicker_sheet_never_raises_the_interconnect_resistance(layout, factor):
    """Law: Rayleigh's monotonicity. Nor the loss in the metal's own share by more than the currents' new sharing."""
    try:
        base = Trial.of(Workings(layout))
        answer = ask(OtherThickness(min(20.0, factor * layout.plates.thickness_mm)), base)
    except LayoutError:
        return  # groups without cells, metal in pieces
    allowed = 1e-9 * answer.base.terminal_resistance_ohm
    assert answer.variant.interconnect_resistance_ohm <= answer.base.interconnect_resistance_ohm + allowed
    assert answer.variant.metal_mass_g >= answer.base.metal_mass_g


@given(cell=st.integers(0, 47), factor=st.floats(1.0, 50.0))
@QUICK
def test_a_weaker_cell_never_lowers_the_resistance_at_the_terminals(base, cell, factor):
    """Law: Rayleigh's monotonicity; an open cell is the limit."""
    weak, weaker = (ask(WeakCell(cell, each), base).variant.terminal_resistance_ohm for each in (factor, 2 * factor))
    lost = ask(LostJoint(cell), base).variant.terminal_resistance_ohm
    assert weak <= weaker * (1 + 1e-9)
    assert weaker <= lost * (1 + 1e-9)


def test_better_metal_shares_better(base):
    """Copper conducts 1.6 times as well as aluminium: less loss and less imbalance on the same shape."""
    aluminium = ask(OtherMaterial(material("aluminium-1050")), base)
    back = ask(OtherMaterial(COPPER), aluminium.trial)
    assert aluminium.variant.imbalance > aluminium.base.imbalance
    assert aluminium.variant.metal_mass_g < aluminium.base.metal_mass_g / 3  # 2.70 over 8.89 g/cm³
    assert back.variant.imbalance == pytest.approx(aluminium.base.imbalance, rel=1e-12)


def test_the_usual_questions_are_all_answered_and_named_apart(base):
    questions = usual_questions(base.layout, 0)
    assert len({question.label for question in questions}) == len(questions)
    for question in questions:
        answer = ask(question, base)
        assert np.isfinite([row.shown(answer.variant) for row in ROWS]).all()
        assert (answer.edit is None) == (answer.layout is base.layout)


@pytest.mark.parametrize(
    ("question", "said"),
    [
        (LostJoint(999), "no cell 1000"),
        (OtherThickness(-1.0), "thickness"),
        (OtherThickness(1.0, segment=9), "segment"),
        (WeakCell(3, 0.0), "resistance of cell 4"),
    ],
)
def test_what_cannot_be_asked_is_said(base, question, said):
    with pytest.raises(LayoutError, match=said):
        ask(question, base)


def test_the_last_cell_of_a_group_cannot_be_lost():
    layout = banded(n_columns=3, n_rows=1, n_series=3)
    alone = replace(layout, cells=layout.cells.regrouped(np.array([1, 2, 3])))
    with pytest.raises(LayoutError, match="only open cells"):
        ask(LostJoint(1), Trial.of(Workings(alone)))


def test_two_feeds_without_an_edge_to_stand_on_ask_for_places():
    wide = Terminal(width_mm=400.0)
    layout = banded(n_columns=6, n_rows=4, n_series=3, terminals=(wide, wide))
    with pytest.raises(LayoutError, match="no edge long enough"):
        ask(TwoFeeds(False), Trial.of(Workings(layout)))
