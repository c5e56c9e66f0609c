"""Tabs: where a terminal leaves its segment, and the strip of metal that does it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import IntArray
from layout_app.model.housings import Housing
from layout_app.model.plates import BOLT_HOLE_MM, Terminal
from layout_app.plates.walls import Wall, longest_stretch

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


def place_tabs(terminal: Terminal, wall: Wall, housing: Housing, setback_mm: float, cells: IntArray) -> tuple[Tab, ...]:
    """Return all tabs of a terminal, each placed as `place_tab` does."""
    single = [replace(terminal, near_mm=near_mm, more_near_mm=()) for near_mm in terminal.places_mm]
    return tuple(place_tab(each, wall, housing, setback_mm, cells) for each in single)


def place_tab(terminal: Terminal, wall: Wall, housing: Housing, setback_mm: float, cells: IntArray) -> Tab:
    """Return a terminal's first tab, its segment lying over the given cells (indices): at a place on their own wall.

    That is where a cell of theirs is the nearest one, over the tab's whole width, and the wall straight or gently
    curved; where there is no such place, the best there is. A terminal with a place of its own goes to the nearest such
    point; otherwise the middle of the longest stretch is taken, or a place beside it that spares the tab a keep-out.
    """
    is_ours = np.isin(wall.beside, cells)
    if not is_ours.any():  # a segment at no wall
        is_ours = ~is_ours
    is_whole = wall.whole_width(is_ours, terminal.width_mm)
    has_room = (wall.to_end_mm >= terminal.width_mm / 2) & (wall.radius_mm >= GENTLE_WIDTHS * terminal.width_mm)
    choices = [is_ours & is_whole & has_room, is_ours & is_whole, is_ours]
    if terminal.near_mm is not None:
        away = ((wall.points_mm - np.array(terminal.near_mm)) ** 2).sum(axis=1)
    else:
        stretch = longest_stretch(is_ours)
        away = np.full(len(is_ours), np.inf)
        away[stretch] = np.abs(np.arange(len(stretch)) - len(stretch) // 2)
        is_clear = wall.clear_of_keep_outs(housing, terminal.width_mm, setback_mm + ROOTED_MM, setback_mm)
        choices = [choice & np.isfinite(away) for choice in (choices[0] & is_clear, *choices)]
    places = next(choice for choice in choices if choice.any())
    k = int(np.argmin(np.where(places, away, np.inf)))
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
