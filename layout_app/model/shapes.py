"""Housing outlines by numbers: rectangle, circle, regular polygon, free polygon, each checked at the door."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from layout_app.model.validation import MAX_LENGTH_MM, require_count, require_number

MAX_SIDES = 1000
MAX_CORNERS = 10_000
FARTHEST_MM = 1e3 * MAX_LENGTH_MM  # what positions in a layout may be
MAX_BULGE = 1000.0  # an arc that is open by less than a quarter of a degree; a slip, where a circle was meant


class OutlineShapeError(LayoutError):
    """The numbers give no closed outline. `place_mm` says where, if anywhere."""

    def __init__(self, message: str, place_mm: tuple[float, float] | None = None) -> None:
        super().__init__(message)
        self.place_mm = place_mm


def rectangle(width_mm: float, height_mm: float, corner_mm: float = 0.0) -> Contour:
    """Return a rectangle with its lower left corner at the origin and its corners rounded.

    >>> rectangle(4.0, 3.0).area_mm2
    12.0
    """
    require_number("width", width_mm, above=0, most=MAX_LENGTH_MM, unit="mm")
    require_number("height", height_mm, above=0, most=MAX_LENGTH_MM, unit="mm")
    require_number("corner radius", corner_mm, least=0, most=min(width_mm, height_mm) / 2, unit="mm")
    if corner_mm > 0 and width_mm == height_mm == 2 * corner_mm:
        return Contour.circle(corner_mm, corner_mm, corner_mm)
    return Contour.rectangle(width_mm, height_mm, corner_mm)


def rectangle_from_text(text: str) -> Contour:
    """Return the rectangle written as WxH or WxHxR (R the corner radius), mm.

    >>> rectangle_from_text("420x236x14").bounds_mm
    (0.0, 0.0, 420.0, 236.0)
    """
    parts = re.split(r"\s*[xX×*]\s*", text.strip())
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 3):
        raise ValueOutOfRangeError("rectangle", text, "WxH or WxHxR in mm, e.g. 420x236x14")
    return rectangle(*numbers)


def circle(diameter_mm: float) -> Contour:
    """Return a circle about the origin."""
    require_number("diameter", diameter_mm, above=0, most=MAX_LENGTH_MM, unit="mm")
    return Contour.circle(0.0, 0.0, diameter_mm / 2)


def regular_polygon(
    n_sides: int, *, across_flats_mm: float | None = None, circumradius_mm: float | None = None, angle_rad: float = 0.0
) -> Contour:
    """Return a regular polygon about the origin, given by one of two sizes.

    `across_flats_mm` is twice the distance from centre to side: with an even number of sides, what a caliper reads.
    At `angle_rad` 0 the lowest side is horizontal.
    """
    require_count("number of sides", n_sides, least=3, most=MAX_SIDES)
    require_number("angle", angle_rad, least=-2 * math.pi, most=2 * math.pi)
    if (across_flats_mm is None) == (circumradius_mm is None):
        raise OutlineShapeError("A regular polygon takes one size: across flats, or the radius to its corners.")
    if across_flats_mm is not None:
        require_number("size across flats", across_flats_mm, above=0, most=MAX_LENGTH_MM, unit="mm")
        radius_mm = across_flats_mm / 2 / math.cos(math.pi / n_sides)
    else:
        assert circumradius_mm is not None
        require_number("radius to the corners", circumradius_mm, above=0, most=MAX_LENGTH_MM / 2, unit="mm")
        radius_mm = circumradius_mm
    turns = angle_rad - math.pi / 2 + math.pi * (2 * np.arange(n_sides) + 1) / n_sides
    return Contour(radius_mm * np.column_stack([np.cos(turns), np.sin(turns)]))


def free_polygon(corners: Sequence[Sequence[float]]) -> Contour:
    """Return the closed outline through corners (x, y) or (x, y, bulge), in mm, counter-clockwise.

    The bulge belongs to the edge that leaves the corner: tan(included angle / 4), positive to bulge out of a
    counter-clockwise outline. A last corner equal to the first is dropped.
    """
    if not 2 <= len(corners) <= MAX_CORNERS:
        raise ValueOutOfRangeError(
            "number of corners", len(corners), f"from 3 to {MAX_CORNERS}; 2 if an edge is an arc"
        )
    rows = [_corner(number, corner) for number, corner in enumerate(corners, start=1)]
    if rows[0][:2] == rows[-1][:2]:
        rows.pop()
    for number, (one, other) in enumerate(pairwise(rows), start=1):
        if one[:2] == other[:2]:
            raise OutlineShapeError(f"Corners {number} and {number + 1} are the same point. Drop one.", one[:2])
    table = np.array(rows)
    if len(rows) < 2 or (len(rows) == 2 and not table[:, 2].any()):
        raise OutlineShapeError("The corners enclose no area. Give at least three, or two and a bulge.")
    contour = Contour(table[:, :2], table[:, 2]).counter_clockwise()
    _require_simple(contour)
    return contour


def _corner(number: int, corner: Sequence[float]) -> tuple[float, float, float]:
    """Return corner `number` as x, y, bulge."""
    if len(corner) not in (2, 3):
        raise ValueOutOfRangeError(f"corner {number}", corner, "x, y or x, y, bulge")
    x, y, bulge = (*corner, 0.0)[:3]
    require_number(f"x of corner {number}", x, least=-FARTHEST_MM, most=FARTHEST_MM, unit="mm")
    require_number(f"y of corner {number}", y, least=-FARTHEST_MM, most=FARTHEST_MM, unit="mm")
    require_number(f"bulge of corner {number}", bulge, least=-MAX_BULGE, most=MAX_BULGE)
    return float(x), float(y), float(bulge)


def _require_simple(contour: Contour) -> None:
    """Raise if the outline is too large, crosses or touches itself, or encloses nothing."""
    x_min, y_min, x_max, y_max = contour.bounds_mm
    if max(x_max - x_min, y_max - y_min) > MAX_LENGTH_MM:
        raise OutlineShapeError(
            f"The outline is {x_max - x_min:.6g} × {y_max - y_min:.6g} mm; at most {MAX_LENGTH_MM:.0f} mm is possible."
        )
    from shapely import is_valid_reason

    reason = is_valid_reason(contour.polygon())
    if reason != "Valid Geometry":
        place = re.search(r"\[(\S+) (\S+)\]", reason)
        x, y = (float(place[1]), float(place[2])) if place else contour.vertices_mm[0].tolist()
        raise OutlineShapeError(
            f"The outline crosses or touches itself at ({x:.6g}, {y:.6g}) mm. Put the corners in order.", (x, y)
        )
    if not contour.area_mm2 > 0:
        raise OutlineShapeError("The corners enclose no area. Put them apart.")
