"""One segment: is it there, in one piece, with enough metal between its openings, clear of the housing?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout_app.checks.findings import Finding, at, named, places
from layout_app.checks.nearby import close_pairs
from layout_app.checks.shapes import (
    SLACK_MM,
    edge,
    holds,
    interior,
    nearest_places,
    obstacles,
    own_obstacles,
    solid,
    to_edge_mm,
    wall,
)
from layout_app.checks.terminals import tab_strip
from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

CHOSEN = "chosen in this layout's plate settings"


def missing(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A segment may have no metal at all."""
    if segment.pieces or not layout.cell_type.has_opposite_contacts:
        return
    groups = [k for k in (segment.number, segment.number + 1) if 1 <= k <= layout.n_series]
    has_cells = len(segment.window_cells) > 0
    why = (
        "the setback, gap and corner radius leave no metal over its cells. Make them smaller"
        if has_cells
        else f"no cell is in group {' or '.join(map(str, groups))}. Put cells there"
    )
    yield Finding(
        rule="segment missing",
        severity="error",
        message=f"Segment {segment.number} does not exist: {why}.",
        cells=_numbers(segment.window_cells),
        places_mm=places(segment.window_centres_mm[:1]),
        segments=(segment.number,),
    )


def in_pieces(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A segment must be one piece of metal."""
    if len(segment.pieces) < 2:
        return
    parts = sorted(shapely.get_parts(solid(segment)), key=lambda part: -part.area)
    small = shapely.multipolygons(parts[1:])
    cut_off = segment.window_cells[shapely.contains_xy(small, segment.window_centres_mm)]
    whom = f", which leaves {named(cut_off.tolist())} on the smaller ones" if len(cut_off) else ""
    yield Finding(
        rule="segment in pieces",
        severity="error",
        message=f"Segment {segment.number} falls into {len(parts)} pieces{whom}. Repaint cells so that its groups "
        "touch, or make gap, setback and corner radius smaller.",
        measured=len(parts),
        limit=1,
        places_mm=places(shapely.get_coordinates(shapely.point_on_surface(parts[1:]))),
        cells=_numbers(cut_off),
        segments=(segment.number,),
    )


def least_web_mm(segment: Segment, layout: Layout) -> tuple[float, str]:
    """Return the least web a segment may have, mm, and where that limit comes from."""
    by_thickness = layout.limits.web_per_thickness * segment.thickness_mm
    if by_thickness > layout.plates.min_web_mm:
        return by_thickness, Limits.SOURCES["web_per_thickness"]
    return layout.plates.min_web_mm, CHOSEN


def web_between_windows(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """Metal between two windows must not be thinner than the least web."""
    if not segment.pieces or len(segment.windows_mm) < 2:
        return
    limit_mm, source = least_web_mm(segment, layout)
    centres, radii = segment.window_centres_mm, segment.windows_mm[:, 2]
    pairs, apart_mm = close_pairs(centres, 2 * float(radii.max()) + limit_mm)
    web_mm = apart_mm - radii[pairs].sum(axis=1)
    thin = np.flatnonzero(web_mm < limit_mm - SLACK_MM)
    if not len(thin):
        return
    thin = thin[np.argsort(web_mm[thin], kind="stable")]
    yield _web_finding(
        segment,
        f"between the windows of {named(segment.window_cells[pairs[thin[0]]].tolist())}",
        "Make the windows smaller or the gap between cells larger",
        measured=float(web_mm[thin[0]]),
        limit_mm=limit_mm,
        source=source,
        n_places=len(thin),
        places_mm=places(centres[pairs[thin]].mean(axis=1)),
        cells=_numbers(np.unique(segment.window_cells[pairs[thin]])),
    )


def web_to_edge(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """Metal between a window and the segment's edge must not be thinner than the least web."""
    if not segment.pieces or not len(segment.windows_mm):
        return
    limit_mm, source = least_web_mm(segment, layout)
    centres, radii = segment.window_centres_mm, segment.windows_mm[:, 2]
    thin = np.flatnonzero(_is_near_edge(segment, radii + limit_mm - SLACK_MM) | ~holds(segment, centres))
    if not len(thin):
        return
    web_mm = to_edge_mm(segment, centres[thin]) - radii[thin]
    order = np.argsort(web_mm, kind="stable")
    thin, web_mm = thin[order], web_mm[order]
    yield _web_finding(
        segment,
        f"from the window of {named(segment.window_cells[thin[:1]].tolist())} to the edge",
        "Make the windows, the setback or the insulation gap smaller",
        measured=float(web_mm[0]),
        limit_mm=limit_mm,
        source=source,
        n_places=len(thin),
        places_mm=places(centres[thin]),
        cells=_numbers(segment.window_cells[thin]),
    )


def _is_near_edge(segment: Segment, within_mm: FloatArray) -> BoolArray:
    points = shapely.points(segment.window_centres_mm)
    return np.asarray(shapely.dwithin(edge(segment), points, within_mm), dtype=np.bool_)


def _web_finding(
    segment: Segment,
    where: str,
    remedy: str,
    *,
    measured: float,
    limit_mm: float,
    source: str,
    n_places: int,
    places_mm: tuple[tuple[float, float], ...],
    cells: tuple[int, ...],
) -> Finding:
    left = f"only {measured:.2f} mm of metal is left" if measured > 0 else "no metal is left"
    more = f", and at {n_places - 1} other place{'s' if n_places > 2 else ''}" if n_places > 1 else ""
    return Finding(
        rule="web",
        severity="warning" if measured > 0 else "error",
        message=f"Segment {segment.number}: {left} {where}{more}; at least {limit_mm:.2f} mm is wanted. {remedy}.",
        measured=measured,
        limit=limit_mm,
        unit="mm",
        places_mm=places_mm,
        cells=cells,
        segments=(segment.number,),
        source=source,
    )


def setback(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """Metal must keep its distance from the housing's wall and keep-outs, and from those its segment has of its own;
    only a terminal's tab may pass the wall."""
    if not segment.pieces:
        return
    limit_mm, override = layout.plates_of(segment.number).setback_mm, layout.override_of(segment.number)
    strip = tab_strip(segment, layout)
    metal = solid(segment) if strip.is_empty else shapely.difference(solid(segment), strip)
    shapely.prepare(metal)
    kept_off = [(metal, wall(layout.housing), "the wall"), (solid(segment), obstacles(layout.housing), "a keep-out")]
    if override is not None:
        kept_off.append((solid(segment), own_obstacles(override), "a keep-out of its own"))
    for part, shape, what in kept_off:
        if not shape.is_empty and shapely.dwithin(part, shape, limit_mm - SLACK_MM):
            yield _setback_finding(segment, what, part, shape, limit_mm)
    if not shapely.intersects(metal, interior(layout.housing)):
        yield _setback_finding(segment, "the wall, outside,", metal, interior(layout.housing), limit_mm)


def _setback_finding(segment: Segment, what: str, metal: BaseGeometry, shape: BaseGeometry, limit_mm: float) -> Finding:
    where = nearest_places(metal, shape, limit_mm - SLACK_MM)
    measured = float(shapely.distance(metal, shape))
    how = f"comes within {measured:.2f} mm of" if measured > 0 else "touches"
    return Finding(
        rule="setback",
        severity="error",
        message=f"Segment {segment.number} {how} {what} at {at(where[0])}; the setback is {limit_mm:.2f} mm. "
        "Move the terminal or the cells there, or make the setback smaller.",
        measured=measured,
        limit=limit_mm,
        unit="mm",
        places_mm=places(where),
        segments=(segment.number,),
        source=CHOSEN,
    )


def _numbers(cells: IntArray) -> tuple[int, ...]:
    return tuple(cells.tolist())
