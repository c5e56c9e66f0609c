"""Tables: cells, joints, segments and steps as CSV that a spreadsheet or a bonding machine reads.

UTF-8, commas, one header row with the unit in each name. Coordinates are those of the housing drawing, seen from
above; the table of joints seen from below is mirrored and named so.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from layout_app.exchange.face_views import mirror_line_mm
from layout_app.exchange.hole_table import HoleTable
from layout_app.exchange.wording import one_line
from layout_app.geometry.neighbours import neighbours
from layout_app.model.layouts import Layout
from layout_app.physics.min_cuts import Cut
from layout_app.planning.steps import steps
from layout_app.plates.segments import Segment

Value = str | int | float
Row = Sequence[Value]

CELL_HEADER = ("cell", "x_mm", "y_mm", "group", "positive_end", "top_segment", "bottom_segment")
JOINT_HEADER = ("face", "segment", "hole", "cell", "end", "x_mm", "y_mm", "window_diameter_mm")
SEGMENT_HEADER = (
    "segment", "face", "joins", "positive_ends", "negative_ends", "pieces", "area_mm2", "mass_g", "perimeter_mm",
    "cut_length_mm", "thickness_mm", "material", "neck_mm", "neck_current_a", "neck_density_a_mm2",
)  # fmt: skip
STEP_HEADER = (
    "group", "cells", "positive_end", "negative_segment", "positive_segment", "nominal_v", "full_v",
    "pairs_to_next_group", "border_to_next_group_mm",
)  # fmt: skip
# A spreadsheet takes a cell that starts so for a formula (OWASP, "CSV Injection"; from memory)
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
REACH_PITCHES = 1.5  # how far neighbours may stand apart: as geometry.neighbours advises


def tables(
    layout: Layout, segments: Sequence[Segment], necks: Sequence[Cut | None] = ()
) -> Iterator[tuple[str, bytes]]:
    """Yield (path, content) of every table; `necks` holds the narrowest section of each segment, where known."""
    yield "cells.csv", csv_bytes(CELL_HEADER, cell_rows(layout, segments))
    yield "joints.csv", csv_bytes(JOINT_HEADER, joint_rows(layout, segments))
    mirror_x_mm = length(mirror_line_mm(layout))
    below = ["x_from_below_mm" if name == "x_mm" else name for name in JOINT_HEADER]
    rows = ((*row, mirror_x_mm) for row in joint_rows(layout, segments, from_below=True))
    yield "joints_bottom_seen_from_below.csv", csv_bytes((*below, "mirrored_about_x_mm"), rows)
    yield "segments.csv", csv_bytes(SEGMENT_HEADER, segment_rows(layout, segments, necks))
    yield "steps.csv", csv_bytes(STEP_HEADER, step_rows(layout))


def csv_bytes(header: Sequence[str], rows: Iterable[Row]) -> bytes:
    """Return a table as UTF-8; text that a spreadsheet would run as a formula is defused."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    writer.writerow(header)
    writer.writerows([plain(value) for value in row] for row in rows)
    return stream.getvalue().encode()


def plain(value: Value) -> str:
    """Return a value as written in a table: numbers as they are, text on one line and never a formula.

    >>> plain(-1.5), plain("=1+1"), plain("copper")
    ('-1.5', "'=1+1", 'copper')
    """
    if not isinstance(value, str):
        return str(value)
    text = one_line(value)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def cell_rows(layout: Layout, segments: Sequence[Segment]) -> Iterator[Row]:
    """Yield a row per cell; a segment column is empty where no segment of that face is joined to the cell.

    A cell with both contacts at one end has both its segments in the column of that face, negative first.
    """
    n_cells = len(layout.cells)
    faces: dict[str, list[list[str]]] = {face: [[] for _ in range(n_cells)] for face in ("top", "bottom")}
    for segment in sorted(segments, key=lambda segment: segment.number):
        for cell in segment.window_cells.tolist():
            faces[segment.face][cell].append(str(segment.number))
    centres, groups, up = layout.cells.centres_mm.tolist(), layout.cells.groups.tolist(), layout.positive_up.tolist()
    for k, ((x_mm, y_mm), group) in enumerate(zip(centres, groups, strict=True)):
        joined = [" ".join(faces[face][k]) for face in ("top", "bottom")]
        yield k + 1, length(x_mm), length(y_mm), group, "up" if up[k] else "down", *joined


