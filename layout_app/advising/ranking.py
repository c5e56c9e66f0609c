"""Ranking: which of several layouts are worth a look, and in which order.

A layout has three costs: imbalance, loss in joints and metal, mass of the metal. One that is no better than another in
any of them is left out; the others stand in the order of a score that anybody can work out by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layout_app.advising.measures import Measures

UNEVEN_ALLOWED = 0.01  # of the mean: below it cells differ more among themselves, common practice, no source
SAME_SHARE = 0.01  # of the start's value: what lies nearer is the same, and of two alike the better is shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """How much each cost counts in the score."""

    imbalance: float = 1.0
    loss: float = 1.0
    mass: float = 1.0

    @property
    def words(self) -> str:
        """The score as people read it."""
        parts = (f"{self.imbalance:g} × imbalance above 1", f"{self.loss:g} × loss in joints and metal",
                 f"{self.mass:g} × mass of the metal")  # fmt: skip
        return f"{', '.join(parts)}, each over its value at the start (imbalance with {UNEVEN_ALLOWED:g} added to both)"


def costs(measures: Measures, start: Measures) -> tuple[float, float, float]:
    """Return imbalance, loss and mass over what they are at the start, where all are 1.

    The imbalance counts from 1, where all cells of a group carry the same; an allowance keeps a start that is nearly
    even from making a trifle look like a multiple.
    """
    return (
        (measures.imbalance - 1 + UNEVEN_ALLOWED) / (start.imbalance - 1 + UNEVEN_ALLOWED),
        _ratio(measures.interconnect_loss_w, start.interconnect_loss_w),
        _ratio(measures.metal_mass_g, start.metal_mass_g),
    )


def _ratio(value: float, start: float) -> float:
    return value / start if start > 0 else 1.0


def score(cost: Sequence[float], weights: Weights) -> float:
    """Return the weighted mean of the costs: 1 at the start, less is better."""
    weighed = (weights.imbalance, weights.loss, weights.mass)
    return sum(w * c for w, c in zip(weighed, cost, strict=True)) / sum(weighed)


def is_no_better(cost: Sequence[float], other: Sequence[float]) -> bool:
    """Whether a layout of such costs has nothing to say for itself beside another."""
    return all(mine >= theirs - SAME_SHARE for mine, theirs in zip(cost, other, strict=True))


def worth_a_look(all_costs: Sequence[Sequence[float]], weights: Weights) -> list[int]:
    """Return which layouts to show, best first: none that is no better than one before it.

    >>> worth_a_look([(1, 1, 1), (0.5, 1, 1.2), (0.6, 1.1, 1.3), (1, 0.9, 0.9)], Weights())
    [1, 3]
    """
    order = sorted(range(len(all_costs)), key=lambda k: score(all_costs[k], weights))
    kept: list[int] = []
    for k in order:
        if not any(is_no_better(all_costs[k], all_costs[other]) for other in kept):
            kept.append(k)
    return kept
