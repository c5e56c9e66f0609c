"""Comparing: what differs between two layouts, in cells, segments, figures, findings and settings.

The first layout is called `a`, or "before", the second `b`, or "after"; differences are b less a.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any, ClassVar, Literal, Protocol

import numpy as np

from layout_app.checks.findings import Finding
from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.choices import choices
from layout_app.model.layouts import Layout
from layout_app.physics.figures import Figure, number_text

if TYPE_CHECKING:
    from layout_app.plates.segments import Segment

SAME_MM = 1e-3  # coordinates read from a file may be rounded; nobody places a can more finely
NUMBER_SAME = 1e-9  # of a value: what binary arithmetic leaves


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellChanges:
    """Which cells differ, by index; a cell may be both moved and regrouped.

    Attributes
    ----------
    added : (n,) indices in b
    removed : (n,) indices in a
    moved, regrouped : (n, 2) index in a, index in b
    locked, unlocked : (n, 2) index in a, index in b; cells that are locked in b alone, or in a alone
    """

    added: IntArray
    removed: IntArray
    moved: IntArray
    regrouped: IntArray
    locked: IntArray
    unlocked: IntArray

    @property
    def is_empty(self) -> bool:
        """Whether no cell differs."""
        return not any(len(getattr(self, field.name)) for field in fields(self))

    @property
    def text(self) -> str:
        """E.g. "3 moved, 1 added"; "the same" when no cell differs."""
        names = ("moved", "added", "removed", "regrouped", "locked", "unlocked")
        counts = [(name, len(getattr(self, name))) for name in names]
        return ", ".join(f"{n} {name}" for name, n in counts if n) or "the same"


@dataclass(frozen=True, slots=True)
class FigureChange:
    """A figure of both layouts, or of one of them."""

    a: Figure | None
    b: Figure | None

    @property
    def either(self) -> Figure:
        """The figure, whichever layout has it."""
        figure = self.b or self.a
        assert figure is not None
        return figure

    @property
    def difference(self) -> float | int | None:
        """b less a; None unless both have it."""
        return None if self.a is None or self.b is None else self.b.value - self.a.value


@dataclass(frozen=True, slots=True)
class SegmentChange:
    """A segment that differs; None where a layout does not have it."""

    number: int
    a: Segment | None
    b: Segment | None

    @property
    def kind(self) -> Literal["added", "removed", "changed"]:
        """What became of it."""
        return "added" if self.a is None else "removed" if self.b is None else "changed"


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A choice that differs; `name` is the way to it in the saved file, e.g. "plates.gap_mm"."""

    name: str
    a: Any
    b: Any


