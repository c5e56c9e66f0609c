"""Chains: the orders in which a chain of groups can run through linked cells.

An order visits every cell once; cutting it into runs of P cells gives the groups. A **sweep** runs along a field, each
run of cells a band across the channel. Where the channel is wider than one group's cells can span, it is divided into
**lanes**, driven there and back by turns. A folded chain has an even number of lanes, so both its ends come to lie at
the starting edge; a straight one an odd number.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.model.layouts import Chain
from layout_app.planning.fields import Fields, longer_side_rad
from layout_app.planning.links import Links
from layout_app.planning.threads import mended_thread

SAME_LEVEL = 0.02  # of the pitch: cells of one row differ by less, rounding included
LANE_SHIFT = 0.6  # of a cell spacing: how far a lane's border may be moved to lie between two rows
RAGGED_ROWS = 3.0  # depth of the far end that is made compact when sites are left out
ROW_DISTANCE = math.sqrt(3) / 2  # of the pitch, in a hexagonal lattice: P cells one above the other are this high
OUT_OF_REACH = 1e6  # added to how far along a site is that shall stay free
EDGE_DEPTH = 0.75  # of the pitch: cells this close to the outermost one stand at the edge


@dataclass(frozen=True)
class Request:
    """What a chain has to do: S groups of P cells, how it runs and from where."""

    n_series: int
    n_parallel: int
    chain: Chain
    start_rad: float | None

    @property
    def n_cells(self) -> int:
        """S · P."""
        return self.n_series * self.n_parallel


@dataclass(frozen=True)
class Plan:
    """An order of all cells that take part, and how much worse than the first choice it may look and still be taken."""

    order: IntArray
    handicap: float


# how much longer borders must be, as a ratio, for a chain to follow the bends of a footprint instead of straight lines,
# and to run across the footprint by turns, where it may end at the side
FIRST, BENT, BY_TURNS = 1.0, 1.1, 1.5


def plans(links: Links, request: Request) -> Iterator[Plan]:
    """Yield the plans for a connected set of at least S · P cells that run the way that was asked for."""
    fields = Fields(links)
    start_rad = longer_side_rad(links.centres_mm) if request.start_rad is None else request.start_rad
    pitch = links.pitch_mm
    along, across = (field / pitch for field in fields.straight(start_rad))
    yield from _swept(links, request, along, across, FIRST)
    if links.n_cells < 4:
        return
    bent = fields.slowest(start_rad) if request.start_rad is None else fields.between(along <= along.min() + EDGE_DEPTH)
    yield from _swept(links, request, *_scaled(links, fields, bent), BENT)


def threads(links: Links, request: Request) -> Iterator[Plan]:
    """Yield orders that step from neighbour to neighbour: through the cells kept, then, if need be, through all."""
    fields = Fields(links)
    start_rad = longer_side_rad(links.centres_mm) if request.start_rad is None else request.start_rad
    along, across = (field / links.pitch_mm for field in fields.straight(start_rad))
    rows = replace(request, n_parallel=1)
    for kept in (_kept(links, request, along, across), np.arange(links.n_cells)):
        order = kept[lanes(along[kept], across[kept], lane_count(across[kept], rows))]
        thread = np.array(mended_thread(links.around, order), dtype=np.int64)
        yield Plan(_longest_run(links, thread, request.n_cells), FIRST)


def _longest_run(links: Links, thread: IntArray, wanted: int) -> IntArray:
    """Return the first stretch of `wanted` cells without a gap, or the first cells where there is none so long."""
    gaps = [i for i, (a, b) in enumerate(pairwise(thread.tolist())) if b not in links.around[a]]
    starts = [0, *(gap + 1 for gap in gaps)]
    ends = [*(gap + 1 for gap in gaps), len(thread)]
    start = next((start for start, end in zip(starts, ends, strict=True) if end - start >= wanted), 0)
    return thread[start : start + wanted]


def last_resorts(links: Links, request: Request) -> Iterator[Plan]:
    """Yield plans that may be sound where no other is, though they begin elsewhere."""
    start_rad = longer_side_rad(links.centres_mm) if request.start_rad is None else request.start_rad
    for turn in (math.pi / 2, -math.pi / 2, math.pi):
        yield from plans(links, replace(request, start_rad=start_rad + turn))


def _scaled(links: Links, fields: Fields, bent: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a field and its companion across, both in steps of about one cell."""
    across = fields.across(bent)
    across = across / links.pitch_mm  # its slope is 1 by making
    width = max(float(np.ptp(across)), 1.0)
    length = links.n_cells * 0.9 / width
    return (bent - bent.min()) / max(float(np.ptp(bent)), 1e-300) * length, across


