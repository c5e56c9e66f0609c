"""Closed loops of a drawing: those drawn as such and those found among its loose ends."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from layout_app.exchange.drawing_contents import Contents
from layout_app.exchange.drawing_curves import Strand
from layout_app.exchange.drawing_errors import NothingClosedError, OpenOutlineError, place_text
from layout_app.exchange.drawing_units import LengthUnit
from layout_app.geometry.arrays import IntArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.edges import Edges
from layout_app.geometry.joining import EXACT_MM
from layout_app.geometry.loops import LoopsFound, OpenChain, find_loops

Role = Literal["outline", "keep-out", "ignored"]
NEARLY_CLOSED = 0.1  # a gap of less than this share of a chain's length: an outline that was meant to close
BARELY_CLOSED = 0.25  # up to this share a chain's own two ends are the gap to tell; beyond, the nearest ends are
FAR_LARGER = 20.0  # lines spread over so many times the largest loop: the outline is among them, and open


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnLoop:
    """A closed loop, counter-clockwise, with the layer it is on, its role and, where there is one, the reason."""

    contour: Contour
    layer: str
    strands: tuple[int, ...]
    area_mm2: float
    role: Role = "ignored"
    remark: str = ""

    def cast(self, role: Role, remark: str = "") -> DrawnLoop:
        """Return the loop in a role."""
        return replace(self, role=role, remark=remark)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClosedLoops:
    """The loops, and which entities (indices of strands) are open or idle."""

    loops: tuple[DrawnLoop, ...]
    open_strands: frozenset[int]
    idle_strands: frozenset[int]
    ignored_lines: Edges
    notes: tuple[str, ...]


def closed_loops(path: Path, contents: Contents, join_mm: float, unit: LengthUnit) -> ClosedLoops:
    """Return every closed loop of a drawing.

    Raises
    ------
    OpenOutlineError : what looks like the outline does not close
    NothingClosedError : there is no closed loop at all
    """
    strands = contents.strands
    loose = [index for index, strand in enumerate(strands) if not strand.closed]
    edges = Edges.together([strands[index].edges for index in loose])
    owners = np.repeat(loose, [len(strands[index].edges) for index in loose]).astype(int)
    found = find_loops(edges, join_mm)
    loops = [loop for index, strand in enumerate(strands) if strand.closed for loop in _drawn_closed(index, strand)]
    loops += [_of(strands, loop.contour, owners[list(loop.edges)].tolist()) for loop in found.loops]
    _require_closed(path, contents, loops, found, join_mm, unit)
    loops += _bosses(strands, edges, owners, loops, found, join_mm)
    used = {index for loop in loops for index in loop.strands}
    open_edges = [k for chain in found.open_chains for k in chain.edges]
    unused = np.array(sorted({*found.idle, *found.partitions, *open_edges}), dtype=np.int64)
    left = unused[~np.isin(owners[unused], sorted(used))]
    return ClosedLoops(
        loops=tuple(loops),
        open_strands=frozenset(owners[k] for k in open_edges) - used,
        idle_strands=frozenset(owners[k] for k in (*found.idle, *found.partitions)) - used,
        ignored_lines=edges.taken(left),
        notes=_partition_notes(edges, owners, found, used, unit),
    )


def _bosses(
    strands: Sequence[Strand],
    edges: Edges,
    owners: IntArray,
    loops: Sequence[DrawnLoop],
    found: LoopsFound,
    join_mm: float,
) -> list[DrawnLoop]:
    """Return the loops that open lines form with the wall they end on: bosses drawn only where they leave it.

    Only needed where the wall was drawn as one closed entity; ends on loose lines were found with these.
    """
    from shapely import contains, point_on_surface

    hanging = np.array([k for c in found.open_chains if _spread_mm2(c) > 0 for k in c.edges], dtype=np.int64)
    if len(hanging) == 0 or not loops:
        return []
    wall = max(loops, key=lambda loop: loop.area_mm2)
    around = Edges(wall.contour.vertices_mm, wall.contour.ends_mm, wall.contour.bulges)
    again = find_loops(Edges.together([edges.taken(hanging), around]), join_mm)
    inside = wall.contour.polygon()
    bosses = []
    for loop in again.loops:
        own = [k for k in loop.edges if k < len(hanging)]
        spot = point_on_surface(loop.contour.polygon())
        if own and loop.contour.area_mm2 < wall.area_mm2 and contains(inside, spot):
            bosses.append(_of(strands, loop.contour, owners[hanging[own]].tolist()))
    return bosses


def _partition_notes(
    edges: Edges, owners: IntArray, found: LoopsFound, used: set[int], unit: LengthUnit
) -> tuple[str, ...]:
    """Return notes on lines that run across between walls without being a copy of anything."""
    return tuple(
        f"A line across the housing from {place_text(tuple(edges.starts_mm[k]), unit)} to "
        f"{place_text(tuple(edges.ends_mm[k]), unit)} was ignored: it has no thickness."
        for k in found.partitions
        if owners[k] not in used
    )[:5]


def _drawn_closed(index: int, strand: Strand) -> Iterable[DrawnLoop]:
    """Yield the loop of an entity that is closed by itself; nothing if it has no area to speak of."""
    kept = strand.edges.taken(strand.edges.chords_mm > EXACT_MM)
    if len(kept) > 2 or (len(kept) == 2 and kept.bulges.any()):
        yield _of([strand], Contour(kept.starts_mm, kept.bulges), [0], index)


def _of(strands: Sequence[Strand], contour: Contour, members: Sequence[int], shift: int = 0) -> DrawnLoop:
    """Return the loop formed by some strands; a whole circle gets the form of one."""
    circle = _half_turns(contour) or contour.as_circle
    area_mm2 = contour.area_mm2
    if circle:
        contour = Contour.circle(*circle)
    elif area_mm2 < 0:
        contour = contour.reversed()
    layers = dict.fromkeys(strands[index].layer for index in members)
    numbers = tuple(sorted({index + shift for index in members}))
    return DrawnLoop(contour=contour, layer=", ".join(layers), strands=numbers, area_mm2=abs(area_mm2))


def _half_turns(contour: Contour) -> tuple[float, float, float] | None:
    """Return the circle of two half turns, the usual form, without the general search."""
    if len(contour.bulges) != 2 or abs(contour.bulges.sum()) != 2 or contour.bulges[0] != contour.bulges[1]:
        return None
    (x0, y0), (x1, y1) = contour.vertices_mm.tolist()
    return (x0 + x1) / 2, (y0 + y1) / 2, math.hypot(x1 - x0, y1 - y0) / 2


def _require_closed(
    path: Path, contents: Contents, loops: Sequence[DrawnLoop], found: LoopsFound, join_mm: float, unit: LengthUnit
) -> None:
    """Raise if there is no loop, or if the outline seems to be among the open lines."""
    largest = max((loop.area_mm2 for loop in loops), default=0.0)
    chain = max(found.open_chains, key=_spread_mm2, default=None)
    if chain is not None and (
        _looks_like_open_outline(chain, largest) or (largest == 0 and len(found.open_chains) > 2)
    ):
        ends, n_ends = _gap(chain, found.open_chains)
        raise OpenOutlineError(path, ends, n_ends, join_mm, unit, has_loops=bool(loops))
    if loops:
        return
    kinds = ", ".join(f"{count} {kind}" for kind, count in contents.kinds.most_common(5))
    raise NothingClosedError(
        path,
        "nothing drawn here forms a closed loop"
        + (f" (found: {kinds})" if kinds else ": model space is empty")
        + ". Draw the housing's inner wall as a closed loop of lines and arcs.",
    )


def _spread_mm2(chain: OpenChain) -> float:
    """Return the area of the convex hull of a chain; 0 for a straight line."""
    from shapely import MultiPoint

    return float(MultiPoint(chain.points_mm).convex_hull.area)


def _looks_like_open_outline(chain: OpenChain, largest_mm2: float) -> bool:
    """Whether an open chain, rather than the largest loop, is what was meant as the outline."""
    spread = _spread_mm2(chain)
    if spread <= largest_mm2 or spread == 0:
        return False
    if largest_mm2 == 0 or spread > FAR_LARGER * largest_mm2:
        return True
    return len(chain.ends_mm) == 2 and _closing_gap_mm(chain) < NEARLY_CLOSED * chain.length_mm


def _gap(chain: OpenChain, chains: Sequence[OpenChain]) -> tuple[tuple[tuple[float, float], tuple[float, float]], int]:
    """Return the two ends to blame and how many loose ends were looked at."""
    ends = chain.ends_mm
    if len(ends) != 2 or _closing_gap_mm(chain) > BARELY_CLOSED * chain.length_mm:
        curved = [other for other in chains if _spread_mm2(other) > 0]
        ends = np.vstack([other.ends_mm for other in (curved if len(curved) > 1 else chains)])
    if len(ends) < 2:
        ends = np.vstack([chain.points_mm[:1], chain.points_mm[-1:]])
    first, second = _nearest_pair(ends) if len(ends) > 2 else (0, 1)
    a, b = ends[first].tolist(), ends[second].tolist()
    return ((a[0], a[1]), (b[0], b[1])), len(ends)


def _closing_gap_mm(chain: OpenChain) -> float:
    return float(np.hypot(*(chain.ends_mm[0] - chain.ends_mm[1])))


def _nearest_pair(points: np.ndarray) -> tuple[int, int]:
    """Return the indices of the two points nearest to each other, of the first thousand."""
    points = points[:1000]
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    np.fill_diagonal(gaps, np.inf)
    first, second = np.unravel_index(int(gaps.argmin()), gaps.shape)
    return int(min(first, second)), int(max(first, second))
