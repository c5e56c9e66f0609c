"""Origins: where to put a lattice so that as many of its sites as possible fall into a footprint.

Across a row the best place is found exactly: as the lattice slides along its rows, a site enters or leaves only where
it meets the end of a span, so the count is a sum of steps at known places. Up and down, the count is searched at all
heights at which a row meets a corner or the highest or lowest point of the border, between those, and closer and closer
around the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.planning.borders import SLACK_MM
from layout_app.planning.rows import Rows

# Of two hundred random polygons of 20 to 2000 cells, 400 heights miss one cell in one case that 2000 heights find.
CLOSE_SPANS, CLOSE_CORNERS = 24_000, 48  # spans looked at in the first round: a few ms. Corners: widest steps first
QUICK_SPANS, QUICK_CORNERS = 500, 6  # enough to choose spacings by: of 68 random searches more of either gained in none
CLOSER = 9
STRAIGHT = 1e-6  # bent share: below it counts change at corners only, and the heights of corners are all there is
FINE = 2**50  # places across a row, in parts of the site distance, are sorted as whole numbers


@dataclass(frozen=True, slots=True)
class Spacing:
    """Distances of a lattice along and between its rows, and whether every second row is shifted by half."""

    along_mm: float
    row_mm: float
    is_staggered: bool


@dataclass(frozen=True, slots=True)
class Origin:
    """A place for row 0, column 0 in the turned coordinates of `Rows`, and how many sites fit from there."""

    n_sites: int
    x_mm: float
    y_mm: float


def most_sites(rows: Rows, spacings: Sequence[Spacing]) -> IntArray:
    """Return how many sites fit with each of some spacings, all staggered or none: quick, and now and then a few short.

    One height of row 0 at one spacing is a line of the tables below, so all spacings are counted together.
    """
    heights = [_first_heights(rows, spacing, QUICK_SPANS, QUICK_CORNERS) for spacing in spacings]
    n_heights = [len(some) for some in heights]
    along_mm = np.repeat([spacing.along_mm for spacing in spacings], n_heights)
    row_mm = np.repeat([spacing.row_mm for spacing in spacings], n_heights)
    counts, _ = counts_at(rows, along_mm, row_mm, np.concatenate(heights), is_staggered=spacings[0].is_staggered)
    return np.maximum.reduceat(counts, np.cumsum([0, *n_heights[:-1]]))


def best_origin(rows: Rows, spacing: Spacing) -> Origin:
    """Return the best origin found; of several the one amid the widest play up and down, and then across."""
    heights = _first_heights(rows, spacing, CLOSE_SPANS, CLOSE_CORNERS)
    counts, places = _counts_of(rows, spacing, heights)
    step_mm = spacing.row_mm / _n_even(rows, spacing, CLOSE_SPANS)
    for _ in range(2 if rows.bent_share > STRAIGHT else 0):
        best = heights[np.argsort(-counts, kind="stable")[:4]]
        more = (best[:, None] + np.linspace(-step_mm, step_mm, CLOSER)).ravel() % spacing.row_mm
        found = _counts_of(rows, spacing, more)
        heights, counts, places = (
            np.concatenate(pair) for pair in zip((heights, counts, places), (more, *found), strict=True)
        )
        step_mm *= 2 / (CLOSER - 1)
    k = _middle_of_best(heights, counts, spacing.row_mm)
    return Origin(int(counts[k]), float(places[k]), float(heights[k]))


def _counts_of(rows: Rows, spacing: Spacing, heights_mm: FloatArray) -> tuple[IntArray, FloatArray]:
    along_mm, row_mm = (np.full(len(heights_mm), value) for value in (spacing.along_mm, spacing.row_mm))
    return counts_at(rows, along_mm, row_mm, heights_mm, is_staggered=spacing.is_staggered)


def counts_at(
    rows: Rows, along_mm: FloatArray, row_mm: FloatArray, heights_mm: FloatArray, *, is_staggered: bool
) -> tuple[IntArray, FloatArray]:
    """Return the most sites that fit when row 0 is at some height, and the x of column 0 that does it.

    All are (n,) arrays: each height has its own distances along and between rows.
    """
    low, high = rows.levels_mm[0], rows.levels_mm[-1]
    lowest = np.floor((low - heights_mm) / row_mm)
    numbers = lowest[:, None] + np.arange(np.ceil((high - low) / row_mm.min()) + 2)
    y = heights_mm[:, None] + numbers * row_mm[:, None]
    left, right = (x.reshape(*y.shape, -1) for x in rows.spans_mm(y.ravel()))
    shift = (numbers % 2 / 2)[:, :, None] if is_staggered else 0.0
    begin, end = ((x / along_mm[:, None, None] - shift).reshape(len(y), -1) for x in (left, right))
    counts, places = _best_slide(begin, end)
    return counts, places * along_mm


def _best_slide(begin: FloatArray, end: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return, for each line of spans in units of the site distance, the most whole steps t + k inside them, and t.

    At t = 0 a span holds floor(end) - ceil(begin) + 1 sites. As t grows to 1, it gains one at frac(begin) and loses one
    beyond frac(end). Both are sorted as whole numbers, last bit 1 for a loss, so a gain comes first at the same place;
    what is no step at all is put at the end as a loss, where it cannot make a most.
    """
    used = end >= begin
    begin, end = np.where(used, begin, 0.0), np.where(used, end, 0.0)
    first_site, last_site = np.ceil(begin), np.floor(end)
    at_zero = np.where(used, last_site - first_site + 1, 0.0).sum(axis=1).astype(np.int64)
    never = 2 * FINE + 1
    gains = np.where(used & (first_site > begin), ((begin - first_site + 1) * FINE).astype(np.int64) * 2, never)
    losses = np.where(used, ((end - last_site) * FINE).astype(np.int64) * 2 + 1, never)
    steps = np.sort(np.concatenate([gains, losses], axis=1), axis=1)
    counts = np.column_stack([at_zero, at_zero[:, None] + np.cumsum(1 - 2 * (steps & 1), axis=1)])
    best = counts.max(axis=1)
    edges = np.pad(steps >> 1, ((0, 0), (1, 1)), constant_values=((0, 0), (0, FINE)))
    widest = np.where(counts == best[:, None], np.diff(edges, axis=1), -1).argmax(axis=1)
    line = np.arange(len(best))
    return best, (edges[line, widest] + edges[line, widest + 1]) / (2 * FINE)


