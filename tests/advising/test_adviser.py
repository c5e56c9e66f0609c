"""The adviser: the trade's result on a straight row, what it ranks, what it leaves out, and how it is stopped."""

import json
from dataclasses import replace

import numpy as np
import pytest

from layout_app.advising.adviser import advise
from layout_app.advising.edges import terminal_edge
from layout_app.advising.ranking import Weights
from layout_app.advising.trials import Trial
from layout_app.cli import main
from layout_app.edits import ChangeTerminal, History
from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.plates import Terminal
from layout_app.model.saved_file import save
from layout_app.workings import Workings
from tests.advising.ladders import PITCH_MM, either_end, rho_of, row, same_end, tab
from tests.plates.modules import banded

N, THICKNESS_MM = 40, 1.0
ENDS_MM = (0.0, (N - 1) * PITCH_MM)


def shares(layout):
    flow = Trial.of(Workings(layout)).solve().solved.cell_current_a
    return flow / flow.mean()


@pytest.fixture(scope="module")
def fed_at_one_end():
    """A row whose terminals both sit at its first cell: shares, and the ladder's rho they tell."""
    layout = row(N, THICKNESS_MM, tab(ENDS_MM[0]), tab(ENDS_MM[0]))
    found = shares(layout)
    return layout, found, rho_of(N, found[0] / found[-1])


@pytest.fixture(scope="module")
def row_advice(fed_at_one_end):
    return advise(Workings(fed_at_one_end[0]))


@pytest.fixture(scope="module")
def small():
    """Workings and advice of three groups of sixteen cells."""
    workings = Workings(banded(n_columns=12, n_rows=4, n_series=3, terminals=(Terminal(width_mm=12.0),) * 2))
    return workings, advise(workings)


def test_a_row_of_cells_is_the_ladder_it_looks_like(fed_at_one_end):
    """trade.md section 1a, same end: one number, the ratio of end to end, gives all forty shares to 2 %."""
    _, found, rho = fed_at_one_end
    assert found == pytest.approx(same_end(N, rho), rel=0.02)


def test_terminals_at_opposite_ends_share_better_than_at_one_end(fed_at_one_end):
    """trade.md section 1a: opposite ends are better, and the general form holds with the rails' split f.

    The rails are unlike: wide windows over the bottoms, narrow ones over the buttons.
    """
    from scipy.optimize import brentq

    _, one_end, rho = fed_at_one_end
    found = shares(row(N, THICKNESS_MM, tab(ENDS_MM[0]), tab(ENDS_MM[1])))
    f = brentq(lambda f: either_end(N, rho, f)[0] / either_end(N, rho, f)[-1] - found[0] / found[-1], 0.0, 1.0)
    assert found.max() < one_end.max()
    assert found == pytest.approx(either_end(N, rho, f), rel=0.02)


