"""Terminals: the tab is there, its bolt hole has metal all round and meets neither a window nor a cell."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout_app.checks.findings import Finding, Severity, at, named
from layout_app.checks.shapes import SLACK_MM, to_edge_mm, wall
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.model.plates import Terminal
from layout_app.plates.outlines import FOOT_RADII
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

Hole = tuple[float, float, float]  # x, y, radius


def terminal_of(segment: Segment, layout: Layout) -> Terminal | None:
    """Return the terminal that belongs to a segment: those at the ends of the chain have one."""
    return {0: layout.terminals[0], layout.n_series: layout.terminals[1]}.get(segment.number)


def tab_strip(segment: Segment, layout: Layout) -> BaseGeometry:
    """Return the strips through which a segment may pass the wall: its tabs, wider by the arcs at their feet.

    A tab stands square on the wall, so the wall point nearest to its bolt hole is its foot. Empty without a tab
    that leads outside.
    """
    terminal = terminal_of(segment, layout)
    if terminal is None or terminal.place != "outside":
        return shapely.Polygon()
    return shapely.union_all([_strip_under(hole, terminal, segment, layout) for hole in segment.bolt_holes_mm])


def _strip_under(hole_mm: Hole, terminal: Terminal, segment: Segment, layout: Layout) -> Polygon:
    hole = np.array(hole_mm[:2])
    bridge = shapely.get_coordinates(shapely.shortest_line(wall(layout.housing), shapely.Point(hole)))
    foot, way = bridge[0], bridge[1] - bridge[0]
    out = way / max(float(np.hypot(*way)), 1e-9)
    plates = layout.plates_of(segment.number)
    arcs_mm = FOOT_RADII * plates.corner_radius_mm + SLACK_MM
    inward_mm = plates.setback_mm + arcs_mm
    line = shapely.LineString([foot - inward_mm * out, hole + terminal.length_mm * out])
    return line.buffer(terminal.width_mm / 2 + arcs_mm, cap_style="flat")


def terminal_missing(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """The first and the last segment must have a bolt hole."""
    if terminal_of(segment, layout) is None or not segment.pieces or segment.bolt_hole_mm is not None:
        return
    yield Finding(
        rule="terminal",
        severity="error",
        message=f"Segment {segment.number} has no tab to bolt a cable to. Choose another place for the terminal.",
        segments=(segment.number,),
    )


def bolt_margin(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A bolt hole needs metal all round to carry the joint's pressure."""
    if segment.pieces:
        for hole in segment.bolt_holes_mm:
            yield from _margin(hole, segment, layout)


def _margin(hole: Hole, segment: Segment, layout: Layout) -> Iterator[Finding]:
    x, y, radius_mm = hole
    limit_mm = layout.limits.bolt_margin_per_hole * 2 * radius_mm
    measured = float(to_edge_mm(segment, np.array([[x, y]]))[0]) - radius_mm
    if measured >= limit_mm - SLACK_MM:
        return
    left = f"only {measured:.2f} mm of metal is left beside" if measured > 0 else "the edge cuts"
    yield _hole_finding(
        hole,
        segment,
        "warning" if measured > 0 else "error",
        f"{left} the bolt hole at {at((x, y))}; {limit_mm:.2f} mm is wanted. Make the tab wider or the bolt smaller.",
        measured=measured,
        limit_mm=limit_mm,
        source=Limits.SOURCES["bolt_margin_per_hole"],
    )


def bolt_beside_window(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A bolt hole must keep a web to every window."""
    if len(segment.windows_mm):
        for hole in segment.bolt_holes_mm:
            yield from _beside_window(hole, segment, layout)


def _beside_window(hole: Hole, segment: Segment, layout: Layout) -> Iterator[Finding]:
    x, y, radius_mm = hole
    off_mm = np.hypot(*(segment.window_centres_mm - (x, y)).T) - segment.windows_mm[:, 2] - radius_mm
    worst, limit_mm = int(off_mm.argmin()), layout.plates.min_web_mm
    if off_mm[worst] >= limit_mm - SLACK_MM:
        return
    cell = int(segment.window_cells[worst])
    how = f"leaves {off_mm[worst]:.2f} mm of metal to" if off_mm[worst] > 0 else "runs into"
    yield _hole_finding(
        hole,
        segment,
        "warning" if off_mm[worst] > 0 else "error",
        f"the bolt hole {how} the window of {named([cell])}; {limit_mm:.2f} mm is wanted. Move the terminal or put its "
        "tab outside.",
        measured=float(off_mm[worst]),
        limit_mm=limit_mm,
        source="least web chosen in this layout's plate settings",
        cells=(cell,),
    )


def bolt_over_cell(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A bolt through a hole that lies over a cell would stand on its end, which may be at another potential."""
    if len(layout.cells):
        for hole in segment.bolt_holes_mm:
            yield from _over_cell(hole, segment, layout)


def tabs_overlap(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """Two tabs of a terminal must stand beside one another."""
    terminal, holes = terminal_of(segment, layout), segment.bolt_holes_mm
    if terminal is None:
        return
    for one, other in combinations(holes, 2):
        apart_mm = float(np.hypot(one[0] - other[0], one[1] - other[1]))
        if apart_mm < terminal.width_mm - SLACK_MM:
            yield _hole_finding(
                other,
                segment,
                "error",
                f"the tabs with the bolt holes at {at(one[:2])} and {at(other[:2])} overlap: {apart_mm:.2f} mm from "
                f"hole to hole, {terminal.width_mm:g} mm wide. Move one, take it away, or make them narrower.",
                measured=apart_mm,
                limit_mm=terminal.width_mm,
                source="derived: tabs side by side are a tab's width apart, centre to centre",
            )


def _over_cell(hole: Hole, segment: Segment, layout: Layout) -> Iterator[Finding]:
    x, y, radius_mm = hole
    off_mm = np.hypot(*(layout.cells.centres_mm - (x, y)).T) - layout.cell_type.diameter_mm / 2 - radius_mm
    over = np.flatnonzero(off_mm < -SLACK_MM)
    if not len(over):
        return
    yield _hole_finding(
        hole,
        segment,
        "warning",
        f"the bolt hole lies over {named(over.tolist())}: a bolt through it meets the cell's end. Move the terminal, "
        "put its tab outside, or fasten there without a bolt.",
        measured=float(off_mm.min()),
        limit_mm=0.0,
        source="derived: plan distance from the hole's edge to the can",
        cells=tuple(over.tolist()),
    )


def _hole_finding(
    hole: Hole,
    segment: Segment,
    severity: Severity,
    message: str,
    *,
    measured: float,
    limit_mm: float,
    source: str,
    cells: tuple[int, ...] = (),
) -> Finding:
    x, y, _ = hole
    return Finding(
        rule="terminal",
        severity=severity,
        message=f"Segment {segment.number}: {message}",
        measured=measured,
        limit=limit_mm,
        unit="mm",
        places_mm=((x, y),),
        cells=cells,
        segments=(segment.number,),
        source=source,
    )
