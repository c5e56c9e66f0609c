"""Metal edge: the edges of a segment as closed lines with the metal to their left, and where its tabs end."""

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

END_DEPTH_MM = 1.5  # how far from the end of a tab its edge may lie: rounded corners, a wall that is not straight
CHORDS_MM = 0.05  # sagitta of the chords that stand for arcs
LOOKS_OUT = 0.7  # cosine of 45°
STEP_MM = 1.0  # how closely the edge is looked at
SAME_MM = 1e-3  # what is as near to a line lies on it


@dataclass(frozen=True, slots=True, eq=False)
class MetalEdge:
    """The straight bits of all edges, windows' rims apart, ring after ring.

    Attributes
    ----------
    starts_mm, ends_mm : (b, 2) float arrays
    ring : (b,) int array, ascending
    along_mm : (b,) float array, how far along its ring each bit starts
    is_terminal : (b,) bool array, where a tab ends
    """

    starts_mm: PointArray
    ends_mm: PointArray
    ring: IntArray
    along_mm: FloatArray
    is_terminal: BoolArray

    def lengths_mm(self) -> FloatArray:
        """Return (b,) the length of each bit."""
        return np.asarray(np.hypot(*(self.ends_mm - self.starts_mm).T))

    def samples(self) -> tuple[PointArray, IntArray, IntArray]:
        """Return points along the edges, the bit each lies on, and the point after it on its ring."""
        n = np.maximum(np.ceil(self.lengths_mm() / STEP_MM).astype(np.int64), 1)
        bit = np.repeat(np.arange(len(n)), n)
        share = (np.arange(len(bit)) - np.repeat(np.cumsum(n) - n, n)) / n[bit]
        points = self.starts_mm[bit] + share[:, None] * (self.ends_mm - self.starts_mm)[bit]
        return points, bit, _following(self.ring[bit])


def metal_edge(segment: Segment, tabs: Sequence[Tab]) -> MetalEdge:
    """Return the edges of a segment, arcs as chords.

    Raises
    ------
    LayoutError : the segment has no metal where a tab of its should end
    """
    import shapely

    solid = shapely.orient_polygons([piece.polygon(CHORDS_MM) for piece in segment.pieces])
    points, ring = shapely.get_coordinates(shapely.get_rings(solid), return_index=True)
    kept = np.append(np.diff(ring) == 0, False)  # each ring's last point is its first again
    points, ring = points[kept], ring[kept].astype(np.int64)
    tab_ends = shapely.union_all([tab_end(segment, tab) for tab in tabs])
    for point in shapely.get_coordinates(tab_ends.boundary):
        points, ring = _with_point(points, ring, point)
    ends = points[_following(ring)]
    length = np.hypot(*(ends - points).T)
    passed = np.cumsum(length) - length
    along = passed - passed[np.searchsorted(ring, ring)]
    is_terminal = np.asarray(shapely.dwithin(tab_ends, shapely.points((points + ends) / 2), SAME_MM))
    return MetalEdge(points, ends, ring, along, is_terminal)


def _following(ring: IntArray) -> IntArray:
    """Return (n,) which row comes after each one, rows of one ring standing together."""
    following = np.arange(1, len(ring) + 1)
    first = np.flatnonzero(np.append(True, np.diff(ring) != 0))
    following[np.append(first[1:], len(ring)) - 1] = first
    return following


def _with_point(points: PointArray, ring: IntArray, new: PointArray) -> tuple[PointArray, IntArray]:
    """Return the corners of rings with one more, put into the bit it lies on."""
    along = points[_following(ring)] - points
    share = np.clip(((new - points) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-18), 0, 1)
    bit = int(np.argmin(np.hypot(*(points + share[:, None] * along - new).T)))
    return np.insert(points, bit + 1, new, axis=0), np.insert(ring, bit + 1, ring[bit])


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
