"""Edits of whole groups: swapped, reordered, reversed, split, merged, evened, divided anew. Cells keep their places.

What belongs to a segment (overrides, terminals) follows its metal where the metal goes on being there. A locked cell
keeps its group, and the group its number: what would renumber it is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from layout_app.edits.dividing import divided, towards_rad
from layout_app.edits.locks import regrouped, require_cells
from layout_app.geometry.arrays import IntArray
from layout_app.model.cells import UNASSIGNED
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from layout_app.model.layouts import MAX_SERIES, Layout
from layout_app.model.overrides import SegmentOverride


@dataclass(frozen=True, slots=True)
class SwapCells:
    """Give each of two cells, by index, the group of the other."""

    one: int
    other: int

    @property
    def label(self) -> str:
        """E.g. "Swap cells 3 and 17"."""
        return f"Swap cells {self.one + 1} and {self.other + 1}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the two groups exchanged."""
        chosen = require_cells(layout, (self.one, self.other))
        groups = layout.cells.groups.copy()
        groups[chosen] = groups[chosen[::-1]]
        return _regrouped(layout, groups)


@dataclass(frozen=True, slots=True)
class SwapGroups:
    """Exchange the places of two groups in the series order."""

    one: int
    other: int

    @property
    def label(self) -> str:
        """E.g. "Swap groups 2 and 5"."""
        return f"Swap groups {self.one} and {self.other}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the cells of both exchanged."""
        require_groups(layout, (self.one, self.other))
        number = np.arange(layout.n_series + 1)
        number[[self.one, self.other]] = self.other, self.one
        return _regrouped(layout, number[layout.cells.groups])


@dataclass(frozen=True, slots=True)
class MoveGroup:
    """Take a group out of the series order and put it back at another place; those between move up or down."""

    group: int
    to: int

    @property
    def label(self) -> str:
        """E.g. "Make group 2 group 5"."""
        return f"Make group {self.group} group {self.to}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the groups numbered in the new order."""
        require_groups(layout, (self.group, self.to))
        order = [k for k in range(1, layout.n_series + 1) if k != self.group]
        order.insert(self.to - 1, self.group)
        number = np.zeros(layout.n_series + 1, dtype=np.int64)
        number[order] = np.arange(1, layout.n_series + 1)
        return _regrouped(layout, number[layout.cells.groups])


@dataclass(frozen=True, slots=True)
class ReverseChain:
    """Let the chain run the other way: all cells turn over, the metal stays, the terminals change their signs."""

    label: ClassVar[str] = "Reverse the chain"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with group k as group S + 1 − k."""
        groups = layout.cells.groups
        reversed_ = np.where(groups == UNASSIGNED, UNASSIGNED, layout.n_series + 1 - groups)
        negative, positive = layout.terminals
        is_odd = layout.n_series % 2 == 1  # then the first group must turn over for the metal to stay on its face
        overrides = _renumbered(layout, lambda segment: layout.n_series - segment)
        return replace(
            layout,
            cells=regrouped(layout, reversed_),
            terminals=(positive, negative),
            first_group_up=layout.first_group_up != is_odd,
            overrides=overrides,
        )


@dataclass(frozen=True, slots=True)
class SplitGroup:
    """Divide a group into two that follow one another; the groups after it move up by one."""

    group: int

    @property
    def label(self) -> str:
        """E.g. "Split group 3"."""
        return f"Split group {self.group}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with S + 1 groups."""
        require_groups(layout, (self.group,))
        members = layout.cells.of_group(self.group)
        if len(members) < 2:
            raise LayoutError(
                f"Group {self.group} has {_cells(len(members))}; splitting takes two. Paint some into it."
            )
        if layout.n_series >= MAX_SERIES:
            raise LayoutError(f"The chain has {MAX_SERIES} groups already, the most there can be.")
        held = layout.cells.locked[members].astype(np.int64)  # in the first half, which keeps the number
        halves = divided(layout, members, held, 2, towards_rad(layout, members, self.group))
        groups = layout.cells.groups + (layout.cells.groups > self.group)
        groups[members] = self.group + halves - 1
        overrides = _renumbered(layout, lambda segment: segment + (segment >= self.group))
        cells = regrouped(layout, groups)
        return replace(layout, cells=cells, n_series=layout.n_series + 1, overrides=overrides)


