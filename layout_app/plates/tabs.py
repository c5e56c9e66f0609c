"""Tabs: where a terminal leaves its segment, and the strip of metal that does it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.plates import BOLT_HOLE_MM, Terminal

if TYPE_CHECKING:
    from shapely import Polygon

ROOTED_MM = 1.0  # how far a strip reaches into the metal it grows from
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
    is_outside: bool

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
    points, normals, has_room = _wall_points(housing.outline, terminal.width_mm)
    if terminal.near_mm is None:
        is_free = has_room & _is_clear(points, normals, housing, setback_mm, terminal.width_mm)
        k = _middle_of_longest_stretch(points, is_free, own_mm, other_mm, terminal.width_mm)
    else:
        k = int(np.argmin(((points - np.array(terminal.near_mm)) ** 2).sum(axis=1)))
    foot, out = points[k], normals[k]
    radius = BOLT_HOLE_MM[terminal.bolt] / 2
    to_bolt = min(terminal.width_mm, terminal.length_mm) / 2  # single bolt in the middle of the overlap, as DIN 43673
    if terminal.place == "outside":
        start, end, bolt = -setback_mm - ROOTED_MM, terminal.length_mm, terminal.length_mm - to_bolt
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
        is_outside=terminal.place == "outside",
        bolt_hole_mm=(float(hole[0]), float(hole[1]), radius),
    )


def _wall_points(outline: Contour, width_mm: float) -> tuple[PointArray, PointArray, BoolArray]:
    """Return (n, 2) points about a millimetre apart along the outline, the outward unit vectors there, and (n,) whether
    a tab of that width has its foot on one edge there, straight or gently curved."""
    lengths = outline.lengths_mm
    n_steps = np.maximum(1, np.ceil(lengths / SAMPLE_MM)).astype(int)
    edge = np.repeat(np.arange(len(n_steps)), n_steps)
    first = np.cumsum(n_steps) - n_steps
    fraction = (np.arange(len(edge)) - first[edge] + 0.5) / n_steps[edge]
    chord = (outline.ends_mm - outline.vertices_mm)[edge]
    heading = np.arctan2(chord[:, 1], chord[:, 0]) + 4 * np.arctan(outline.bulges)[edge] * (fraction - 0.5)
    to_end_mm = np.minimum(fraction, 1 - fraction) * lengths[edge]
    has_room = (to_end_mm >= width_mm / 2) & (outline.arc_radii_mm[edge] >= 2 * width_mm)
    return outline.points_along(edge, fraction), np.column_stack([np.sin(heading), -np.cos(heading)]), has_room


def _is_clear(
    points: PointArray, normals: PointArray, housing: Housing, setback_mm: float, width_mm: float
) -> BoolArray:
    """Return (n,) whether a tab's foot at each wall point keeps the setback to all keep-outs."""
    import shapely

    if not housing.keep_outs:
        return np.ones(len(points), dtype=bool)
    side = np.column_stack([-normals[:, 1], normals[:, 0]]) * width_mm / 2
    inner = points - (setback_mm + ROOTED_MM) * normals
    feet = shapely.linestrings(np.stack([points - side, points + side, inner + side, inner - side], axis=1))
    obstacles = shapely.union_all([loop.polygon(0.01) for loop in housing.keep_outs])
    return np.asarray(shapely.distance(feet, obstacles) >= setback_mm)


def _middle_of_longest_stretch(
    points: PointArray, is_free: BoolArray, own: PointArray, other: PointArray, width_mm: float
) -> int:
    """Return the wall point in the middle of the longest stretch nearest to the segment's own cells; off the middle
    where that spares the tab a corner, a keep-out or the end of the stretch."""
    from scipy.spatial import KDTree

    to_own = KDTree(own).query(points)[0]
    is_ours = np.asarray(to_own <= KDTree(other).query(points)[0]) if len(other) else np.ones(len(points), dtype=bool)
    if not is_ours.any():
        return int(np.argmin(to_own))
    begin = 0 if is_ours.all() else int(np.flatnonzero(~is_ours)[0])
    turned = np.roll(is_ours, -begin)  # starts with a foreign point, if there is one: no stretch runs across the seam
    changes = np.flatnonzero(np.diff(np.concatenate([[0], turned.astype(int), [0]])))
    starts, stops = changes[::2], changes[1::2]
    longest = int(np.argmax(stops - starts))
    stretch = (np.arange(starts[longest], stops[longest]) + begin) % len(points)
    middle, margin = len(stretch) // 2, int(width_mm / 2 / SAMPLE_MM)
    is_inner = np.abs(np.arange(len(stretch)) - middle) <= middle - margin
    for good in (is_inner & is_free[stretch], is_free[stretch]):
        if good.any():
            return int(stretch[np.flatnonzero(good)[np.argmin(np.abs(np.flatnonzero(good) - middle))]])
    return int(stretch[middle])
