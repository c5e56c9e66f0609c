"""Edits of the housing around cells that stay where they are: its outline and its keep-outs."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import ClassVar

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from layout_app.model.layouts import Layout

OUTLINE = -1  # stands for the outline where a keep-out is named by its index


@dataclass(frozen=True, slots=True)
class ChangeLoop:
    """Give the outline (OUTLINE) or a keep-out, by index, another shape. No cell moves."""

    index: int
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
        else:
            keep_outs = list(layout.housing.keep_outs)
            keep_outs[self.index] = self.contour
            housing = replace(layout.housing, keep_outs=tuple(keep_outs))
        return layout if housing == layout.housing else replace(layout, housing=housing)


@dataclass(frozen=True, slots=True)
class AddKeepOut:
    """Add a keep-out. No cell moves; the checks say which stand too near."""

    contour: Contour
    label: ClassVar[str] = "Add keep-out"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with one more keep-out."""
        _require_simple("The keep-out", self.contour)
        keep_outs = (*layout.housing.keep_outs, self.contour)
        return replace(layout, housing=replace(layout.housing, keep_outs=keep_outs))


@dataclass(frozen=True, slots=True)
class RemoveKeepOut:
    """Take a keep-out, by index, away."""

    index: int

    @property
    def label(self) -> str:
        """E.g. "Remove keep-out 2"."""
        return f"Remove {loop_name(self.index)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without that keep-out."""
        if self.index == OUTLINE:
            raise LayoutError("A module needs a housing: its outline cannot be removed. Change its corners.")
        loop_of(layout, self.index)
        keep_outs = layout.housing.keep_outs
        rest = keep_outs[: self.index] + keep_outs[self.index + 1 :]
        return replace(layout, housing=replace(layout.housing, keep_outs=rest))


def loop_of(layout: Layout, index: int) -> Contour:
    """Return the outline (OUTLINE) or a keep-out; raise where there is none of that number."""
    housing = layout.housing
    if index == OUTLINE:
        return housing.outline
    if not 0 <= index < len(housing.keep_outs):
        raise ValueOutOfRangeError("keep-out", index + 1, f"one of the {len(housing.keep_outs)} there are")
    return housing.keep_outs[index]


def loop_name(index: int) -> str:
    """Return what a loop is called: "the outline", "keep-out 2"."""
    return "the outline" if index == OUTLINE else f"keep-out {index + 1}"


def _require_simple(what: str, contour: Contour) -> None:
    """Raise where a loop crosses or touches itself: nothing could be computed with it."""
    from shapely import is_valid_reason

    reason = is_valid_reason(contour.polygon())
    if reason != "Valid Geometry":
        place = re.search(r"\[(\S+) (\S+)\]", reason)
        where = f" at ({float(place[1]):.6g}, {float(place[2]):.6g}) mm" if place else ""
        raise LayoutError(f"{what[:1].upper()}{what[1:]} would cross or touch itself{where}. Move its corners apart.")
