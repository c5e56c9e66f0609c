"""Minimum cuts: where the metal between joints is narrowest for the current that has to cross.

A cut divides the metal; what the joints on one side feed in, less what those there take out, has to cross it. The
density over a cut is that current over its width and the sheet's thickness. The neck of a segment is the cut with the
greatest: no other way of the current through the metal could do with less. That is the theorem of maximum flow and
minimum cut (Ford and Fulkerson 1956): currents that keep every gap at or below a density exist if and only if no cut
needs more. The greatest ratio is found by Dinkelbach's method (1967): at a density, the cut that exceeds it most is a
minimum cut in a network; its own density is the next to try, until none exceeds it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.physics.currents import Currents
from layout_app.physics.gaps import Gaps, gaps_of, joined
from layout_app.physics.joints import Lands, lands
from layout_app.physics.metal_edge import tab_end
from layout_app.plates.deriving import Plates
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

SAME = 0.01  # of the largest joint's current: within it a neck found before is as good
MOST_ROUNDS = 60  # each finds a denser cut; five are usual
LEAST_SHARE = 1e-6  # of all current: what a cut may exceed a density by and still be taken for rounding
WHOLE = 1_000_000_000  # all current in whole numbers, as the flow's algorithm wants them: within 32 bits
CHORDS_MM = 0.01
KERF_MM = 1e-3  # how wide a line is made to take the metal apart
NO_METAL = 1e-9  # of millimetres
ROUNDING = 1e-9  # of the largest joint's current
KnownCuts = Mapping[Segment, "Cut | None"]  # by segment
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A line, in one stretch or several, that takes the metal of a segment apart, and the current that crosses it.

    Attributes
    ----------
    segment : number
    width_mm : of metal, all stretches together
    lines_mm : the stretches, (n, 2) each
    current_a : from the one side to the other
    density_a_mm2 : mean over width and thickness; infinite where no metal is left to cross
    cells : (k,) int array, the cells (indices) whose joints the line cuts off from the others, on the side with fewer;
        empty when not known
    is_beyond : (w,) bool array, the segment's joints whose currents sum to the one that crosses: those on one side, of
        an end segment on the side without its terminal; empty when not known
    joint_a : (w,) float array, the currents of the segment's joints the cut was found at; empty when not known
    """

    segment: int
    width_mm: float
    lines_mm: tuple[FloatArray, ...]
    current_a: float
    density_a_mm2: float
    cells: IntArray
    is_beyond: BoolArray = field(default_factory=lambda: np.empty(0, dtype=np.bool_))
    joint_a: FloatArray = field(default_factory=lambda: np.empty(0))

    def serves(self, joint_a: FloatArray) -> bool:
        """Whether it may stand for the neck at other currents of the segment's joints, (w,)."""
        if self.joint_a.shape != joint_a.shape:
            return False
        return bool(np.abs(joint_a - self.joint_a).max(initial=0.0) <= SAME * np.abs(joint_a).max(initial=0.0))

    def at(self, joint_a: FloatArray) -> Cut:
        """Return the same line with what crosses it at other currents of the segment's joints, (w,)."""
        current_a = _crossing_a(joint_a, self.is_beyond)
        return replace(self, current_a=current_a, density_a_mm2=self.density_a_mm2 * (current_a / self.current_a))

    @property
    def place_mm(self) -> tuple[float, float] | None:
        """Where to point at: the middle of the longest stretch; None without metal."""
        if not self.lines_mm:
            return None
        longest = max(self.lines_mm, key=lambda line: float(np.hypot(*np.diff(line, axis=0).T).sum()))
        x_mm, y_mm = longest[[0, -1]].mean(axis=0) if len(longest) == 2 else longest[len(longest) // 2]
        return float(x_mm), float(y_mm)


def module_cuts(
    plates: Plates, found: Currents, known: KnownCuts | None = None, progress: Progress | None = None
) -> tuple[Cut | None, ...]:
    """Return the neck of each segment 0…S, as `segment_cut`.

    Parameters
    ----------
    known : what was found before, of the same kind of joints; it serves where neither the metal nor the currents of its
        joints have changed
    progress : called with the share done; what it raises ends the work
    """
    layout, cuts = plates.layout, list[Cut | None]()
    for k, segment in enumerate(plates.segments):
        joint_a, before = joint_currents_a(segment, found), (known or {}).get(segment)
        if before is not None and before.serves(joint_a):
            cuts.append(before.at(joint_a))
        else:
            where = lands(segment, layout.joints, layout.lattice.angle_rad)
            cuts.append(segment_cut(segment, where, plates.tabs(segment.number, segment.window_cells), found))
        if progress is not None:
            progress((k + 1) / len(plates.segments))
    return tuple(cuts)


def segment_cut(segment: Segment, where: Lands, tabs: Sequence[Tab], found: Currents) -> Cut | None:
    """Return the neck of a segment: the cut with the greatest current density; None when nothing flows.

    Parameters
    ----------
    where : the segment's joints
    tabs : of the segment's terminal; empty for one between two groups
    found : currents of either model

    Notes
    -----
    Cuts run from rim to rim of windows and edges; those round a single foot are none of the metal's: see
    `SegmentField.foot_a_mm2`. Bolt holes are left out: the lug takes the current from the metal round them.
    """
    import shapely

    if not segment.pieces:
        return None
    gaps = gaps_of(shapely.multipolygons([piece.polygon(CHORDS_MM) for piece in segment.pieces]), segment.windows_mm)
    ends = [gaps.patches_along(tab_end(segment, tab)) for tab in tabs]
    terminal = np.concatenate([*ends, np.empty(0, dtype=np.int64)]).astype(np.int64)
    node, n_nodes = joined(gaps, [terminal])
    patch = gaps.patches_beside(np.arange(len(segment.windows_mm)), where.centres_mm)
    on_metal = patch >= 0  # all of them, in a sound layout
    at = np.where(on_metal, node[patch], -1)
    joint_a = np.where(on_metal, joint_currents_a(segment, found), 0.0)
    supply = np.bincount(at[on_metal], weights=joint_a[on_metal], minlength=n_nodes).astype(np.float64)
    if len(terminal):
        supply[node[terminal[0]]] -= joint_a.sum()
    # joints that share a patch send each other their current at once: what rounding leaves must cross nothing
    supply[np.abs(supply) <= ROUNDING * np.abs(joint_a).max(initial=0.0)] = 0.0
    pairs = node[gaps.links[0]]
    inside = densest_cut(n_nodes, pairs, gaps.widths_mm, supply)
    if inside is None:
        return None
    return _cut_of(segment, gaps, pairs, inside, float(supply[inside].sum()), at, joint_a)


def densest_cut(n_nodes: int, pairs: IntArray, widths: FloatArray, supply: FloatArray) -> BoolArray | None:
    """Return (n,) which nodes lie on the feeding side of the cut with the greatest current over width.

    Parameters
    ----------
    pairs : (m, 2) int array, the nodes on both sides of each gap
    widths : (m,) float array, of the gaps, not negative
    supply : (n,) float array, the current fed in at each node, negative where taken out; sums to zero

    Returns
    -------
    None when nothing is fed in. A cut of no width with current to cross it counts as the greatest.
    """
    whole = float(np.maximum(supply, 0.0).sum())
    inside: BoolArray | None = None
    if not whole > 0:
        return None
    least, density = LEAST_SHARE * whole, 0.0
    for _ in range(MOST_ROUNDS):
        tried = _exceeding(n_nodes, pairs, widths, supply, density, whole)
        current, width = float(supply[tried].sum()), _width(pairs, widths, tried)
        if current - density * width <= least:
            break
        inside = tried
        if width <= NO_METAL:
            break
        density = current / width
    return inside


def _exceeding(
    n_nodes: int, pairs: IntArray, widths: FloatArray, supply: FloatArray, density: float, whole: float
) -> BoolArray:
    """Return (n,) the side of the cut whose current exceeds what its width may carry at a density by most."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    source, sink = n_nodes, n_nodes + 1
    scale = WHOLE / whole
    fed, taken = np.flatnonzero(supply > 0), np.flatnonzero(supply < 0)
    start = np.concatenate([pairs[:, 0], pairs[:, 1], np.full(len(fed), source), taken])
    end = np.concatenate([pairs[:, 1], pairs[:, 0], fed, np.full(len(taken), sink)])
    wide = np.minimum(widths * density * scale, WHOLE)
    capacity = np.round(np.concatenate([wide, wide, supply[fed] * scale, -supply[taken] * scale])).astype(np.int64)
    graph = csr_matrix((capacity, (start, end)), shape=(n_nodes + 2, n_nodes + 2))  # doubled links add up
    graph.data = np.minimum(graph.data, WHOLE)
    whole_numbers: Any = graph.astype(np.int32)
    left = whole_numbers - maximum_flow(whole_numbers, source, sink).flow
    left.data = np.where(left.data > 0, left.data, 0)
    left.eliminate_zeros()
    inside = np.zeros(n_nodes + 2, dtype=bool)
    inside[breadth_first_order(left, source, return_predecessors=False)] = True
    return inside[:n_nodes]


def _width(pairs: IntArray, widths: FloatArray, inside: BoolArray) -> float:
    return float(widths[inside[pairs[:, 0]] != inside[pairs[:, 1]]].sum())


def _cut_of(
    segment: Segment,
    gaps: Gaps,
    pairs: IntArray,
    inside: BoolArray,
    current_a: float,
    at: IntArray,
    joint_a: FloatArray,
) -> Cut:
    crossed = np.flatnonzero((inside[pairs[:, 0]] != inside[pairs[:, 1]]) & (gaps.widths_mm > NO_METAL))
    within = inside[at] & (at >= 0)
    few = within if within.sum() * 2 <= len(within) else ~within
    off_a = [abs(_crossing_a(joint_a, side) - current_a) for side in (within, ~within)]  # the terminal feeds as well
    is_beyond = within if off_a[0] <= off_a[1] else ~within
    width_mm, current_a = float(gaps.widths_mm[crossed].sum()), _crossing_a(joint_a, is_beyond)
    area_mm2 = width_mm * segment.thickness_mm
    return Cut(
        segment=segment.number,
        width_mm=width_mm,
        lines_mm=tuple(gaps.lines_mm[crossed]),
        current_a=current_a,
        density_a_mm2=current_a / area_mm2 if area_mm2 > 0 else np.inf,
        cells=segment.window_cells[few],
        is_beyond=is_beyond,
        joint_a=joint_a,
    )


def _crossing_a(joint_a: FloatArray, is_beyond: BoolArray) -> float:
    return abs(float(joint_a[is_beyond].sum()))


def joint_currents_a(segment: Segment, found: Currents) -> FloatArray:
    """Return (w,) the current each joint of a segment sends into its metal, A; negative where it takes some out."""
    flow = found.solved.cell_current_a[segment.window_cells]
    return np.where(segment.is_positive_end, flow, -flow)
