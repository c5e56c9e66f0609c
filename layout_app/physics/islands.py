"""Islands: shapes of pieces of metal, told in whole micrometres, so that those alike are worked out once.

A shape is two tables as bytes. Corners, (n, 5) int32: x, y, the centre of the arc that starts there, and what the bit
of boundary after the corner is: a cut by its number, or one of the kinds below. Sources, (s, 6) int32: x, y, then
centre and radius of the window the source sits beside, then its land's number.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.physics.island_conductance import Island, island_conductance

PLAIN, ARC, CIRCLE, TERMINAL, SLIT = -1, -2, -3, -4, -5  # kinds of bits; arcs and circles are holes', and clockwise
UNITS_PER_MM = 1000
ELEMENT_MM = 1.2  # longest element of an island's boundary
ELEMENT_WIDTHS = 0.8  # and not longer than this share of the narrowest cut…
LEAST_MM = 0.3  # …but no shorter
LARGEST_TURN_RAD = 0.3  # of an arc, in one element
LEAST_PIECES = 2  # of a cut or of a bit of the terminal
KNOWN = 20_000  # shapes kept: a kilobyte or two each

Shape = tuple[bytes, bytes]


@lru_cache(maxsize=KNOWN)
def known_conductance(corners: bytes, sources: bytes, radius_mm: float) -> FloatArray:
    """Return what an island does between its contacts: cuts, terminal if it has one, lands. Per square."""
    found = island_conductance(island_of(corners, sources, radius_mm))
    found.flags.writeable = False
    return found


def island_of(corners: bytes, sources: bytes, radius_mm: float) -> Island:
    """Return the island of a shape, its boundary cut into elements."""
    rows = np.frombuffer(corners, dtype=np.int32).reshape(-1, 5)
    spots = np.frombuffer(sources, dtype=np.int32).reshape(-1, 6)
    starts, ends, piece, contact = _elements(rows[:, :2] / UNITS_PER_MM, rows[:, 2:4] / UNITS_PER_MM, rows[:, 4])
    return Island(
        nodes_mm=starts,
        following=np.hypot(*(ends[:, None] - starts[None]).transpose(2, 0, 1)).argmin(axis=1),
        piece=np.array(piece, dtype=np.int64),
        contact=np.array(contact, dtype=np.int64),
        n_cuts=int(rows[:, 4].max(initial=-1)) + 1,
        sources_mm=spots[:, :2] / UNITS_PER_MM,
        windows_mm=spots[:, 2:5] / UNITS_PER_MM,
        land=spots[:, 5].astype(np.int64),
        radius_mm=radius_mm,
    )


def _elements(
    corners: PointArray, centres: PointArray, kinds: np.ndarray
) -> tuple[PointArray, PointArray, list[int], list[int]]:
    """Return where elements start and end, the piece each belongs to, and the contact each piece belongs to."""
    walk = np.flatnonzero(kinds != CIRCLE)
    after = corners.copy()
    after[walk] = corners[np.roll(walk, -1)]
    length = np.hypot(*(after - corners).T)
    narrowest = length[kinds >= 0].min(initial=np.inf)
    size = float(np.clip(narrowest * ELEMENT_WIDTHS, LEAST_MM, ELEMENT_MM))
    n_cuts = int(kinds.max(initial=-1)) + 1
    starts, ends, piece = [], [], []
    contact: list[int] = []
    for k in np.argsort(kinds == TERMINAL, kind="stable").tolist():  # the terminal after all cuts
        kind = int(kinds[k])
        if kind == SLIT or (kind in (PLAIN, TERMINAL) and length[k] * UNITS_PER_MM < 2):
            continue
        is_contact = kind >= 0 or kind == TERMINAL
        if kind in (ARC, CIRCLE):
            points = _arc(corners[k], after[k], centres[k], size)
        elif is_contact:
            points = _straight(corners[k], after[k], 2 * max(LEAST_PIECES, int(np.ceil(length[k] / (2 * size)))))
        else:
            points = _straight(corners[k], after[k], int(np.ceil(length[k] / size)))
        n = len(points) - 1
        starts.append(points[:-1])
        ends.append(points[1:])
        piece += [len(contact) + j // 2 for j in range(n)] if is_contact else [-1] * n
        contact += [kind if kind >= 0 else n_cuts] * (n // 2) if is_contact else []
    return np.vstack(starts), np.vstack(ends), piece, contact


def _straight(start: PointArray, end: PointArray, n: int) -> PointArray:
    return start + (np.arange(n + 1) / n)[:, None] * (end - start)


def _arc(start: PointArray, end: PointArray, centre: PointArray, size_mm: float) -> PointArray:
    """Return the nodes of an arc that runs clockwise; from a point to itself it is a whole turn."""
    a, b = start - centre, end - centre
    radius, begin = np.hypot(*a), np.arctan2(a[1], a[0])
    turn = np.mod(begin - np.arctan2(b[1], b[0]), 2 * np.pi)
    turn = turn if turn * radius * UNITS_PER_MM > 2 else 2 * np.pi
    n = int(np.ceil(max(turn * radius / size_mm, turn / LARGEST_TURN_RAD)))
    angle = begin - turn * np.arange(n + 1) / n
    nodes = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    nodes[0], nodes[-1] = start, end
    return np.asarray(nodes)
