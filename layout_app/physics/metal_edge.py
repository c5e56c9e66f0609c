"""Metal edge: samples along the edge of a segment, the window each is nearest to, and where a tab grows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.model.errors import LayoutError
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import ROOTED_MM, Tab

if TYPE_CHECKING:
    from shapely import LineString, MultiLineString
    from shapely.geometry.base import BaseGeometry

ROOT_PIECE_MM = 6.0  # a tab's current enters the metal all along its root, here in pieces of this width
END_DEPTH_MM = 1.5  # how far from the end of a tab its edge may lie: rounded corners, a wall that is not straight
CHORDS_MM = 0.05  # sagitta of the chords that stand for arcs
LOOKS_OUT = 0.7  # cosine of 45°
STEP_MM = 0.7  # how closely the edge is sampled


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """Samples along the edge of the metal, ring by ring.

    Attributes
    ----------
    points_mm : (s, 2) float array
    following : (s,) int array, the sample after each one on its ring
    ring : (s,) int array
    owner : (s,) int array, the nearest window
    in_tab : (s,) int array, the tab it lies under; -1 for none
    """

    points_mm: PointArray
    following: IntArray
    ring: IntArray
    owner: IntArray
    in_tab: IntArray


def metal_edge(segment: Segment, solid: BaseGeometry, tabs: Sequence[Tab]) -> Edge:
    """Return the edge of a segment's solid, sampled; outside tabs are cut off at their roots, and the cuts are edge."""
    import shapely
    from scipy.spatial import cKDTree

    outside = [_beyond_root(tab) for tab in tabs if tab.is_outside]
    shape = shapely.difference(solid, shapely.union_all(outside)) if outside else solid
    rings = shapely.get_rings(shapely.segmentize(shapely.get_parts(shape), STEP_MM))
    points, ring_of = shapely.get_coordinates(rings, return_index=True)
    is_last = np.append(np.diff(ring_of) != 0, True)
    points, ring_of = points[~is_last], ring_of[~is_last]
    following = np.arange(1, len(points) + 1)
    starts = np.flatnonzero(np.append(True, np.diff(ring_of) != 0))
    following[np.append(starts[1:] - 1, len(points) - 1)] = starts
    owner = np.asarray(cKDTree(segment.window_centres_mm).query(points)[1], dtype=np.int64)
    in_tab = np.full(len(points), -1, dtype=np.int64)
    for k, tab in enumerate(tabs):
        in_tab[_is_under(segment, tab, points)] = k
    return Edge(points, following, ring_of.astype(np.int64), owner, in_tab)


def _is_under(segment: Segment, tab: Tab, points: PointArray) -> BoolArray:
    """Return (s,) which samples of the edge lie under a tab: at the root of one outside, the end of one inside."""
    import shapely

    if not tab.is_outside:
        return np.asarray(shapely.dwithin(tab_end(segment, tab), shapely.points(points), 2 * CHORDS_MM))
    out = np.array(tab.outward)
    along, across = (points - tab.foot_mm) @ out, (points - tab.foot_mm) @ np.array([-out[1], out[0]])
    return np.asarray((np.abs(along - root_mm(tab)) < ROOTED_MM) & (np.abs(across) < tab.width_mm / 2 + 1e-3))


def tab_end(segment: Segment, tab: Tab, chords_mm: float = CHORDS_MM) -> LineString | MultiLineString:
    """Return the piece of a segment's outline where its tab ends, arcs as chords: the terminal's current leaves there.

    A tab inside ends where the metal does: there it is the stretch of outline, as wide as the tab, that looks out.

    Raises
    ------
    LayoutError : no metal ends there
    """
    import shapely

    out = np.array(tab.outward)
    axes = np.column_stack([out, [-out[1], out[0]]])
    for piece in segment.pieces:
        points = (shapely.get_coordinates(piece.polygon(chords_mm).exterior) - tab.foot_mm) @ axes  # along, across
        bits = _within_width(np.stack([points[:-1], points[1:]], axis=1), tab.width_mm / 2)
        along = bits[:, :, 0].mean(axis=1)
        begins = tab.to_mm - END_DEPTH_MM if tab.is_outside else tab.from_mm
        found = (along > begins) & (along < tab.to_mm + END_DEPTH_MM)
        if found.any():
            found &= along > along[found].max() - 2 * END_DEPTH_MM
            return shapely.line_merge(shapely.multilinestrings(bits[found] @ axes.T + tab.foot_mm))
    raise LayoutError(f"Segment {segment.number} has no metal where its tab should end. Place its terminal elsewhere.")


def _within_width(bits: FloatArray, half_mm: float) -> FloatArray:
    """Return (b, 2, 2) what is left, within a tab's width, of the bits of a counter-clockwise outline that look out.

    Coordinates are along and across the tab's way out; a bit that looks out runs towards greater `across`.
    """
    step = bits[:, 1] - bits[:, 0]
    bits, step = (each[step[:, 1] > LOOKS_OUT * np.hypot(*step.T)] for each in (bits, step))
    share = (np.array([[-half_mm, half_mm]]) - bits[:, :1, 1]) / step[:, 1:]
    share = np.clip(share, 0, 1)
    kept = share[:, 1] > share[:, 0]
    return np.asarray(bits[kept, :1] + share[kept, :, None] * step[kept, None, :])


def root_mm(tab: Tab) -> float:
    """Return where a tab's strip meets the other metal's edge, along its way out."""
    return tab.from_mm + ROOTED_MM if tab.is_outside else tab.to_mm


def _beyond_root(tab: Tab) -> BaseGeometry:
    from shapely import Polygon

    foot, out = np.array(tab.foot_mm), np.array(tab.outward)
    side = np.array([-out[1], out[0]]) * tab.width_mm * 0.75
    start, end = foot + root_mm(tab) * out, foot + (tab.to_mm + ROOTED_MM) * out
    return Polygon([start - side, start + side, end + side, end - side])


def root_pieces(edge: Edge, tab: int) -> IntArray:
    """Return the middle samples of short pieces of the edge under one tab, each beside one window."""
    inside = np.flatnonzero(edge.in_tab == tab)
    if len(inside) == 0:
        return inside
    new = np.append(True, (np.diff(inside) != 1) | (np.diff(edge.owner[inside]) != 0))
    runs = np.split(inside, np.flatnonzero(new)[1:])
    pieces = [piece for run in runs for piece in np.array_split(run, int(np.ceil(len(run) * STEP_MM / ROOT_PIECE_MM)))]
    middles = np.array([piece[len(piece) // 2] for piece in pieces])
    return np.asarray(middles[edge.owner[middles] == edge.owner[edge.following[middles]]])
