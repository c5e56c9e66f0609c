"""Tabs: where a terminal leaves its segment, and the strip of metal that does it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.model.housings import Housing
from layout_app.model.plates import BOLT_HOLE_MM, Terminal
from layout_app.plates.walls import SAMPLE_MM, Wall, longest_stretch

if TYPE_CHECKING:
    from shapely import Polygon

ROOTED_MM = 1.0  # how far a strip reaches into the metal it grows from
GENTLE_WIDTHS = 2.0  # a wall of this radius, in tab widths, rises a sixteenth of a width under the tab


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


def place_tab(terminal: Terminal, wall: Wall, housing: Housing, setback_mm: float, cells: IntArray) -> Tab:
    """Return the tab of a terminal whose segment lies over the given cells (indices): at a place on their own wall.

    That is where a cell of theirs is the nearest one. A terminal with a place of its own goes to the nearest such
    point; otherwise the middle of the longest stretch is taken, or a place beside it that spares the tab a corner, a
    keep-out or the end of the stretch. A segment that lies at no wall gets its tab as near to it as can be.
    """
    is_ours = np.isin(wall.beside, cells)
    if terminal.near_mm is not None:
        own = np.flatnonzero(is_ours) if is_ours.any() else np.arange(len(is_ours))
        k = int(own[np.argmin(((wall.points_mm[own] - np.array(terminal.near_mm)) ** 2).sum(axis=1))])
    else:
        k = _chosen_place(terminal.width_mm, wall, housing, setback_mm, is_ours)
    foot, out = wall.points_mm[k], wall.outward[k]
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


def _chosen_place(width_mm: float, wall: Wall, housing: Housing, setback_mm: float, is_ours: BoolArray) -> int:
    """Return the wall point (index) for a tab nobody has placed."""
    stretch = longest_stretch(is_ours) if is_ours.any() else np.arange(len(is_ours))
    has_room = (wall.to_end_mm >= width_mm / 2) & (wall.radius_mm >= GENTLE_WIDTHS * width_mm)
    is_free = (has_room & wall.clear_of_keep_outs(housing, width_mm, setback_mm + ROOTED_MM, setback_mm))[stretch]
    from_middle = np.abs(np.arange(len(stretch)) - len(stretch) // 2)
    is_inner = from_middle <= (len(stretch) - width_mm / SAMPLE_MM) / 2
    good = next((choice for choice in (is_inner & is_free, is_free) if choice.any()), np.ones(len(stretch), dtype=bool))
    return int(stretch[np.argmin(np.where(good, from_middle, len(stretch)))])