def joint_rows(layout: Layout, segments: Sequence[Segment], *, from_below: bool = False) -> Iterator[Row]:
    """Yield a row per joint, in the order of the hole numbers of each face; from below: the bottom face only."""
    for face in ("bottom",) if from_below else ("top", "bottom"):
        holes = HoleTable.of([segment for segment in segments if segment.face == face and segment.pieces])
        circles = np.array(holes.circles_mm)
        if from_below:
            circles[:, 0] = 2 * mirror_line_mm(layout) - circles[:, 0]
        columns = (holes.numbers, holes.segments, holes.cells, holes.is_positive, circles)
        for number, segment, cell, positive, (x, y, radius) in zip(*(c.tolist() for c in columns), strict=True):
            if cell >= 0:  # a bolt hole is no joint to a cell
                end = "positive" if positive else "negative"
                yield face, segment, number, cell + 1, end, length(x), length(y), length(2 * radius)


def segment_rows(layout: Layout, segments: Sequence[Segment], necks: Sequence[Cut | None] = ()) -> Iterator[Row]:
    """Yield a row per segment; current densities are those at the design current."""
    by_number = {neck.segment: neck for neck in necks if neck is not None}
    for segment in segments:
        n_positive = int(segment.is_positive_end.sum())
        yield (
            segment.number, segment.face, joins(segment, len(segments) - 1), n_positive,
            len(segment.window_cells) - n_positive, len(segment.pieces), round(segment.area_mm2, 2),
            round(segment.mass_g, 3), round(segment.perimeter_mm, 2), round(segment.cut_length_mm, 2),
            segment.thickness_mm, segment.material.name, *neck_values(layout, segment, by_number.get(segment.number)),
        )  # fmt: skip


def neck_values(layout: Layout, segment: Segment, neck: Cut | None) -> tuple[Value, Value, Value]:
    """Return width, mm, current across, A, and density, A/mm², at the design current; empty where not known."""
    if neck is None:
        return "", "", ""
    is_known = layout.design_current_a > 0 and math.isfinite(neck.density_a_mm2)
    if not is_known:
        return length(neck.width_mm), "", ""
    return length(neck.width_mm), round(abs(neck.current_a), 2), round(neck.density_a_mm2, 2)


def joins(segment: Segment, n_series: int) -> str:
    """Return in words what a segment joins, e.g. "group 2 positive to group 3 negative"."""
    if segment.number == 0:
        return "negative terminal to group 1 negative"
    if segment.number == n_series:
        return f"group {n_series} positive to positive terminal"
    return f"group {segment.number} positive to group {segment.number + 1} negative"


def step_rows(layout: Layout) -> Iterator[Row]:
    """Yield a row per group: its place in the series order, the voltage it ends at, its border to the next group."""
    cell, groups = layout.cell_type, layout.cells.groups
    borders = [*_borders(layout), ("", "")]  # the last group has no next
    up = layout.positive_up
    for group, (n_pairs, border_mm) in zip(range(1, layout.n_series + 1), borders, strict=True):
        mine = layout.cells.of_group(group)
        end = "" if not len(mine) else "up" if up[mine[0]] else "down"
        volts = (round(group * cell.voltage_nominal_v, 3), round(group * cell.voltage_max_v, 3))
        yield group, len(mine), end, group - 1, group, *volts, n_pairs, border_mm
    if (groups == 0).any():
        yield "unassigned", int((groups == 0).sum()), "", "", "", "", "", "", ""


def _borders(layout: Layout) -> list[tuple[Value, Value]]:
    """Return, for each of the S - 1 steps, the pairs of cells facing each other and the length of their border."""
    centres = layout.cells.centres_mm
    found = neighbours(centres, REACH_PITCHES * layout.lattice.pitch_mm)
    chain = steps(centres, layout.cells.groups, found.pairs, layout.n_series, found.borders_mm)
    return [(step.n_pairs, length(step.border_mm)) for step in chain]


def length(value_mm: float) -> float:
    """Return a length to a thousandth of a millimetre, without a negative zero."""
    return round(value_mm, 3) + 0.0
