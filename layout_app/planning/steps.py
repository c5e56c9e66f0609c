"""Steps: what joins each group to the next, the border the current crosses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.neighbours import neighbours

REACH_PITCHES = 1.5  # beyond √2, the far neighbour of a fully compressed lattice; short of √3, the second ring


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The border between group `number` and the next, before insulation gaps are taken off."""

    number: int  # k, of the step from group k to group k + 1
    n_pairs: int  # cells of group k facing cells of group k + 1
    border_mm: float  # length of the border


def steps(
    centres_mm: PointArray, groups: IntArray, pairs: IntArray, n_series: int, borders_mm: FloatArray | None = None
) -> tuple[Step, ...]:
    """Return the S - 1 steps of a chain, in order.

    Parameters
    ----------
    centres_mm : (n, 2) float array, mm
    groups : (n,) int array, 1…S, 0 for cells not assigned
    pairs : (m, 2) int array of neighbouring cells
    borders_mm : (m,) float array, each pair's common border; worked out from the centres when not given
    """
    if borders_mm is None:
        borders_mm = pair_borders_mm(centres_mm, pairs)
    n_pairs, border_mm = step_sums(groups, pairs, n_series, borders_mm)
    return tuple(
        Step(number=k + 1, n_pairs=int(n_pairs[k]), border_mm=float(border_mm[k])) for k in range(n_series - 1)
    )


def step_sums(groups: IntArray, pairs: IntArray, n_series: int, borders_mm: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return (S - 1,) number of pairs and (S - 1,) length of border, in mm, of every step."""
    low, high = np.sort(groups[pairs], axis=1).T
    across = (high == low + 1) & (low > 0)
    size = n_series + 1
    n_pairs = np.bincount(low[across], minlength=size)[1:n_series].astype(np.int64)
    return n_pairs, np.bincount(low[across], borders_mm[across], size)[1:n_series].astype(np.float64)


def border_density_per_mm(border_mm: FloatArray, least_mm: float) -> float:
    """Return the rms current density at the borders of a chain, per ampere, in 1/mm: small where all are long.

    Heat grows with its square. A step without a border counts as one of `least_mm`; a chain of one group has none: 0.
    """
    density = 1 / np.maximum(border_mm, least_mm)
    return float(np.sqrt((density**2).mean())) if len(density) else 0.0


def pair_borders_mm(centres_mm: PointArray, pairs: IntArray) -> FloatArray:
    """Return (m,) the length of each pair's common border, no obstacle taken out; 0 for pairs that share none."""
    if not len(pairs):
        return np.empty(0)
    n = len(centres_mm)
    apart_mm = np.hypot(*(centres_mm[pairs[:, 1]] - centres_mm[pairs[:, 0]]).T)
    reach_mm = max(REACH_PITCHES * float(apart_mm.min()), float(apart_mm.max()))
    found = neighbours(centres_mm, reach_mm, least_border_mm=0.0)
    known = found.pairs[:, 0] * n + found.pairs[:, 1]
    low, high = np.sort(pairs, axis=1).T
    place = np.searchsorted(known, low * n + high)
    place = np.minimum(place, max(len(known) - 1, 0))
    return (
        np.where(known[place] == low * n + high, found.borders_mm[place], 0.0) if len(known) else np.zeros(len(pairs))
    )
