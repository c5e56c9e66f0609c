"""Contact marks: which bits of the metal's edge each contact holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.mesh_rings import UNMARKED, Rings
from layout_app.model.errors import LayoutError

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

ON_EDGE_LEAST = 0.99  # of a line's length that must lie there: less is a mistake, and would go unseen


class ContactError(LayoutError):
    """Contacts that touch or have no metal under them; `contacts` are their places in the order given."""

    def __init__(self, message: str, contacts: tuple[int, ...]) -> None:
        super().__init__(message)
        self.contacts = contacts


def marked_rings(rings: Rings, lines: Sequence[BaseGeometry], tolerances_mm: FloatArray) -> Rings:
    """Return the rings, every bit that runs along a contact's line marked with the contact's number.

    Parameters
    ----------
    lines : (k,) outlines of areas, or lines on the edge
    tolerances_mm : (k,) how far from a line the edge may lie

    Raises
    ------
    ContactError : a line meets no edge, or leaves it
    """
    import shapely

    rings = rings.with_vertices_at(_positions_of_ends(rings, lines, tolerances_mm))
    middle = rings.vertices_mm + np.diff(rings.vertices_mm, axis=0, append=rings.vertices_mm[-1:]) / 2
    marks = np.full(len(middle), UNMARKED, dtype=np.int64)
    for tolerance in np.unique(tolerances_mm):
        held = np.flatnonzero(tolerances_mm == tolerance).tolist()
        tree = shapely.STRtree([lines[k] for k in held])
        bit, contact = tree.query(shapely.points(middle), predicate="dwithin", distance=tolerance)
        marks[bit] = np.array(held)[contact]
        for k in held:
            marks[(marks == k) & _is_beyond_end(middle, lines[k], tolerance)] = UNMARKED
    marks[rings.is_last] = UNMARKED
    _require_on_edge(rings.marked(marks), lines)
    return rings.marked(marks)


def _is_beyond_end(points: PointArray, line: BaseGeometry, tolerance: float) -> BoolArray:
    """Return which points are as near to an end of a line as the tolerance, but past it."""
    import shapely

    beyond = np.zeros(len(points), dtype=bool)
    for part in shapely.get_parts(line):
        if not part.is_closed:
            corners = shapely.get_coordinates(part)
            for end, inner in (corners[:2], corners[:-3:-1]):
                past = (points - end) @ (end - inner) > 0
                beyond |= past & (np.hypot(*(points - end).T) <= tolerance)
    return beyond


def _require_on_edge(rings: Rings, lines: Sequence[BaseGeometry]) -> None:
    """Raise when a contact meets no metal, or when a line given as on the metal's edge leaves it."""
    is_held = rings.marks >= 0
    held_mm = np.bincount(rings.marks[is_held], weights=rings.lengths_mm[is_held], minlength=len(lines))
    for k, line in enumerate(lines):
        x_mm, y_mm = line.centroid.coords[0]
        name = f"Contact {k} (counted from 0), about ({x_mm:.6g}, {y_mm:.6g}) mm,"
        if held_mm[k] == 0:
            raise ContactError(
                f"{name} is not on the metal: it has none beside it. Move it there; a line must run along the edge.",
                (k,),
            )
        if not line.is_closed and held_mm[k] < ON_EDGE_LEAST * line.length:
            raise ContactError(
                f"{name} runs along the metal's edge for {held_mm[k]:.4g} of its {line.length:.4g} mm. "
                "Give a line whose every point lies on the edge.",
                (k,),
            )


def _positions_of_ends(rings: Rings, lines: Sequence[BaseGeometry], tolerances: FloatArray) -> FloatArray:
    """Return the positions along the rings where lines begin, end or bend."""
    import shapely

    corners, line = shapely.get_coordinates(lines, return_index=True)
    corners, first = np.unique(corners, axis=0, return_index=True)
    points, line = shapely.points(corners), line[first]
    bits = shapely.linestrings(np.stack([rings.vertices_mm[:-1], rings.vertices_mm[1:]], axis=1)[~rings.is_last[:-1]])
    begins = rings.positions_mm[:-1][~rings.is_last[:-1]]
    which, bit = shapely.STRtree(bits).query(points, predicate="dwithin", distance=tolerances[line])
    return np.asarray(begins[bit] + shapely.line_locate_point(bits[bit], points[which]))