def _n_even(rows: Rows, spacing: Spacing, n_spans: int) -> int:
    """Return how many evenly spaced heights of row 0 make about so many spans; fewer where few spans are bent."""
    spans_a_height = ((rows.levels_mm[-1] - rows.levels_mm[0]) / spacing.row_mm + 2) * rows.n_across
    share = rows.bent_share
    return int(np.clip(n_spans * share / spans_a_height, 8, 400)) if share > STRAIGHT else 1


def _first_heights(rows: Rows, spacing: Spacing, n_spans: int, n_corners: int) -> FloatArray:
    """Return the heights of row 0 worth trying, from 0 to the row distance."""
    row_mm, n_even = spacing.row_mm, _n_even(rows, spacing, n_spans)
    corners = np.sort(rows.by_step_mm[:n_corners] % row_mm)
    between = (corners + np.append(corners[1:], corners[0] + row_mm)) / 2
    even = np.arange(n_even) * row_mm / n_even
    return np.concatenate([corners - SLACK_MM, corners + SLACK_MM, between, even]) % row_mm


def _middle_of_best(heights_mm: FloatArray, counts: IntArray, row_mm: float) -> int:
    """Return the index in the middle of the longest stretch of neighbouring heights with the highest count.

    One row distance up is the same lattice again, so a stretch may run past it: it is looked for in two rounds.
    """
    order = np.argsort(heights_mm, kind="stable")
    order = np.concatenate([order, order])
    ordered = heights_mm[order] + np.repeat([0.0, row_mm], len(heights_mm))
    is_best = counts[order] == counts.max()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_best, [False]]).astype(int)))
    starts, stops = edges[::2], edges[1::2] - 1
    longest = np.argmax(ordered[stops] - ordered[starts])
    stretch = np.arange(starts[longest], stops[longest] + 1)
    middle_mm = (ordered[stretch[0]] + ordered[stretch[-1]]) / 2
    return int(order[stretch[np.argmin(np.abs(ordered[stretch] - middle_mm))]])
