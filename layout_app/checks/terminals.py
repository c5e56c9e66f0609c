"""Terminals: the tab is there, its bolt hole has metal all round and meets neither a window nor a cell."""

from __future__ import annotations

from collections.abc import Iterator
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


def terminal_of(segment: Segment, layout: Layout) -> Terminal | None:
    """Return the terminal that belongs to a segment: those at the ends of the chain have one."""
    return {0: layout.terminals[0], layout.n_series: layout.terminals[1]}.get(segment.number)


def tab_strip(segment: Segment, layout: Layout) -> Polygon:
    """Return the strip through which a segment may pass the wall: its tab, wider by the arcs at its foot.

    The tab stands square on the wall, so the wall point nearest to its bolt hole is its foot. Empty without a tab
    that leads outside.
    """
    terminal = terminal_of(segment, layout)
    if terminal is None or terminal.place != "outside" or segment.bolt_hole_mm is None:
        return shapely.Polygon()
    hole = np.array(segment.bolt_hole_mm[:2])
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
    if segment.bolt_hole_mm is None or not segment.pieces:
        return
    x, y, radius_mm = segment.bolt_hole_mm
    limit_mm = layout.limits.bolt_margin_per_hole * 2 * radius_mm
    measured = float(to_edge_mm(segment, np.array([[x, y]]))[0]) - radius_mm
    if measured >= limit_mm - SLACK_MM:
        return
    left = f"only {measured:.2f} mm of metal is left beside" if measured > 0 else "the edge cuts"
    yield _hole_finding(
        segment,
        "warning" if measured > 0 else "error",
        f"{left} the bolt hole at {at((x, y))}; {limit_mm:.2f} mm is wanted. Make the tab wider or the bolt smaller.",
        measured=measured,
        limit_mm=limit_mm,
        source=Limits.SOURCES["bolt_margin_per_hole"],
    )


def bolt_beside_window(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A bolt hole must keep a web to every window."""
    if segment.bolt_hole_mm is None or not len(segment.windows_mm):
        return
    x, y, radius_mm = segment.bolt_hole_mm
    off_mm = np.hypot(*(segment.window_centres_mm - (x, y)).T) - segment.windows_mm[:, 2] - radius_mm
    worst, limit_mm = int(off_mm.argmin()), layout.plates.min_web_mm
    if off_mm[worst] >= limit_mm - SLACK_MM:
        return
    cell = int(segment.window_cells[worst])
    how = f"leaves {off_mm[worst]:.2f} mm of metal to" if off_mm[worst] > 0 else "runs into"
    yield _hole_finding(
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
    if segment.bolt_hole_mm is None or not len(layout.cells):
        return
    x, y, radius_mm = segment.bolt_hole_mm
    off_mm = np.hypot(*(layout.cells.centres_mm - (x, y)).T) - layout.cell_type.diameter_mm / 2 - radius_mm
    over = np.flatnonzero(off_mm < -SLACK_MM)
    if not len(over):
        return
    yield _hole_finding(
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
    segment: Segment,
    severity: Severity,
    message: str,
    *,
    measured: float,
    limit_mm: float,
    source: str,
    cells: tuple[int, ...] = (),
) -> Finding:
    assert segment.bolt_hole_mm is not None
    x, y, _ = segment.bolt_hole_mm
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
