"""Evening: border cells traded between groups until their counts differ by at most one, no group breaking apart."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.geometry.neighbours import neighbours
from layout_app.model.layouts import Layout
from layout_app.planning.balancing import Effort, level
from layout_app.planning.grouping import REACH_PITCHES
from layout_app.planning.laying import closed_to_metal
from layout_app.planning.links import Links
from layout_app.planning.trades import Trade

EFFORT = 500_000  # cells and groups looked at: half a second or so


def links_of(layout: Layout) -> Links:
    """Return the cells of a layout as a graph of neighbours that metal can join."""
    pitch_mm, centres_mm = layout.lattice.pitch_mm, layout.cells.centres_mm
    closed = closed_to_metal(layout.housing, layout.plates.setback_mm)
    found = neighbours(centres_mm, REACH_PITCHES * pitch_mm, closed)
    return Links(centres_mm, found.pairs, found.borders_mm, pitch_mm)


def evened(links: Links, groups: IntArray, n_series: int, chosen: IntArray, fixed: BoolArray | None = None) -> IntArray:
    """Return (n,) groups with the chosen ones as even as trades across their common borders can make them.

    Every trade leaves the group it is taken from in one piece and in touch with the next. Groups not chosen,
    cells in none and `fixed` ones, (n,), stay as they are.
    """
    trade, traders, effort = Trade(links, groups, n_series, fixed), frozenset(chosen.tolist()), Effort(EFFORT)
    n_cells = int(np.isin(groups, chosen).sum())
    for wanted in sorted({-(-n_cells // len(chosen)), n_cells // len(chosen)}, reverse=True):
        level(trade, wanted, effort, traders)  # first none above the mean, then none below
    return np.array(trade.groups, dtype=np.int64)
