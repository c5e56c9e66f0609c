"""Current paths: the stream lines of a module's segments, and the ways of the worst-placed cells.

The lines of a segment are traced from its joints: from those of the cells' positive ends to where the current leaves,
and in the first segment, which has none, from those of the negative ends back to the terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.model.layouts import Layout
from layout_app.physics.currents import Currents
from layout_app.physics.min_cuts import joint_currents_a
from layout_app.physics.segment_fields import SegmentField
from layout_app.physics.sheet import Sheet
from layout_app.physics.side_by_side import Step, side_by_side
from layout_app.physics.stream_lines import StreamLines, stream_lines
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely import MultiPolygon

PER_JOINT = 4.0  # lines from a joint that carries the mean of its segment's
CHORDS_MM = 0.002  # sagitta of the chords of the metal lines are kept inside
QUARTER_CHORDS = 48  # in a quarter of a window: as flat at a radius of 15 mm
LEAST_A = 1e-6  # less is rounding: of a module at rest there is nothing to draw
REST_SHARE = 1e-6  # of the cells' largest current: a cell that carries less is open, or at rest
ONE_LINE_A = 1e9

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """The middle line between one cell's joint and where its current comes from or goes to in one segment.

    Attributes
    ----------
    segment : number
    points_mm : (n, 2) float array, in the direction of the current
    potential_v : (n,) float array, at each point
    drop_v : float, lost from end to end
    resistance_ohm : float, the drop over the cell's current
    far_cell : the cell (index) at whose joint the line's other end is; None for the terminal
    """

    segment: int
    points_mm: PointArray
    potential_v: FloatArray
    drop_v: float
    resistance_ohm: float
    far_cell: int | None


@dataclass(frozen=True, slots=True, eq=False)
class CellPath:
    """The way of the current to a cell, through it and away from it.

    Attributes
    ----------
    cell : index
    group : from 1
    current_a : discharging positive
    share : of the mean of its group
    before, after : its ways in the segments at its negative and its positive end; None where none could be traced
    """

    cell: int
    group: int
    current_a: float
    share: float
    before: Way | None
    after: Way | None

    @property
    def ways(self) -> tuple[Way, ...]:
        """The ways there are."""
        return tuple(way for way in (self.before, self.after) if way is not None)

    @property
    def drop_v(self) -> float:
        """What both ways lose in the metal."""
        return sum(way.drop_v for way in self.ways)


@dataclass(frozen=True, slots=True)
class GroupPaths:
    """The ways of the worst-placed cells of one group: that of the lowest current, and that of the highest."""

    group: int
    lowest: CellPath
    highest: CellPath


def segment_lines(
    segment: Segment, field: SegmentField, found: Currents, *, per_joint: float = PER_JOINT
) -> StreamLines:
    """Return the stream lines of one segment; its contacts are its windows' joints, in order, and after them terminals.

    Parameters
    ----------
    field : of the segment, at the currents found
    per_joint : lines from a joint that carries the mean current of those traced from; every line of the segment stands
        for nearly the same current, and says for which

    Raises
    ------
    LayoutError : so many lines that nobody could tell them apart
    """
    joint_a = joint_currents_a(segment, found)
    traced = segment.is_positive_end if segment.is_positive_end.any() else ~segment.is_positive_end
    total = float(joint_a[traced].sum())
    if abs(total) > REST_SHARE * float(np.abs(joint_a).sum()):
        traced = traced & (joint_a * np.sign(total) > 0)
    mean_a = float(np.abs(joint_a[traced]).mean()) if traced.any() else 0.0
    return _lines(segment, field, found, np.flatnonzero(traced), mean_a / per_joint)


def module_lines(
    segments: Sequence[Segment],
    fields: Sequence[SegmentField],
    found: Currents,
    *,
    per_joint: float = PER_JOINT,
    progress: Progress | None = None,
) -> tuple[StreamLines, ...]:
    """Return the stream lines of all segments, in order; as `segment_lines`.

    `progress` is called in the caller's thread with the share done; what it raises ends the work and comes through.
    """

    def work(pair: tuple[Segment, SegmentField], step: Step) -> StreamLines:
        lines = segment_lines(*pair, found, per_joint=per_joint)
        step(1.0)
        return lines

    pairs = list(zip(segments, fields, strict=True))
    return tuple(side_by_side(work, pairs, [len(s.window_cells) for s in segments], progress))


def worst_paths(
    layout: Layout, segments: Sequence[Segment], fields: Sequence[SegmentField], found: Currents
) -> tuple[GroupPaths, ...]:
    """Return the ways of the cells of lowest and of highest current of every group that carries any.

    Cells that are open, or carry next to nothing, are passed over: no current finds a way to them.
    """
    flow, groups = found.solved.cell_current_a, layout.cells.groups
    least_a = max(LEAST_A, REST_SHARE * float(np.abs(flow).max(initial=0.0)))
    ranked = []
    for group in range(1, layout.n_series + 1):
        cells = np.flatnonzero((groups == group) & (np.abs(flow) > least_a))
        if len(cells):
            ranked.append((group, int(cells[flow[cells].argmin()]), int(cells[flow[cells].argmax()])))
    ways = _ways(segments, fields, found, [cell for _, *both in ranked for cell in both])

    def path(group: int, cell: int) -> CellPath:
        mean_a = found.solved.current_a / int((groups == group).sum())
        share = float(flow[cell]) / mean_a if mean_a else 1.0
        before, after = ways.get((group - 1, cell)), ways.get((group, cell))
        return CellPath(cell, group, float(flow[cell]), share, before, after)

    return tuple(GroupPaths(group, path(group, low), path(group, high)) for group, low, high in ranked)


def _ways(
    segments: Sequence[Segment], fields: Sequence[SegmentField], found: Currents, cells: Sequence[int]
) -> dict[tuple[int, int], Way]:
    """Return the ways of cells by segment and cell."""
    ways = {}
    for segment, field in zip(segments, fields, strict=True):
        contacts = np.flatnonzero(np.isin(segment.window_cells, cells))
        lines = _lines(segment, field, found, contacts, ONE_LINE_A)
        for k, contact in enumerate(lines.of_contact.tolist()):
            cell = int(segment.window_cells[contact])
            ways[segment.number, cell] = _way(segment, lines, k, abs(float(found.solved.cell_current_a[cell])))
    return ways


def _way(segment: Segment, lines: StreamLines, k: int, current_a: float) -> Way:
    far = int(lines.from_contact[k] + lines.to_contact[k] - lines.of_contact[k])
    drop = float(lines.drop_v[k])
    return Way(
        segment=segment.number,
        points_mm=lines.points_of(k),
        potential_v=lines.potential_v[lines.line == k],
        drop_v=drop,
        resistance_ohm=drop / current_a,
        far_cell=int(segment.window_cells[far]) if 0 <= far < len(segment.window_cells) else None,
    )


def _lines(segment: Segment, field: SegmentField, found: Currents, contacts: IntArray, line_a: float) -> StreamLines:
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    n_contacts = len(found.solved.contact_v[segment.number])
    current = np.zeros(n_contacts)
    current[: len(segment.window_cells)] = np.abs(joint_currents_a(segment, found))
    contacts = contacts[current[contacts] > LEAST_A]
    return stream_lines(
        Sheet(field.mesh, sheet_s, n_contacts),
        field.potential_v,
        line_a=line_a if line_a > 0 else ONE_LINE_A,
        begin_at=contacts,
        metal=_metal(segment),
        contact_a=current,
    )


def _metal(segment: Segment) -> MultiPolygon:
    """Return the finished metal, drawn in by what its chords may lie off its arcs, so that nothing in it is outside."""
    import shapely

    solid = shapely.multipolygons([piece.polygon(CHORDS_MM) for piece in segment.pieces])
    x, y, radius = segment.circles_mm.T
    holes = shapely.union_all(shapely.buffer(shapely.points(x, y), radius + CHORDS_MM, quad_segs=QUARTER_CHORDS))
    left = shapely.difference(shapely.buffer(solid, -CHORDS_MM, join_style="mitre"), holes)
    return shapely.multipolygons(shapely.get_parts(left))