@dataclass(frozen=True, slots=True)
class MergeGroups:
    """Join groups into the first of them; the groups after move down."""

    groups: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Merge groups 2 and 3"."""
        return f"Merge groups {_listed(self.groups)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with fewer groups."""
        merged = sorted(set(self.groups))
        require_groups(layout, merged)
        if len(merged) < 2:
            raise LayoutError("Merging takes two groups. Choose cells of both.")
        stays = np.ones(layout.n_series + 1, dtype=np.int64)
        stays[[0, *merged[1:]]] = 0
        number = np.cumsum(stays)
        number[merged[1:]] = number[merged[0]]
        number[UNASSIGNED] = UNASSIGNED
        gone = {group - 1 for group in merged[1:]}  # the segment before a group that is no more
        overrides = _renumbered(layout, lambda k: None if k in gone else k - sum(segment < k for segment in gone))
        cells = regrouped(layout, number[layout.cells.groups])
        return replace(layout, cells=cells, n_series=layout.n_series + 1 - len(merged), overrides=overrides)


@dataclass(frozen=True, slots=True)
class BalanceGroups:
    """Trade border cells among groups until their counts are even; no group is broken. Empty: all groups."""

    groups: tuple[int, ...] = ()

    @property
    def label(self) -> str:
        """E.g. "Balance groups 2 and 3"."""
        return f"Balance groups {_listed(self.groups)}" if self.groups else "Balance all groups"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with counts as even as trades can make them; raise LayoutError where none helps."""
        from layout_app.planning.evening import evened, links_of

        chosen = np.array(sorted(set(self.groups)) or range(1, layout.n_series + 1), dtype=np.int64)
        require_groups(layout, chosen.tolist())
        if np.ptp(layout.group_sizes[chosen - 1]) <= 1:
            return layout
        groups, fixed = layout.cells.groups, layout.cells.locked
        after = _regrouped(layout, evened(links_of(layout), groups, layout.n_series, chosen, fixed))
        if np.ptp(after.group_sizes[chosen - 1]) >= np.ptp(layout.group_sizes[chosen - 1]):
            held = " or moving a locked one" if np.isin(groups[fixed], chosen).any() else ""
            raise LayoutError(
                f"No cell can change hands without breaking a group{held}. Paint by hand, or divide the groups anew."
            )
        return after


@dataclass(frozen=True, slots=True)
class DivideAnew:
    """Divide the cells of some groups among the same groups anew; all other groups, and locked cells, stay."""

    groups: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Divide groups 2 and 3 anew"."""
        return f"Divide groups {_listed(self.groups)} anew"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those groups formed anew, in the same series order."""
        chosen = sorted(set(self.groups))
        require_groups(layout, chosen)
        if len(chosen) < 2:
            raise LayoutError("Dividing anew takes two groups or more. Choose cells of each.")
        members = np.flatnonzero(np.isin(layout.cells.groups, chosen))
        if len(members) < len(chosen):
            raise LayoutError(f"{_cells(len(members))} cannot make {len(chosen)} groups. Paint some into them first.")
        groups = layout.cells.groups.copy()
        now = np.searchsorted(chosen, groups[members]) + 1
        held = np.where(layout.cells.locked[members], now, 0)
        start_rad = towards_rad(layout, members, chosen[0], chosen[-1])
        groups[members] = np.array(chosen)[divided(layout, members, held, len(chosen), start_rad, now) - 1]
        return _regrouped(layout, groups)


def require_groups(layout: Layout, groups: Sequence[int]) -> None:
    """Raise unless every group is one of the chain's."""
    for group in groups:
        if not 1 <= group <= layout.n_series:
            raise ValueOutOfRangeError("group", group, f"a group from 1 to {layout.n_series}")


def groups_of(layout: Layout, cells: frozenset[int]) -> tuple[int, ...]:
    """Return the groups some cells are in, ascending, unassigned cells left out."""
    return tuple(group for group in np.unique(layout.cells.groups[sorted(cells)]).tolist() if group != UNASSIGNED)


def _regrouped(layout: Layout, groups: IntArray) -> Layout:
    if np.array_equal(groups, layout.cells.groups):
        return layout
    return replace(layout, cells=regrouped(layout, groups))


def _renumbered(layout: Layout, number: Callable[[int], int | None]) -> tuple[SegmentOverride, ...]:
    """Return the overrides with their segments' new numbers; None drops one."""
    moved = [(number(override.segment), override) for override in layout.overrides]
    kept = [replace(override, segment=segment) for segment, override in moved if segment is not None]
    return tuple(sorted(kept, key=lambda override: override.segment))


def _listed(groups: Sequence[int]) -> str:
    words = [str(group) for group in sorted(set(groups))]
    if not words:
        return "of none"
    if len(words) > 6:
        return f"{words[0]} to {words[-1]}"
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]


def _cells(n: int) -> str:
    return f"{n} cell" + ("" if n == 1 else "s")
