"""Edits of the loops metal and cells keep off: the housing's outline, its keep-outs, and those of single segments.

Cells stay where they are; the checks say which stand too near.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from layout_app.edits.overrides import OverrideSegment
from layout_app.geometry.contours import Contour
from layout_app.geometry.corners import with_corner, without_corner
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from layout_app.model.layouts import Layout

OUTLINE = -1  # stands for the outline where a keep-out is named by its index
LEAST_CORNERS = 3


@dataclass(frozen=True, slots=True)
class OwnKeepOut:
    """Names a keep-out that one segment has of its own, by its index there."""

    segment: int
    index: int


LoopId = int | OwnKeepOut  # OUTLINE, the index of a keep-out of the housing, or a segment's own


@dataclass(frozen=True, slots=True)
class ChangeLoop:
    """Give the outline (OUTLINE) or a keep-out another shape. No cell moves."""

    index: LoopId
    contour: Contour

    @property
    def label(self) -> str:
        """E.g. "Change keep-out 2"."""
        return f"Change {loop_name(self.index)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with that loop; raise LayoutError when it crosses itself or encloses nothing."""
        loop_of(layout, self.index)
        _require_simple(loop_name(self.index), self.contour)
        if self.index == OUTLINE:
            housing = replace(layout.housing, outline=self.contour)
            return layout if housing == layout.housing else replace(layout, housing=housing)
        keep_outs, index = list(_keep_outs_beside(layout, self.index)), _index(self.index)
        keep_outs[index] = self.contour
        return _with_keep_outs(layout, self.index, tuple(keep_outs))


@dataclass(frozen=True, slots=True)
class AddKeepOut:
    """Add a keep-out to the housing, or to one segment alone."""

    contour: Contour
    segment: int | None = None

    @property
    def label(self) -> str:
        """E.g. "Add keep-out to segment 3"."""
        return "Add keep-out" if self.segment is None else f"Add keep-out to segment {self.segment}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with one more keep-out."""
        _require_simple("The keep-out", self.contour)
        beside: LoopId = 0 if self.segment is None else OwnKeepOut(self.segment, 0)
        return _with_keep_outs(layout, beside, (*_keep_outs_beside(layout, beside), self.contour))


@dataclass(frozen=True, slots=True)
class RemoveKeepOut:
    """Take a keep-out away."""

    index: LoopId

    @property
    def label(self) -> str:
        """E.g. "Remove keep-out 2"."""
        return f"Remove {loop_name(self.index)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without that keep-out."""
        if self.index == OUTLINE:
            raise LayoutError("A module needs a housing: its outline cannot be removed. Change its corners.")
        loop_of(layout, self.index)
        keep_outs, index = _keep_outs_beside(layout, self.index), _index(self.index)
        return _with_keep_outs(layout, self.index, keep_outs[:index] + keep_outs[index + 1 :])


@dataclass(frozen=True, slots=True)
class AddCorner:
    """Put a corner on an edge of a loop, at a fraction of its length; `to_mm` pulls it to a point.

    The shape stays as it is, arcs stay exact, until the corner is moved. It becomes corner `edge` + 1, from 0.
    """

    index: LoopId
    edge: int
    fraction: float = 0.5
    to_mm: tuple[float, float] | None = None

    @property
    def label(self) -> str:
        """E.g. "Add a corner to the outline"."""
        return f"Add a corner to {loop_name(self.index)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the corner; raise LayoutError where one is already, or the loop would cross itself."""
        loop = loop_of(layout, self.index)
        _require_index("edge", self.edge, loop)
        if not 0 < self.fraction < 1:
            raise ValueOutOfRangeError("place along the edge", self.fraction, "more than 0 and less than 1")
        return ChangeLoop(self.index, with_corner(loop, self.edge, self.fraction, self.to_mm)).apply(layout)


@dataclass(frozen=True, slots=True)
class RemoveCorner:
    """Take a corner, by index, out of a loop: two arcs of one circle become one, other edges a straight one."""

    index: LoopId
    corner: int

    @property
    def label(self) -> str:
        """E.g. "Remove corner 4 of keep-out 2"."""
        return f"Remove corner {self.corner + 1} of {loop_name(self.index)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without it; raise LayoutError with three corners, or where the loop would cross itself."""
        loop = loop_of(layout, self.index)
        _require_index("corner", self.corner, loop)
        if len(loop.bulges) <= LEAST_CORNERS:
            name = loop_name(self.index)
            raise LayoutError(
                f"{name[:1].upper()}{name[1:]} has {len(loop.bulges)} corners; with fewer than {LEAST_CORNERS} it "
                "would enclose nothing. Move its corners instead."
            )
        return ChangeLoop(self.index, without_corner(loop, self.corner)).apply(layout)


def loop_of(layout: Layout, index: LoopId) -> Contour:
    """Return the outline (OUTLINE) or a keep-out; raise where there is none of that number."""
    if index == OUTLINE:
        return layout.housing.outline
    keep_outs, number = _keep_outs_beside(layout, index), _index(index)
    if not 0 <= number < len(keep_outs):
        raise ValueOutOfRangeError("keep-out", number + 1, f"one of the {len(keep_outs)} there are")
    return keep_outs[number]


def loop_name(index: LoopId) -> str:
    """Return what a loop is called.

    >>> loop_name(OUTLINE), loop_name(1), loop_name(OwnKeepOut(3, 0))
    ('the outline', 'keep-out 2', 'keep-out 1 of segment 3')
    """
    if isinstance(index, OwnKeepOut):
        return f"keep-out {index.index + 1} of segment {index.segment}"
    return "the outline" if index == OUTLINE else f"keep-out {index + 1}"


def _index(index: LoopId) -> int:
    return index.index if isinstance(index, OwnKeepOut) else index


def _keep_outs_beside(layout: Layout, index: LoopId) -> tuple[Contour, ...]:
    """Return the keep-outs a loop is one of: the housing's, or those of its segment."""
    if not isinstance(index, OwnKeepOut):
        return layout.housing.keep_outs
    override = layout.override_of(index.segment)
    return () if override is None else override.keep_outs


def _with_keep_outs(layout: Layout, index: LoopId, keep_outs: tuple[Contour, ...]) -> Layout:
    """Return the layout with others in place of the keep-outs a loop is one of."""
    if isinstance(index, OwnKeepOut):
        return OverrideSegment(index.segment, {"keep_outs": keep_outs}).apply(layout)
    housing = replace(layout.housing, keep_outs=keep_outs)
    return layout if housing == layout.housing else replace(layout, housing=housing)


def _require_index(what: str, index: int, loop: Contour) -> None:
    n = len(loop.bulges)
    if not 0 <= index < n:
        raise ValueOutOfRangeError(what, index + 1, f"one of the {n} there are")


def _require_simple(what: str, contour: Contour) -> None:
    """Raise where a loop crosses or touches itself: nothing could be computed with it."""
    from shapely import is_valid_reason

    reason = is_valid_reason(contour.polygon())
    if reason != "Valid Geometry":
        place = re.search(r"\[(\S+) (\S+)\]", reason)
        where = f" at ({float(place[1]):.6g}, {float(place[2]):.6g}) mm" if place else ""
        raise LayoutError(f"{what[:1].upper()}{what[1:]} would cross or touch itself{where}. Move its corners apart.")
