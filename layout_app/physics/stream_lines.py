"""Stream lines: the ways the current takes through a sheet, evenly spaced: between two neighbours flows the same.

Each line stands for the current it carries. Lines begin and end at contacts, and never cross each other or the metal's
edge; only within a fiftieth of a millimetre of it, where they are kept inside, may two run into one. A contact that a
strong current passes is passed by lines as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.model.errors import LayoutError
from layout_app.model.validation import require_number
from layout_app.physics.contact_rims import contact_rims
from layout_app.physics.edge_flows import EdgeFlows, edge_flows
from layout_app.physics.inside_metal import kept_inside
from layout_app.physics.line_walks import points_of, side_ends, walk
from layout_app.physics.sheet import Sheet

if TYPE_CHECKING:
    from shapely import MultiPolygon

MOST_LINES = 200_000  # more would be a grey area
SAME_A = 1e-9  # of the largest contact's current: less is rounding


@dataclass(frozen=True, slots=True, eq=False)
class StreamLines:
    """Lines along the current, in its direction: from higher to lower potential.

    Attributes
    ----------
    points_mm : (p, 2) float array, one line after another
    potential_v : (p,) float array, at each point
    line : (p,) int array, the line each point is on, ascending
    current_a : (l,) float array, what each line stands for
    from_contact, to_contact : (l,) int arrays; -1 where rounding has stranded a line, which none of ours has been
    of_contact : (l,) int array, which of both it was traced from; the lines of a contact sum to its current
    """

    points_mm: PointArray
    potential_v: FloatArray
    line: IntArray
    current_a: FloatArray
    from_contact: IntArray
    to_contact: IntArray
    of_contact: IntArray

    def __len__(self) -> int:
        return len(self.current_a)

    @property
    def drop_v(self) -> FloatArray:
        """(l,): the potential lost along each line."""
        first, last = self._ends
        return self.potential_v[first] - self.potential_v[last]

    @property
    def _ends(self) -> tuple[IntArray, IntArray]:
        number = np.arange(len(self))
        return np.searchsorted(self.line, number), np.searchsorted(self.line, number, side="right") - 1

    def points_of(self, line: int) -> PointArray:
        """Return the (n, 2) points of one line, mm."""
        return self.points_mm[slice(*np.searchsorted(self.line, [line, line + 1]))]

    def shapes(self, tolerance_mm: float = 0.0) -> Any:
        """Return the lines as (l,) shapely LineStrings; up to half the clearance, a tolerance thins them safely."""
        import shapely

        shapes = shapely.linestrings(self.points_mm, indices=self.line)
        return shapely.simplify(shapes, tolerance_mm, preserve_topology=False) if tolerance_mm > 0 else shapes


def stream_lines(
    sheet: Sheet,
    potential_v: FloatArray,
    *,
    line_a: float,
    begin_at: Sequence[int] | IntArray | None = None,
    metal: MultiPolygon | None = None,
    contact_a: FloatArray | None = None,
) -> StreamLines:
    """Return the stream lines of a sheet.

    Parameters
    ----------
    potential_v : (n,) float array of each mesh point, as `Sheet.potentials_v` gives it
    line_a : what a line shall stand for, A. Each contact gets a whole number of lines, at least one, which share its
        current evenly.
    begin_at : contacts to trace from: along the current where it enters the sheet, against it where it leaves. By
        default those it enters by.
    metal : the true metal, fine chords for arcs; the lines are kept inside it. Without it they keep to the mesh.
    contact_a : (k,) float array, the current of each contact, when better known than by this mesh; what lines say they
        carry comes from it

    Returns
    -------
    StreamLines : the lines that begin (or end) at a contact traced from sum to its current, those under it apart

    Raises
    ------
    LayoutError : `line_a` not more than 0, or so small that there would be too many lines
    """
    require_number("current of a line", line_a, above=0)
    flows = edge_flows(sheet.mesh, potential_v, sheet.conductance_s)
    net_a = _net_a(flows, sheet.n_contacts)
    told_a = net_a if contact_a is None else contact_a
    least_a = SAME_A * float(np.abs(net_a).max(initial=0.0))
    wanted = net_a > least_a
    if begin_at is not None:
        wanted = np.isin(np.arange(sheet.n_contacts), begin_at) & (np.abs(net_a) > least_a)
    parts = [
        _traced(sheet, potential_v, part, np.flatnonzero(wanted & (net_a * sign > 0)), np.abs(told_a), line_a, metal)
        for sign, part in ((1, flows), (-1, flows.reversed()))
    ]
    return _joined(parts[0], _turned(parts[1]))


def _net_a(flows: EdgeFlows, n_contacts: int) -> FloatArray:
    """Return (k,) the current from each contact into the sheet."""
    held = flows.contact >= 0
    into = np.bincount(flows.contact[held], weights=flows.outflow_a[held], minlength=n_contacts)
    return -into.astype(np.float64)


def _traced(
    sheet: Sheet,
    potential_v: FloatArray,
    flows: EdgeFlows,
    contacts: IntArray,
    told_a: FloatArray,
    line_a: float,
    metal: MultiPolygon | None,
) -> StreamLines:
    """Return the lines from contacts by which current enters."""
    n_lines = np.maximum(np.round(told_a[contacts] / line_a), 1)
    if n_lines.sum() > MOST_LINES:
        raise LayoutError(
            f"Lines of {line_a:g} A each would be more than {MOST_LINES}. Let each stand for more current."
        )
    begins = np.repeat(contacts, n_lines.astype(np.int64))
    if len(begins) == 0:
        return _NONE
    rims = contact_rims(sheet.mesh, flows)
    walks = walk(flows, rims, rims.spread(begins))
    one, other = side_ends(sheet.mesh, walks.side)
    potential = potential_v[one] * (1 - walks.share) + potential_v[other] * walks.share
    points, line = points_of(sheet.mesh, walks), walks.line
    if metal is not None:
        points, line, position = kept_inside(walks, sheet.mesh, flows.edge, metal)
        potential = np.interp(position, np.arange(len(potential)), potential)
    current = (told_a[contacts] / n_lines)[np.searchsorted(contacts, begins)]
    return StreamLines(points, potential, line, current, begins, walks.ends, begins)


def _turned(lines: StreamLines) -> StreamLines:
    """Return lines traced against the current with their points the other way round."""
    order = np.lexsort((-np.arange(len(lines.line)), lines.line))
    return replace(
        lines,
        points_mm=lines.points_mm[order],
        potential_v=lines.potential_v[order],
        from_contact=lines.to_contact,
        to_contact=lines.from_contact,
    )


def _joined(one: StreamLines, other: StreamLines) -> StreamLines:
    other = replace(other, line=other.line + len(one))
    return StreamLines(
        *(np.concatenate([getattr(each, field.name) for each in (one, other)]) for field in fields(StreamLines))
    )


_NO = np.empty(0, dtype=np.int64)
_NONE = StreamLines(np.empty((0, 2)), np.empty(0), _NO, np.empty(0), _NO, _NO, _NO)