def _swept(links: Links, request: Request, along: FloatArray, across: FloatArray, handicap: float) -> Iterator[Plan]:
    """Yield sweeps along a field with as few lanes as the size of a group allows, then with more."""
    for n, kept in enumerate(_choices(links, request, along, across)):
        for side in (across[kept], -across[kept]):
            n_lanes = lane_count(side, request)
            yield Plan(kept[lanes(along[kept], side, n_lanes)], handicap * _lane_handicap(request, n_lanes))
            if n:
                continue
            if n_lanes == 2:
                yield Plan(kept[lanes(along[kept], side, n_lanes, between_rows=False)], handicap)
            more = n_lanes + 2
            yield Plan(kept[lanes(along[kept], side, more)], handicap * _lane_handicap(request, more))
            if n_lanes > 2:
                by_turns = BY_TURNS if request.chain == "straight" else BENT
                yield Plan(kept[_by_slabs(along[kept], side, request)], handicap * by_turns)


def _lane_handicap(request: Request, n_lanes: int) -> float:
    """Folded into more than two lanes, a chain ends at the starting edge, but not beside its start."""
    return BY_TURNS if request.chain == "folded" and n_lanes > 2 else FIRST


def _choices(links: Links, request: Request, along: FloatArray, across: FloatArray) -> Iterator[IntArray]:
    """Yield sets of S · P cells: without the far end, and, where that leaves enough, without one side as well.

    What is left is then narrow enough for each group to span it, so that fewer turns are needed.
    """
    yield _kept(links, request, along, across)
    n_lanes = least_lanes(request.chain)
    if lane_count(across, request) == n_lanes:
        return
    width = request.n_parallel * ROW_DISTANCE * n_lanes
    for side in (across, -across):
        is_beyond = side > side.min() + width
        if is_beyond.any() and (~is_beyond).sum() >= request.n_cells:
            yield _kept(links, request, along + OUT_OF_REACH * is_beyond, across)


def least_lanes(chain: Chain) -> int:
    """Return how many lanes a chain has at least: there, or there and back."""
    return 1 if chain == "straight" else 2


def lane_count(across: FloatArray, request: Request) -> int:
    """Return the least number of lanes, odd for a straight chain and even for a folded one, that a group can span."""
    width = float(np.ptp(across)) + 1
    least = math.ceil(width / max(request.n_parallel, 1) - 0.05)
    wanted = least_lanes(request.chain)
    return min(max(wanted, least + (least - wanted) % 2), max(1, len(across)))


def _kept(links: Links, request: Request, along: FloatArray, across: FloatArray) -> IntArray:
    """Return the S · P cells to use: cells that hang on by one link go first, then those at the far end."""
    n_spare = links.n_cells - request.n_cells
    if n_spare <= 0:
        return np.arange(links.n_cells)
    far = np.lexsort((across, -_levels(along)))
    hanging = far[links.n_neighbours[far] <= 1][:n_spare]
    rest = far[~np.isin(far, hanging)][: n_spare - len(hanging)]
    used = np.ones(links.n_cells, dtype=np.bool_)
    used[hanging] = used[rest] = False
    return np.flatnonzero(_tidied(links, used, along))


