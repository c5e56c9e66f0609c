"""Necks: the narrowest line across a segment that its whole current must cross.

Between two groups that is the shortest line which passes between the windows of the one and those of the other, from
edge to edge of the metal. It crosses, one after the other, the straight gates from each window of the first group to
the windows of the second beside it; the shortest line through gates in a given order is found by dynamic programming
over points on them. Where a keep-out lies between two gates, the line may end at it and go on behind it: no current
crosses there. At a terminal it is where the tab is rooted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.territories import Territories
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

TAB_STATIONS = 7  # lines across the few millimetres in which a tab may be only half rooted
TOUCH_MM = 0.01  # a line this little inside a window passes beside it
GATE_POINTS = 17  # on a gate of about 5 mm this finds the line's length to well under one per cent


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """The narrowest line across a segment. `lines_mm` holds one line for each stretch of the border, (n, 2) each."""

    segment: int
    width_mm: float
    lines_mm: tuple[PointArray, ...]

    def density_a_mm2(self, current_a: float, thickness_mm: float) -> float:
        """Return the mean current density when the whole current crosses, A/mm²; infinite across no metal."""
        area_mm2 = self.width_mm * thickness_mm
        return current_a / area_mm2 if area_mm2 > 0 else np.inf

    @property
    def place_mm(self) -> tuple[float, float] | None:
        """Where to point at: the middle of the longest stretch; None when there is no metal to cross."""
        if not self.lines_mm:
            return None
        longest = max(self.lines_mm, key=len)
        x, y = longest[len(longest) // 2]
        return float(x), float(y)


def border_neck(segment: Segment, grounds: Territories, radius_mm: FloatArray) -> Neck:
    """Return the neck between the two groups a segment joins; of width 0 where no metal joins them.

    Parameters
    ----------
    radius_mm : (n,) float array, the window radius over every cell of the layout on the segment's face
    """
    import shapely

    solid = shapely.multipolygons([piece.polygon(0.01) for piece in segment.pieces])
    is_member = np.zeros(int(grounds.pairs.max()) + 1, dtype=np.int64)
    is_member[segment.window_cells] = np.where(segment.is_positive_end, 1, 2)
    facing = np.flatnonzero(is_member[grounds.pairs].sum(axis=1) * (is_member[grounds.pairs] > 0).all(axis=1) == 3)
    pairs = grounds.pairs[facing]
    centres = np.zeros((len(is_member), 2))
    centres[segment.window_cells] = segment.window_centres_mm
    gates = _gates(centres, radius_mm, pairs)
    is_open = shapely.covers(solid, shapely.linestrings(gates[:, [0, -1]])) if len(gates) else np.zeros(0, dtype=bool)
    found = [
        _shortest(gates[is_open][chain], solid, segment.windows_mm, is_closed=is_closed)
        for chain, is_closed in _chains(grounds.ridges[facing][is_open])
    ]
    lines = [line for stretches in found for line in stretches]
    return Neck(segment=segment.number, width_mm=float(sum(map(_length, lines))), lines_mm=tuple(lines))


def tabs_neck(segment: Segment, tabs: Sequence[Tab]) -> Neck:
    """Return the neck of a terminal: the tabs' together, for the current takes all of them."""
    necks = [tab_neck(segment, tab) for tab in tabs]
    lines = tuple(line for neck in necks for line in neck.lines_mm)
    return Neck(segment=segment.number, width_mm=sum(neck.width_mm for neck in necks), lines_mm=lines)


