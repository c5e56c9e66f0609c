"""Model difference: how far the network's answer is from the sheet model's, for the same module and current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from layout_app.geometry.arrays import FloatArray
from layout_app.model.errors import LayoutError
from layout_app.physics.currents import Currents

SAME = 1e-9  # of a current: what rounding may change
NOTHING = 1e-6  # of what the cells carry or lose: below it a spread or a loss is rounding, and no ratio is formed


@dataclass(frozen=True, slots=True, eq=False)
class ModelDifference:
    """Network less sheet, over the sheet's; 0 where the sheet has nothing to compare with.

    Attributes
    ----------
    cell_current_a : float, the largest difference of any cell's current
    cell_current_share : float, the same over the mean of what the cells carry
    spread : float, of the largest less the least cell current
    terminal_resistance : float
    segment_loss : (S+1,) float array, of each segment's loss
    """

    cell_current_a: float
    cell_current_share: float
    spread: float
    terminal_resistance: float
    segment_loss: FloatArray

    @property
    def worst_segment(self) -> int:
        """The segment whose loss differs most."""
        return int(np.abs(self.segment_loss).argmax())

    def as_json(self) -> dict[str, Any]:
        """Return it with keys like those of the currents; shares, not percent."""
        return {
            "cell_current_a": self.cell_current_a,
            "cell_current_share": self.cell_current_share,
            "cell_current_spread_share": self.spread,
            "terminal_resistance_share": self.terminal_resistance,
            "segment_loss_share": self.segment_loss.tolist(),
        }


def model_difference(network: Currents, sheet: Currents) -> ModelDifference:
    """Return how far the network is from the sheet.

    Raises
    ------
    LayoutError : the two are not of one module at one current
    """
    one, other = network.solved, sheet.solved
    sizes = [(len(s.cell_current_a), len(s.segment_loss_w)) for s in (one, other)]
    if sizes[0] != sizes[1] or abs(one.current_a - other.current_a) > SAME * abs(other.current_a):
        raise LayoutError(
            f"The network is of {sizes[0][0]} cells at {one.current_a:g} A, the sheet of {sizes[1][0]} at "
            f"{other.current_a:g} A. Compare both for one module and one current."
        )
    carried = float(np.abs(other.cell_current_a).mean())
    apart = float(np.abs(one.cell_current_a - other.cell_current_a).max())
    spreads = np.array([np.ptp(s.cell_current_a) for s in (one, other)])
    least_w = NOTHING * (other.cell_loss_w + other.joint_loss_w)
    return ModelDifference(
        cell_current_a=apart,
        cell_current_share=apart / carried if carried > 0 else 0.0,
        spread=float(_relative(spreads[:1], spreads[1:], NOTHING * carried)[0]),
        terminal_resistance=one.terminal_resistance_ohm / other.terminal_resistance_ohm - 1,
        segment_loss=_relative(one.segment_loss_w, other.segment_loss_w, least_w),
    )


def _relative(values: FloatArray, others: FloatArray, least: float) -> FloatArray:
    """Return by how much values differ, over the others; 0 where those are no more than the least."""
    counts = np.abs(others) > least
    return np.asarray(np.where(counts, values / np.where(counts, others, 1.0) - 1, 0.0))