def test_quarter_points_come_out_first_on_a_straight_row_and_quarter_the_ladder(fed_at_one_end, row_advice):
    """Derived from trade.md section 1a: by symmetry nothing flows along the rails in the middle nor, between feeds,
    past the quarter points' cells: the row is four ladders of N/4 cells, each fed at one end. Near, not exactly:
    round its tab the current has to spread, which no ladder knows."""
    _, found, rho = fed_at_one_end
    alike = [p for p in row_advice.proposals if all("terminal" in part for part in p.parts)]
    assert alike[0].parts == ("both terminals by two tabs at the quarter points",)
    assert row_advice.start.imbalance == pytest.approx(found.max())
    assert alike[0].measures.imbalance == pytest.approx(same_end(N // 4, rho).max(), rel=0.02)
    ladder = (same_end(N // 4, rho).max() - 1) / (same_end(N, rho).max() - 1)
    gain = (alike[0].measures.imbalance - 1) / (row_advice.start.imbalance - 1)
    assert gain == pytest.approx(ladder, abs=0.02)  # 0.073 by the ladder: a fourteenth is left


def test_the_best_of_a_row_has_two_feeds_whatever_the_sheet(row_advice):
    assert "both terminals by two tabs at the quarter points" in row_advice.proposals[0].parts


def test_no_proposal_is_worse_than_another_or_the_start_in_all_three(small):
    _, advice = small
    all_costs = [proposal.cost for proposal in advice.proposals]
    for k, one in enumerate(all_costs):
        others = [(1.0, 1.0, 1.0), *all_costs[:k], *all_costs[k + 1 :]]
        assert not any(all(a >= b for a, b in zip(one, other, strict=True)) for other in others)


def test_proposals_stand_in_the_order_of_their_score(small):
    _, advice = small
    scores = [proposal.score for proposal in advice.proposals]
    assert scores == sorted(scores)
    assert scores[0] < 1
    assert scores[0] == pytest.approx(np.mean(advice.proposals[0].cost))  # equal weights: the mean


def test_weights_decide_what_comes_first(small):
    workings, _ = small
    lightest = advise(workings, weights=Weights(imbalance=0.0, loss=0.0))
    evenest = advise(workings, weights=Weights(loss=0.0, mass=0.0))
    assert lightest.proposals[0].cost[2] == min(p.cost[2] for p in lightest.proposals)
    assert lightest.proposals[0].cost[2] < evenest.proposals[0].cost[2]
    assert evenest.proposals[0].cost[0] < lightest.proposals[0].cost[0]


def test_a_proposal_is_an_edit_that_makes_what_it_promised(small):
    workings, advice = small
    for proposal in advice.proposals[:3]:
        history = History(workings.layout)
        made = Workings(history.apply(proposal))
        currents = made.network.solve(advice.start.current_a)
        assert currents.imbalance == pytest.approx(proposal.measures.imbalance, rel=1e-9)
        assert sum(s.mass_g for s in made.segments) == pytest.approx(proposal.measures.metal_mass_g, rel=1e-9)
        loss_w = currents.solved.segment_loss_w.sum() + currents.solved.joint_loss_w
        assert loss_w == pytest.approx(proposal.measures.interconnect_loss_w, rel=1e-9)
        assert not [finding for finding in made.findings if finding.severity == "error"]
        assert history.undo() is workings.layout


def test_terminals_tried_one_by_one_are_together_what_the_layout_made_anew_gives(small):
    workings, _ = small
    start, moves = Trial.of(workings), [ChangeTerminal(k, {"near_mm": (40.0, 0.0)}) for k in (False, True)]
    each = [start.changed(move.apply(start.layout)) for move in moves]
    both = moves[1].apply(each[0].layout)
    together, anew = each[0].ending_as(each[1], both), Trial.of(Workings(both))
    flow, expected = (trial.solve(50.0).solved.cell_current_a for trial in (together, anew))
    assert flow == pytest.approx(expected, rel=1e-9)
    assert together.metal_mass_g == pytest.approx(anew.metal_mass_g, rel=1e-9)
    for trial in (start, *each):
        assert trial.solve(50.0).solved.cell_current_a != pytest.approx(expected, rel=1e-4)


def test_what_breaks_a_rule_is_left_out_and_told_why():
    """Nine rows 19.5 mm apart, every other one right at the wall, where a bolt inside meets a window. It stands between
    two rows now; both quarter points lie at such rows."""
    inside = Terminal(width_mm=8.0, length_mm=8.0, bolt="M3", place="inside", near_mm=(-11.5, 19.5))
    layout = banded(n_columns=12, n_rows=9, n_series=3, terminals=(inside, Terminal(width_mm=12.0)))
    start = Workings(layout)
    assert not [finding for finding in start.findings if finding.severity == "error"]
    advice = advise(start)
    (left, *_) = [each for each in advice.left_out if "Negative terminal by two tabs" in each.label]
    assert "runs into the window" in left.why
    assert not [p for p in advice.proposals if any("negative" in part and "two tabs" in part for part in p.parts)]
    assert not [p for p in advice.proposals if any("both" in part for part in p.parts)]


def test_a_place_without_metal_is_left_out_and_told_why():
    """A boss wider than the tab grows out of the wall a quarter of the way along it."""
    terminals = (Terminal(width_mm=12.0),) * 2
    plain = banded(n_columns=12, n_rows=7, n_series=3, terminals=terminals)
    x_mm, y_mm = terminal_edge(Workings(plain).plates, is_positive=False).at(0.25)
    boss = Contour.circle(x_mm - 6.0, y_mm, 10.0)
    advice = advise(Workings(banded(n_columns=12, n_rows=7, n_series=3, terminals=terminals, keep_outs=[boss])))
    assert {left.label for left in advice.left_out} == {
        "Negative terminal at a quarter",
        "Negative terminal by two tabs at the quarter points",
    }
    assert all("no metal where its tab should end" in left.why for left in advice.left_out)


class StopError(Exception):
    pass


def test_progress_grows_and_what_it_raises_ends_the_work(small):
    workings, _ = small
    told = []
    advise(workings, progress=told.append)
    assert told == sorted(told)
    assert told[0] >= 0
    assert told[-1] <= 1
    heard = []

    def stop(share):
        heard.append(share)
        if len(heard) == 5:
            raise StopError

    with pytest.raises(StopError):
        advise(workings, progress=stop)
    assert len(heard) == 5


def test_what_cannot_be_advised_says_why(small):
    workings, _ = small
    with pytest.raises(LayoutError, match="other than 0 A"):
        advise(workings, current_a=0.0)
    bare = replace(workings.layout, cells=workings.layout.cells.regrouped(np.zeros(48, dtype=int)))
    with pytest.raises(LayoutError, match="no metal"):
        advise(Workings(bare))


def test_the_command_lists_what_the_adviser_found(tmp_path, capsys, small):
    workings, advice = small
    path = tmp_path / "small.busweave"
    save(workings.layout, path)
    assert main(["advise", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [p["label"] for p in told["proposals"]] == [p.label for p in advice.proposals]
    assert told["start"]["imbalance"] == pytest.approx(advice.start.imbalance)
    assert told["proposals"][0]["over_start"]["loss"] == pytest.approx(advice.proposals[0].cost[1])
    assert main(["advise", str(path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if line.endswith(advice.proposals[0].label)]
    assert any("As it is" in line for line in lines)


def test_the_command_says_in_one_line_what_it_cannot_use(tmp_path, capsys, small):
    path = tmp_path / "small.busweave"
    save(small[0].layout, path)
    assert main(["advise", str(path), "--amps", "0"]) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 1
    assert "other than 0 A" in said[0]