def tab_neck(segment: Segment, tab: Tab) -> Neck:
    """Return the neck of a terminal's tab: the least metal across its strip between the wall and the segment."""
    import shapely

    out, foot = np.array(tab.outward), np.array(tab.foot_mm)
    side = np.array([-out[1], out[0]]) * tab.width_mm / 2
    stations = foot + np.linspace(tab.root_mm, tab.from_mm, TAB_STATIONS)[:, None] * out
    across = shapely.linestrings(np.stack([stations - side, stations + side], axis=1))
    solid = shapely.multipolygons([piece.polygon(0.01) for piece in segment.pieces])
    crossed = min(shapely.intersection(across, solid), key=shapely.length)
    lines = tuple(np.asarray(part.coords) for part in shapely.get_parts(crossed) if part.length > 0)
    return Neck(segment=segment.number, width_mm=float(sum(map(_length, lines))), lines_mm=lines)


def _gates(centres: PointArray, radius: FloatArray, pairs: IntArray) -> FloatArray:
    """Return (m, GATE_POINTS, 2): points from window edge to window edge of each pair."""
    start, end = centres[pairs[:, 0]], centres[pairs[:, 1]]
    along = end - start
    unit = along / np.hypot(*along.T)[:, None]
    start, end = start + radius[pairs[:, 0], None] * unit, end - radius[pairs[:, 1], None] * unit
    share = np.linspace(0, 1, GATE_POINTS)[None, :, None]
    return np.asarray(start[:, None] * (1 - share) + end[:, None] * share)


def _chains(ridges: IntArray) -> list[tuple[IntArray, bool]]:
    """Return the ridges in stretches that hang together, each in order, and whether the stretch is a closed ring."""
    at: dict[int, list[int]] = {}
    for k, corners in enumerate(ridges.tolist()):
        for corner in corners:
            at.setdefault(corner, []).append(k)
    left = dict.fromkeys(range(len(ridges)))
    ends = [users[0] for users in at.values() if len(users) != 2]
    chains = []
    while left:
        start = next((k for k in ends if k in left), next(iter(left)))
        chain = _followed(start, ridges, at, left)
        first = set(ridges[chain[0]].tolist())
        is_closed = len(chain) > 2 and bool(first & set(ridges[chain[-1]].tolist()))
        chains.append((np.array(chain), is_closed))
    return chains


def _followed(start: int, ridges: IntArray, at: dict[int, list[int]], left: dict[int, None]) -> list[int]:
    """Take ridges from `left`, one beside the other, from `start` on."""
    chain: list[int] = []
    k: int | None = start
    while k is not None:
        chain.append(k)
        del left[k]
        beside = [n for corner in ridges[k].tolist() if len(at[corner]) == 2 for n in at[corner]]
        k = next((n for n in beside if n in left), None)
    return chain


def _shortest(gates: FloatArray, metal: BaseGeometry, windows_mm: FloatArray, *, is_closed: bool) -> list[PointArray]:
    """Return the stretches, (n, 2) each, of the shortest line through gates in order.

    It runs from edge to edge of the metal, or back to where it began.
    """
    if is_closed:
        gaps = _gaps([*gates, gates[0]], metal)
        tries = [_through([gates[0][k : k + 1], *gates[1:], gates[0][k : k + 1]], gaps) for k in range(GATE_POINTS)]
        return min(tries, key=lambda lines: sum(map(_length, lines)))
    start = _edge_points(gates, metal, windows_mm)
    whole = [start, *gates, _edge_points(gates[::-1], metal, windows_mm, is_far_side=len(gates) == 1)]
    return _through(whole, [None, *_gaps(list(gates), metal), None])


def _edge_points(
    gates: FloatArray, metal: BaseGeometry, windows_mm: FloatArray, *, is_far_side: bool = False
) -> PointArray:
    """Return (GATE_POINTS, 2): for every point of the first gate the nearest point of the metal's edge on the side away
    from the next gate; straight out where a window is in the way. Of a single gate, either side."""
    import shapely

    gate = gates[0]
    along = (gate[-1] - gate[0]) / np.hypot(*(gate[-1] - gate[0]))
    normal = np.array([-along[1], along[0]])
    ahead = float((gates[1].mean(axis=0) - gate[0]) @ normal) if len(gates) > 1 else (-1.0 if is_far_side else 1.0)
    x_min, y_min, x_max, y_max = metal.bounds
    far = 2 * (x_max - x_min + y_max - y_min)
    away, found = -np.sign(ahead) * far * normal, []
    for more in (far * along, 0.0 * along):
        corners = [gate[0] - more, gate[-1] + more]
        edge = shapely.intersection(metal.boundary, shapely.Polygon([*corners, *(c + away for c in corners[::-1])]))
        lines = shapely.shortest_line(shapely.points(gate), metal.boundary if edge.is_empty else edge)
        found.append(shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 1])
    nearest, straight_out = found
    return np.asarray(np.where(_crosses(gate, nearest, windows_mm)[:, None], straight_out, nearest))


