"""Islands: shapes of pieces of metal, told in whole micrometres, so that those alike are worked out once.

A shape is two tables as bytes. Corners, (n, 5) int32: x, y, the centre of the arc that starts there, and what the bit
of boundary after the corner is: a cut by its number, or one of the kinds below. Sources, (s, 6) int32: x, y, then
centre and radius of the window the source sits beside, then its land's number.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.physics.island_conductance import Island, island_conductance

PLAIN, ARC, CIRCLE, TERMINAL, SLIT = -1, -2, -3, -4, -5  # kinds of bits; arcs and circles are holes', and clockwise
UNITS_PER_MM = 1000
ELEMENT_MM = 1.6  # longest element of an island's boundary
ELEMENT_WIDTHS = 1.2  # nor longer than that many times the width of the cuts on either side…
LEAST_MM = 0.3  # …but no shorter
LARGEST_TURN_RAD = 0.4  # of an arc, in one element
MOST_ELEMENTS = 1000  # or thereabouts: larger islands get longer ones, for the work grows with the cube
LEAST_PIECES = 2  # of a cut or of a bit of the terminal
# Contacts far apart on one island hardly know of each other: a link of that many squares⁻¹ is rounding, and may be < 0
LEAST = 1e-4
KNOWN = 20_000  # shapes kept: a kilobyte or two each

Shape = tuple[bytes, bytes]
Int32Array = NDArray[np.int32]


@lru_cache(maxsize=KNOWN)
def known_links(corners: bytes, sources: bytes, radius_mm: float) -> tuple[IntArray, IntArray, FloatArray]:
    """Return what an island does between its contacts, cuts, terminal if it has one, lands: from, to, squares⁻¹."""
    conductance = -np.triu(island_conductance(island_of(corners, sources, radius_mm)), k=1)
    one, other = np.nonzero(conductance > LEAST)
    return one, other, conductance[one, other]


def island_of(corners: bytes, sources: bytes, radius_mm: float) -> Island:
    """Return the island of a shape, its boundary cut into elements."""
    rows = np.frombuffer(corners, dtype=np.int32).reshape(-1, 5)
    spots = np.frombuffer(sources, dtype=np.int32).reshape(-1, 6)
    kind, xy, centre = rows[:, 4], rows[:, :2] / UNITS_PER_MM, rows[:, 2:4] / UNITS_PER_MM
    n_cuts = int(kind.max(initial=-1)) + 1
    after, row, place, n = _divided(xy, centre, kind)
    starts = _nodes(xy, after, centre, kind, row, place)
    last = np.cumsum(n) - 1
    ends = np.roll(starts, -1, axis=0)
    ends[last[n > 0]] = after[n > 0]
    is_contact = (kind[row] >= 0) | (kind[row] == TERMINAL)
    in_order = np.lexsort((np.arange(len(row)), kind[row] == TERMINAL, ~is_contact))  # cuts, then the terminal
    piece = np.full(len(row), -1, dtype=np.int64)
    n_parts = int(is_contact.sum())
    piece[in_order[:n_parts]] = np.arange(n_parts) // 2
    owner = kind[row[in_order[:n_parts:2]]].astype(np.int64)
    return Island(
        nodes_mm=starts,
        following=np.hypot(*(ends[:, None] - starts[None]).transpose(2, 0, 1)).argmin(axis=1),
        piece=piece,
        contact=np.where(owner >= 0, owner, n_cuts),
        n_cuts=n_cuts,
        sources_mm=spots[:, :2] / UNITS_PER_MM,
        windows_mm=spots[:, 2:5] / UNITS_PER_MM,
        land=spots[:, 5].astype(np.int64),
        radius_mm=radius_mm,
    )


def _divided(
    corners: PointArray, centres: PointArray, kind: Int32Array
) -> tuple[PointArray, IntArray, FloatArray, IntArray]:
    """Return where each bit of boundary ends; the bit of each element and its place along it; elements of each bit."""
    walk = np.flatnonzero(kind != CIRCLE)
    after = corners.copy()
    after[walk] = corners[np.roll(walk, -1)]
    is_round = (kind == ARC) | (kind == CIRCLE)
    length = np.hypot(*(after - corners).T)
    size = np.clip(ELEMENT_WIDTHS * _widths_beside(length, (kind >= 0) | (kind == SLIT)), LEAST_MM, ELEMENT_MM)
    turn = _turns(corners - centres, after - centres)
    along = np.where(is_round, turn * np.hypot(*(corners - centres).T), length)
    size *= max(1.0, float((along / size).sum()) / MOST_ELEMENTS)
    n = np.ceil(np.maximum(along / size, np.where(is_round, turn / LARGEST_TURN_RAD, 0.0))).astype(np.int64)
    is_contact = (kind >= 0) | (kind == TERMINAL)
    n = np.where(is_contact, 2 * np.maximum(LEAST_PIECES, -(-n // 2)), n)
    n[(kind == SLIT) | (~is_round & (kind < 0) & (length * UNITS_PER_MM < 2))] = 0
    row = np.repeat(np.arange(len(n)), n)
    place = (np.arange(len(row)) - np.repeat(np.cumsum(n) - n, n)) / n[row]
    return after, row, place, n


def _widths_beside(length: FloatArray, is_cut: BoolArray) -> FloatArray:
    """Return (n,) the geometric mean of the lengths of the cuts before and after each bit; of a cut, its own."""
    cuts = np.flatnonzero(is_cut)
    if len(cuts) == 0:
        return np.full(len(length), np.inf)
    at = np.arange(len(length))
    before = cuts[np.searchsorted(cuts, at, side="right") - 1]
    after = cuts[np.mod(np.searchsorted(cuts, at), len(cuts))]
    return np.asarray(np.sqrt(length[before] * length[after]))


def _turns(begin: PointArray, end: PointArray) -> FloatArray:
    """Return the angle from each begin clockwise to its end; from a point to itself it is a whole turn."""
    cross, dot = begin[:, 0] * end[:, 1] - begin[:, 1] * end[:, 0], (begin * end).sum(axis=1)
    turn = np.mod(-np.arctan2(cross, dot), 2 * np.pi)
    return np.asarray(np.where(turn * np.hypot(*begin.T) * UNITS_PER_MM > 2, turn, 2 * np.pi))


def _nodes(
    corners: PointArray, after: PointArray, centres: PointArray, kind: Int32Array, row: IntArray, place: FloatArray
) -> PointArray:
    """Return where each element starts."""
    straight = corners[row] + place[:, None] * (after - corners)[row]
    begin = corners - centres
    angle = _turns(begin, after - centres)[row] * place
    x, y = begin[row].T
    turned = centres[row] + np.column_stack(
        [x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)]
    )
    is_round = (kind == ARC) | (kind == CIRCLE)
    return np.asarray(np.where(is_round[row, None], turned, straight))
