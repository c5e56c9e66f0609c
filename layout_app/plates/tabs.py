"""Tabs: where a terminal leaves its segment, and the strip of metal that does it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.plates import BOLT_HOLE_MM, Terminal

if TYPE_CHECKING:
    from shapely import Polygon

SAMPLE_MM = 1.0  # how finely the wall is searched for a place


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """A terminal's tab: its foot on the housing's outline, the way out, and its bolt hole."""

    foot_mm: tuple[float, float]
    outward: tuple[float, float]  # unit vector
    width_mm: float
    from_mm: float  # along `outward`, measured from the foot: where the strip begins…
    to_mm: float  # … and where it ends
    root_mm: float  # along `outward`: where the whole current crosses the strip
    bolt_hole_mm: tuple[float, float, float]  # x, y, radius

    def strip(self) -> Polygon:
        """Return the strip as a shapely rectangle."""
        from shapely import Polygon

        foot, out = np.array(self.foot_mm), np.array(self.outward)
        side = np.array([-out[1], out[0]]) * self.width_mm / 2
        start, end = foot + self.from_mm * out, foot + self.to_mm * out
        return Polygon([start - side, start + side, end + side, end - side])


def place_tab(terminal: Terminal, housing: Housing, setback_mm: float, own_mm: PointArray, other_mm: PointArray) -> Tab:
    """Return the tab of a terminal whose segment lies over the cells at `own_mm`.

    Parameters
    ----------
    own_mm, other_mm : (n, 2) centres of the segment's own cells and of all others on the face
    """
    points, normals = _wall_points(housing.outline)
    if terminal.near_mm is None:
        k = _middle_of_longest_stretch(points, own_mm, other_mm)
    else:
        k = int(np.argmin(((points - np.array(terminal.near_mm)) ** 2).sum(axis=1)))
    foot, out = points[k], normals[k]
    radius = BOLT_HOLE_MM[terminal.bolt] / 2
    to_bolt = min(terminal.width_mm, terminal.length_mm) / 2  # single bolt in the middle of the overlap, as DIN 43673
    if terminal.place == "outside":
        start, end, bolt = -setback_mm - terminal.width_mm / 2, terminal.length_mm, terminal.length_mm - to_bolt
    else:
        start, end, bolt = -setback_mm - terminal.length_mm, -setback_mm, -setback_mm - to_bolt
    hole = foot + bolt * out
    return Tab(
        foot_mm=(float(foot[0]), float(foot[1])),
        outward=(float(out[0]), float(out[1])),
        width_mm=terminal.width_mm,
        from_mm=start,
        to_mm=end,
        root_mm=0.0 if terminal.place == "outside" else start,
        bolt_hole_mm=(float(hole[0]), float(hole[1]), radius),
    )


def _wall_points(outline: Contour) -> tuple[PointArray, PointArray]:
    """Return (n, 2) points about a millimetre apart along the outline and the outward unit vectors there."""
    n_steps = np.maximum(1, np.ceil(outline.lengths_mm / SAMPLE_MM)).astype(int)
    edge = np.repeat(np.arange(len(n_steps)), n_steps)
    first = np.cumsum(n_steps) - n_steps
    fraction = (np.arange(len(edge)) - first[edge] + 0.5) / n_steps[edge]
    chord = (outline.ends_mm - outline.vertices_mm)[edge]
    heading = np.arctan2(chord[:, 1], chord[:, 0]) + 4 * np.arctan(outline.bulges)[edge] * (fraction - 0.5)
    return outline.points_along(edge, fraction), np.column_stack([np.sin(heading), -np.cos(heading)])


def _middle_of_longest_stretch(points: PointArray, own: PointArray, other: PointArray) -> int:
    """Return the wall point in the middle of the longest stretch nearest to the segment's own cells."""
    from scipy.spatial import KDTree

    to_other = KDTree(other).query(points)[0] if len(other) else np.full(len(points), np.inf)
    is_ours = np.asarray(KDTree(own).query(points)[0] <= to_other)
    if is_ours.all():
        return int(np.argmin(points[:, 0] + 1e-6 * points[:, 1]))
    if not is_ours.any():
        return int(np.argmin(KDTree(own).query(points)[0]))
    begin = int(np.flatnonzero(~is_ours)[0])
    turned = np.roll(is_ours, -begin)  # starts with a foreign point: no stretch runs across the seam
    edges = np.flatnonzero(np.diff(np.concatenate([turned.astype(int), [0]])))
    starts, stops = edges[::2] + 1, edges[1::2]
    longest = int(np.argmax(stops - starts))
    return int((starts[longest] + stops[longest]) // 2 + begin) % len(points)