class Derived(Protocol):
    """A layout and what follows from it: workings have it, and documents of the window."""

    @property
    def layout(self) -> Layout: ...
    @property
    def segments(self) -> tuple[Segment, ...]: ...
    @property
    def figures(self) -> tuple[Figure, ...]: ...
    @property
    def findings(self) -> tuple[Finding, ...]: ...


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A layout and what follows from it as they are at one moment: a document of the window goes on changing."""

    layout: Layout
    segments: tuple[Segment, ...]
    figures: tuple[Figure, ...]
    findings: tuple[Finding, ...]

    @classmethod
    def of(cls, derived: Derived) -> Snapshot:
        """Return what there is now."""
        return cls(derived.layout, derived.segments, derived.figures, derived.findings)


class Comparison:
    """What differs between two layouts and what follows from them; each part is worked out when first asked for."""

    MADE_OF: ClassVar[dict[str, str]] = {  # part -> what alone it is worked out from
        "cells": "layout.cells",
        "segments": "segments",
        "figures": "figures",
        "findings": "findings",
        "settings": "layout",
    }

    def __init__(self, a: Derived, b: Derived) -> None:
        self.a, self.b = a, b

    def taking_over(self, previous: Comparison) -> Comparison:
        """Return this comparison with what `previous` found out about the very same objects."""
        for name, made_of in self.MADE_OF.items():
            of = attrgetter(made_of)
            if name in vars(previous) and of(self.a) is of(previous.a) and of(self.b) is of(previous.b):
                vars(self)[name] = vars(previous)[name]
        return self

    @cached_property
    def cells(self) -> CellChanges:
        """Cells that differ."""
        return cell_changes(self.a.layout, self.b.layout)

    @cached_property
    def segments(self) -> tuple[SegmentChange, ...]:
        """Segments that differ, in order."""
        return segment_changes(self.a.segments, self.b.segments)

    @cached_property
    def figures(self) -> tuple[FigureChange, ...]:
        """Figures that differ, in the order shown."""
        return tuple(change for change in figure_pairs(self.a.figures, self.b.figures) if _differs(change))

    @cached_property
    def findings(self) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
        """Findings only a has, and those only b has."""
        mine, theirs = ({_said(f) for f in w.findings} for w in (self.a, self.b))
        return (
            tuple(f for f in self.a.findings if _said(f) not in theirs),
            tuple(f for f in self.b.findings if _said(f) not in mine),
        )

    @cached_property
    def settings(self) -> tuple[SettingChange, ...]:
        """Settings that differ."""
        a, b = dict(choices(self.a.layout)), dict(choices(self.b.layout))
        names = [*a, *(name for name in b if name not in a)]
        return tuple(SettingChange(n, a.get(n), b.get(n)) for n in names if a.get(n) != b.get(n))

    @property
    def is_same(self) -> bool:
        """Whether nothing differs."""
        return not (self.settings or not self.cells.is_empty or self.figures or any(self.findings) or self.segments)


# -- cells ----------------------------------------------------------------------------------------------------------


def cell_changes(a: Layout, b: Layout) -> CellChanges:
    """Return which cells differ.

    Cells at the same place are the same cell. Of those left, where both layouts have as many cells, those of the same
    number are; else each and its nearest, when both are nearest to one another and no more than a pitch apart.
    """
    same = _at_same_place(a, b)
    left_a = np.setdiff1d(np.arange(len(a.cells)), same[:, 0])
    left_b = np.setdiff1d(np.arange(len(b.cells)), same[:, 1])
    if len(a.cells) == len(b.cells) and np.array_equal(left_a, left_b):
        moved = np.column_stack([left_a, left_b])
    else:
        moved = _nearest_mates(a, b, left_a, left_b)
    both = np.vstack([same, moved])
    both = both[np.argsort(both[:, 1], kind="stable")]
    was_locked, is_locked = a.cells.locked[both[:, 0]], b.cells.locked[both[:, 1]]
    return CellChanges(
        added=np.setdiff1d(left_b, moved[:, 1]),
        removed=np.setdiff1d(left_a, moved[:, 0]),
        moved=moved,
        regrouped=both[a.cells.groups[both[:, 0]] != b.cells.groups[both[:, 1]]],
        locked=both[is_locked & ~was_locked],
        unlocked=both[was_locked & ~is_locked],
    )


def _at_same_place(a: Layout, b: Layout) -> IntArray:
    """Return (n, 2) index in a, index in b, each cell named once."""
    places_a, places_b = a.cells.centres_mm, b.cells.centres_mm
    n_a, n_b = len(places_a), len(places_b)
    n_head = _n_equal(places_a, places_b)  # most edits leave the cells before and after those touched as they were
    n_tail = _n_equal(places_a[n_head:][::-1], places_b[n_head:][::-1])
    head, tail = np.arange(n_head), np.arange(n_tail)
    middle = _mates(a, b, np.arange(n_head, n_a - n_tail), np.arange(n_head, n_b - n_tail), SAME_MM)
    tails = np.column_stack([n_a - n_tail + tail, n_b - n_tail + tail])
    return np.vstack([np.column_stack([head, head]), middle, tails])


def _n_equal(one: PointArray, other: PointArray) -> int:
    """Return how many places agree, row by row, before the first that does not."""
    n_both = min(len(one), len(other))
    differs = (np.abs(one[:n_both] - other[:n_both]) > SAME_MM).any(axis=1)
    return int(differs.argmax()) if differs.any() else n_both


def _nearest_mates(a: Layout, b: Layout, left_a: IntArray, left_b: IntArray) -> IntArray:
    return _mates(a, b, left_a, left_b, max(a.lattice.pitch_mm, b.lattice.pitch_mm))


def _mates(a: Layout, b: Layout, of_a: IntArray, of_b: IntArray, within_mm: float) -> IntArray:
    """Return (n, 2) pairs of which each is the other's nearest, no further apart than `within_mm`."""
    if not len(of_a) or not len(of_b):
        return np.empty((0, 2), dtype=np.int64)
    from scipy.spatial import cKDTree

    places_a, places_b = a.cells.centres_mm[of_a], b.cells.centres_mm[of_b]
    apart_mm, to_b = (np.asarray(found) for found in cKDTree(places_b).query(places_a))
    to_a = np.asarray(cKDTree(places_a).query(places_b)[1])
    mutual = (to_a[to_b] == np.arange(len(of_a))) & (apart_mm <= within_mm)
    return np.column_stack([of_a[mutual], of_b[to_b[mutual]]])


