"""Ranking: what is worth a look, and in which order."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.advising.ranking import SAME_SHARE, Weights, is_no_better, score, worth_a_look

some_costs = st.lists(st.tuples(*[st.floats(0.01, 10.0)] * 3), min_size=1, max_size=12)
some_weights = st.builds(Weights, imbalance=st.floats(0.1, 5), loss=st.floats(0.1, 5), mass=st.floats(0.1, 5))


@given(some_costs, some_weights)
@settings(deadline=None)
def test_what_is_left_out_has_a_better_one_shown_and_what_is_shown_has_none(all_costs, weights):
    kept = worth_a_look(all_costs, weights)
    assert kept
    for k, cost in enumerate(all_costs):
        beaten = any(is_no_better(cost, all_costs[other]) for other in kept if other != k)
        assert beaten or k in kept
    for k in kept:
        assert not any(
            all(a >= b + 2 * SAME_SHARE for a, b in zip(all_costs[k], all_costs[other], strict=True)) for other in kept
        )
    scores = [score(all_costs[k], weights) for k in kept]
    assert scores == sorted(scores)


def test_the_start_scores_one_whatever_the_weights():
    assert score((1.0, 1.0, 1.0), Weights(imbalance=3.0, loss=0.5, mass=7.0)) == pytest.approx(1.0)


def test_the_score_is_the_weighted_mean():
    """By hand: (2 × 0.5 + 1 × 0.8 + 1 × 1.4) / 4 = 0.8."""
    assert score((0.5, 0.8, 1.4), Weights(imbalance=2.0)) == pytest.approx(0.8)