def _tidied(links: Links, used: BoolArray, along: FloatArray) -> BoolArray:
    """Return as many used cells with the far end made compact: a site with fewer used neighbours gives way to another.

    Only the last few rows are touched, so that a chain that need not end there is not rounded off everywhere.
    """
    used = used.copy()
    end = along[used].max()
    near_end = along > end - RAGGED_ROWS
    i, j = links.pairs.T
    for _ in range(int(near_end.sum())):
        n_used = np.bincount(i[used[j]], minlength=len(used)) + np.bincount(j[used[i]], minlength=len(used))
        gives = np.where(used & near_end, n_used, 99)
        takes = np.where(used | (links.n_neighbours <= 1) | (along > end + RAGGED_ROWS), -1, n_used)
        worst = int(np.argmin(gives))
        takes[links.around[worst]] -= 1
        best = int(np.argmax(takes))
        if takes[best] <= gives[worst]:
            break
        used[worst], used[best] = False, True
    return used


def lanes(along: FloatArray, across: FloatArray, n_lanes: int, *, between_rows: bool = True) -> IntArray:
    """Return the order that drives `n_lanes` lanes of nearly the same number of cells there and back by turns.

    `along` and `across` are in steps of about one cell. A lane ends between two rows where rows run along it, unless
    `between_rows` is False: then all have the same number of cells, give or take one.
    """
    n = len(along)
    by_side = np.lexsort((along, _levels(across)))
    ends = [round(n * k / n_lanes) for k in range(1, n_lanes)]
    if between_rows:
        ends = [_between_rows(across[by_side], end, n / n_lanes) for end in ends]
    lane = np.empty(n, dtype=np.int64)
    lane[by_side] = np.searchsorted(np.array(ends), np.arange(n), side="right")
    there = lane % 2 == 0
    level = _levels(along)
    return np.lexsort((np.where(there, across, -across), np.where(there, level, -level), lane))


def _between_rows(sorted_across: FloatArray, wanted: int, lane_cells: float) -> int:
    """Return the place near `wanted` where two rows part, if rows there are; else `wanted`."""
    width = float(np.ptp(sorted_across)) + 1
    slack = max(1, round(LANE_SHIFT * len(sorted_across) / width))
    slack = min(slack, int(lane_cells / 2))
    low, high = max(1, wanted - slack), min(len(sorted_across) - 1, wanted + slack)
    if high < low:
        return wanted
    steps = np.diff(sorted_across)[low - 1 : high]
    places = low + np.flatnonzero(steps >= steps.max() - 1e-6)
    return int(places[np.argmin(np.abs(places - wanted))]) if steps.max() > 0.3 else wanted


def _by_slabs(along: FloatArray, across: FloatArray, request: Request) -> IntArray:
    """Return the order that fills the channel by slabs across it, each driven the other way than the one before.

    A folded chain does so in either half: out in one, back in the other.
    """
    width, length = float(np.ptp(across)) + 1, float(np.ptp(along)) + 1
    if request.chain == "straight":
        n_slabs = max(1, math.ceil(length / request.n_parallel - 0.05))
        return lanes(across, along, n_slabs)
    by_side = np.lexsort((along, _levels(across)))
    half = _between_rows(across[by_side], len(along) // 2, width / 2)
    n_slabs = max(1, math.ceil(length / request.n_parallel - 0.05))
    out, back = by_side[:half], by_side[half:]
    # the last slab on the way out, and the first on the way back, must touch in the middle
    ends_inside = n_slabs % 2 == 1
    first = lanes(across[out] if ends_inside else -across[out], along[out], n_slabs)
    second = lanes(across[back], -along[back], n_slabs)
    return np.concatenate([out[first], back[second]])


def _levels(values: FloatArray) -> FloatArray:
    """Return the values with those of one row made equal, so that a second key orders the cells of a row.

    >>> _levels(np.array([0.0, 1.0, 1.001, 2.0])).tolist()
    [0.0, 1.0, 1.0, 2.0]
    """
    order = np.argsort(values, kind="stable")
    in_order = values[order]
    first = np.concatenate([[True], np.diff(in_order) > SAME_LEVEL])[: len(values)]
    level = np.empty(len(values))
    level[order] = in_order[first][np.cumsum(first) - 1] if len(values) else in_order
    return level