def _crosses(starts: PointArray, ends: PointArray, circles: FloatArray) -> BoolArray:
    """Return (n,) which lines from start to end cut into one of the circles, (m, 3)."""
    along = (ends - starts)[:, None]
    to_centre = circles[None, :, :2] - starts[:, None]
    share = (to_centre * along).sum(axis=2) / np.maximum((along**2).sum(axis=2), 1e-12)
    off = np.linalg.norm(to_centre - np.clip(share, 0, 1)[:, :, None] * along, axis=2)
    return np.asarray((off < circles[:, 2] - TOUCH_MM).any(axis=1))


def _gaps(gates: list[PointArray], metal: BaseGeometry) -> list[BaseGeometry | None]:
    """Return for each two gates in a row what lies between them and is no metal; None where all is."""
    import shapely

    ends = np.array([[*here[[0, -1]], *there[[0, -1]]] for here, there in pairwise(gates)]).reshape(-1, 4, 2)
    between = shapely.convex_hull(shapely.multipoints(ends))
    return [
        None if k else shapely.difference(b, metal)
        for k, b in zip(shapely.covers(metal, between), between, strict=True)
    ]


def _through(gates: list[PointArray], gaps: list[BaseGeometry | None]) -> list[PointArray]:
    """Return the stretches of the shortest line with one point on each gate, in order; gaps cost nothing to cross."""
    cost, came_from = np.zeros(len(gates[0])), []
    for (before, here), gap in zip(pairwise(gates), gaps, strict=True):
        total = cost[:, None] + _steps(before, here, gap)
        came_from.append(total.argmin(axis=0))
        cost = total.min(axis=0)
    k = int(cost.argmin())
    line = [gates[-1][k]]
    for gate, origin in zip(gates[-2::-1], came_from[::-1], strict=True):
        k = int(origin[k])
        line.append(gate[k])
    return _stretches(line[::-1], gaps)


def _steps(before: PointArray, here: PointArray, gap: BaseGeometry | None) -> FloatArray:
    """Return (n, m) how much metal lies between each point before and each point here: straight, or by the gap."""
    import shapely

    straight = np.hypot(before[:, None, 0] - here[None, :, 0], before[:, None, 1] - here[None, :, 1])
    if gap is None:
        return np.asarray(straight)
    to_gap, from_gap = (shapely.distance(shapely.points(points), gap) for points in (before, here))
    return np.asarray(np.minimum(straight, to_gap[:, None] + from_gap[None, :]))


def _stretches(line: list[PointArray], gaps: list[BaseGeometry | None]) -> list[PointArray]:
    """Return a line in stretches, taken apart where it goes by a gap."""
    import shapely

    stretches, stretch = [], line[:1]
    for (before, here), gap in zip(pairwise(line), gaps, strict=True):
        if gap is not None:
            to_gap, from_gap = shapely.get_coordinates(
                shapely.shortest_line(shapely.points([before, here]), gap)
            ).reshape(2, 2, 2)
            if _length(to_gap) + _length(from_gap) < _length(np.array([before, here])):
                stretches.append([*stretch, to_gap[1]])
                stretch = [from_gap[1]]
        stretch.append(here)
    return [np.array(points) for points in (*stretches, stretch)]


def _length(line: PointArray) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())