# -- segments -------------------------------------------------------------------------------------------------------


def segment_changes(a: Sequence[Segment], b: Sequence[Segment]) -> tuple[SegmentChange, ...]:
    """Return the segments that differ in shape, openings, face, sheet or number."""
    ours, theirs = {s.number: s for s in a}, {s.number: s for s in b}
    numbers = sorted(ours.keys() | theirs.keys())
    pairs = ((k, ours.get(k), theirs.get(k)) for k in numbers)
    return tuple(SegmentChange(*pair) for pair in pairs if not _is_same_segment(pair[1], pair[2]))


def _is_same_segment(a: Segment | None, b: Segment | None) -> bool:
    if a is b or a is None or b is None:
        return a is b
    if (a.face, a.thickness_mm, a.material) != (b.face, b.thickness_mm, b.material):
        return False
    mine, theirs = a.contours(), b.contours()
    return (
        len(mine) == len(theirs)
        and all(_is_near(m.vertices_mm, t.vertices_mm) for m, t in zip(mine, theirs, strict=True))
        and all(_is_near(m.bulges, t.bulges) for m, t in zip(mine, theirs, strict=True))
        and _is_near(_in_order(a.circles_mm), _in_order(b.circles_mm))
    )


def _is_near(a: Any, b: Any) -> bool:
    return a.shape == b.shape and bool(np.allclose(a, b, rtol=0, atol=SAME_MM))


def _in_order(circles_mm: Any) -> Any:
    """Return windows by place: their order follows the cells' numbers, which may differ."""
    return circles_mm[np.lexsort(np.round(circles_mm, 2).T)]


# -- figures, findings, settings ------------------------------------------------------------------------------------


def figure_pairs(a: Sequence[Figure], b: Sequence[Figure]) -> tuple[FigureChange, ...]:
    """Return the figures of both layouts beside one another, in the order of b, then those only a has."""
    before, after = {f.key: f for f in a}, {f.key: f for f in b}
    keys = [*after, *(key for key in before if key not in after)]
    return tuple(FigureChange(before.get(key), after.get(key)) for key in keys)


def difference_text(change: FigureChange) -> str:
    """Return b less a as people read it, e.g. "+18 Wh (+0.9 %)"; nothing when they are the same.

    >>> make = lambda value: Figure(key="e_wh", label="E", value=value, unit="Wh", formula="", inputs=(), source="")
    >>> difference_text(FigureChange(make(2052.0), make(2070.0)))
    '+18 Wh (+0.9 %)'
    """
    if change.a is None or change.b is None:
        return "new" if change.a is None else "gone"
    if not _differs(change):
        return ""
    by = change.b.value - change.a.value
    sign = "+" if by > 0 else "−"
    if change.b.key.endswith("_fraction"):
        return f"{sign}{abs(by) * 100:.1f} points"
    size = str(abs(by)) if isinstance(by, int) else number_text(abs(by))
    share = f" ({sign}{abs(by / change.a.value):.1%})".replace("%", " %") if change.a.value else ""
    return f"{sign}{size} {change.b.unit}".rstrip() + share


def brief_difference_text(change: FigureChange) -> str:
    """Return b less a where there is little room: counts as they are, quantities by their share, e.g. "−9.4 %"."""
    text = difference_text(change)
    share = text.partition(" (")[2].rstrip(")")
    return text if not share else text.partition(" ")[0] if isinstance(change.either.value, int) else share


def _differs(change: FigureChange) -> bool:
    if change.a is None or change.b is None:
        return True
    a, b = change.a.value, change.b.value
    return abs(a - b) > NUMBER_SAME * max(abs(a), abs(b))


def _said(finding: Finding) -> tuple[str, str, str]:
    return finding.rule, finding.severity, finding.message
