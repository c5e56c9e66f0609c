"""Cell currents: what each cell carries, sorted over the module and side by side in each group."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from layout_app.charting.charts import TITLES, Spots, Value
from layout_app.charting.keys import LEAST_EM, least_height_em
from layout_app.charting.styles import Style
from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.physics.figures import number_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from layout_app.model.layouts import Layout
    from layout_app.physics.currents import Currents

STRIP = 0.76  # of the distance of two groups, for the cells of one
NEAR = 1.1  # the cell's rating is drawn when it lies no further above everything else than this; else told in the key
GROUP_MARKS = ("o", "s")  # of odd and even groups
DASHES = (0, (3, 1.5))  # of limits
LEAST_MARK_PT, MOST_MARK_PT = 1.6, 4.5


@dataclass(frozen=True, kw_only=True, eq=False)
class CellCurrents:
    """What each cell carries.

    Attributes
    ----------
    module_a : drawn from the module
    cells : (n,) int array, the cells in groups, by index
    groups : (n,) int array, the group of each, from 1
    current_a : (n,) float array, of each
    limit : times its group's mean a cell may carry
    rating_a : of a cell, continuous
    """

    title: ClassVar[str] = TITLES["cell_currents"]
    least_width_em: ClassVar[float] = LEAST_EM[0]
    header: ClassVar[tuple[str, ...]] = ("rank", "cell", "group", "current_a", "share_of_group_mean")

    module_a: float
    cells: IntArray
    groups: IntArray
    current_a: FloatArray
    limit: float
    rating_a: float

    @classmethod
    def of(cls, layout: Layout, currents: Currents) -> CellCurrents:
        """Return the chart of a layout's cells."""
        cells = np.flatnonzero(layout.cells.groups > 0)
        return cls(
            module_a=currents.solved.current_a,
            cells=cells,
            groups=layout.cells.groups[cells],
            current_a=currents.solved.cell_current_a[cells],
            limit=layout.limits.imbalance,
            rating_a=layout.cell_type.continuous_current_a,
        )

    @cached_property
    def mean_a(self) -> FloatArray:
        """(S,): of each group."""
        n_groups = int(self.groups.max())
        sums = np.bincount(self.groups, weights=self.current_a, minlength=n_groups + 1)[1:]
        return np.asarray(sums / np.maximum(np.bincount(self.groups, minlength=n_groups + 1)[1:], 1))

    @cached_property
    def share(self) -> FloatArray:
        """(n,): each cell's current over the mean of its group; 1 where none flows."""
        mean = self.mean_a[self.groups - 1]
        return np.divide(self.current_a, mean, out=np.ones_like(mean), where=mean != 0)

    @cached_property
    def order(self) -> IntArray:
        """(n,): places of the cells, the largest current first."""
        return np.argsort(-self.current_a, kind="stable")

    @property
    def is_over(self) -> np.ndarray:
        """(n,) bool array: who carries more than the limit."""
        return self.share > self.limit * (1 + 1e-9)

    @property
    def summary(self) -> str:
        """Who carries most and least of its share, and how many are over the limit."""
        most, least, n_over = int(self.share.argmax()), int(self.share.argmin()), int(self.is_over.sum())
        over = "no cell is over" if n_over == 0 else "one cell is over" if n_over == 1 else f"{n_over} cells are over"
        return (
            f"At {number_text(self.module_a)} A cell {self.cells[most] + 1} in group {self.groups[most]} carries "
            f"{number_text(float(self.current_a[most]))} A, {self.share[most]:.3f} times its group's mean; cell "
            f"{self.cells[least] + 1} in group {self.groups[least]} the least part, {self.share[least]:.3f}; {over} "
            f"the limit of {self.limit:g}."
        )

    @property
    def rows(self) -> list[tuple[Value, ...]]:
        """One row a cell, the largest current first."""
        return [
            (rank, int(self.cells[k]) + 1, int(self.groups[k]), float(self.current_a[k]), float(self.share[k]))
            for rank, k in enumerate(self.order.tolist(), 1)
        ]

    # -- drawing ------------------------------------------------------------------------------------------------

    def draw(self, figure: Figure, style: Style) -> tuple[Spots, ...]:
        """Draw both panels; every cell is a spot in each."""
        from layout_app.charting.axes import name_axes, put_key, two_panels

        handles, words = self._key(style)
        room = put_key(figure, style, handles, words)
        ranked, grouped = two_panels(figure, style, room, (2, 3))
        name_axes(ranked, style, "cells, largest current first", "cell current, A")
        name_axes(grouped, style, "group", "cell current, A")
        at = self._strip_x(), self.current_a
        rank = np.empty(len(self.order))
        rank[self.order] = np.arange(1, len(self.order) + 1)
        self._draw_ranked(ranked, style, rank)
        self._draw_grouped(grouped, style, at[0])
        for axes in (ranked, grouped):
            self._set_range(axes, style)
        told = [self._words(k) for k in self.order.tolist()]
        return tuple(
            Spots(axes=axes, at=np.column_stack([x, self.current_a])[self.order], words=told,
                  cells=self.cells[self.order], segments=np.full(len(told), -1))
            for axes, x in ((ranked, rank), (grouped, at[0]))
        )  # fmt: skip

    def _words(self, k: int) -> str:
        over = ", over the limit" if self.share[k] > self.limit * (1 + 1e-9) else ""
        return (
            f"Cell {self.cells[k] + 1}, group {self.groups[k]}: {self.current_a[k]:.4g} A, "
            f"{self.share[k]:.3f} times the mean of its group{over}"
        )

    def _key(self, style: Style) -> tuple[list[Artist], list[str]]:
        from matplotlib.lines import Line2D
        from matplotlib.patches import Patch

        from layout_app.charting.axes import BLANK

        def dot(mark: str, colour: str, size: float) -> Line2D:
            return Line2D([], [], linestyle="none", marker=mark, color=colour, markersize=size)

        handles: list[Artist] = [Patch(facecolor=style.fills[0], edgecolor=style.ink, linewidth=0.5)]
        if not self._as_ranges(style):
            kinds = zip(GROUP_MARKS[: len(self.mean_a)], style.lines, strict=False)
            handles = [dot(mark, colour, 3.5) for mark, colour in kinds]
            handles += [dot("^", style.error, 5.0)] if self.is_over.any() else []
        handles += [
            Line2D([], [], color=style.ink, linewidth=1.3),
            Line2D([], [], color=style.error, linewidth=1.1, linestyle=DASHES),
            Line2D([], [], color=style.ink, linewidth=1.1, linestyle=":") if self._shows_rating else BLANK,
        ]
        return handles, self._key_words(are_ranges=self._as_ranges(style))

    def _key_words(self, *, are_ranges: bool) -> list[str]:
        cells = ["cell, odd group", "cell, even group"][: len(self.mean_a)]
        cells += ["cell over the limit"] if self.is_over.any() else []
        where = "" if self._shows_rating else ", lies above"
        return [
            *(["cells of a group, least to most"] if are_ranges else cells),
            "mean",
            f"limit, {self.limit:g} × mean",
            f"a cell's rating, {number_text(self.rating_a)} A{where}",
        ]

    def least_height_em(self, width_em: float) -> float:
        """Return the height both panels and the key need."""
        return least_height_em(width_em, self._key_words(are_ranges=False))

    @property
    def _highest_a(self) -> float:
        return float(max(self.current_a.max(), self.limit * self.mean_a.max()))

    @property
    def _shows_rating(self) -> bool:
        return self.rating_a <= NEAR * self._highest_a

    def _as_ranges(self, style: Style) -> bool:
        return len(self.cells) > style.most_marks

    def _strip_x(self) -> FloatArray:
        """Return (n,) where each cell stands in its group's strip: from its largest current to its least."""
        order = np.lexsort((-self.current_a, self.groups))
        groups = self.groups[order]
        sizes = np.bincount(groups)
        first = np.concatenate([[0], np.cumsum(sizes)])[groups]
        inside = (np.arange(len(order)) - first + 0.5) / sizes[groups] - 0.5
        x = np.empty(len(order))
        x[order] = groups + STRIP * inside
        return x

    def _draw_ranked(self, axes: Axes, style: Style, rank: FloatArray) -> None:
        from matplotlib.ticker import MaxNLocator

        mean_a = float(self.current_a.mean())
        if self._as_ranges(style):
            axes.plot(rank[self.order], self.current_a[self.order], color=style.lines[0], linewidth=1.4)
        else:
            self._dots(axes, style, rank)
        axes.axhline(mean_a, color=style.ink, linewidth=1.0, zorder=1.5)
        if np.allclose(self.mean_a, self.mean_a[0], rtol=1e-6):  # else each group has a limit of its own
            axes.axhline(self.limit * mean_a, color=style.error, linewidth=1.0, linestyle=DASHES, zorder=1.5)
        axes.set_xlim(0, len(rank) + 1)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))

    def _draw_grouped(self, axes: Axes, style: Style, x: FloatArray) -> None:
        from matplotlib.ticker import MaxNLocator

        group = np.arange(1, len(self.mean_a) + 1)
        if self._as_ranges(style):
            self._ranges(axes, style, group)
        else:
            self._dots(axes, style, x)
        half = STRIP / 2 + 0.06
        axes.hlines(self.mean_a, group - half, group + half, color=style.ink, linewidth=1.3, zorder=3)
        axes.hlines(self.limit * self.mean_a, group - half, group + half, color=style.error, linewidth=1.1,
                    linestyle=DASHES if len(group) < 40 else "solid", zorder=3)  # fmt: skip
        axes.set_xlim(0.4, len(group) + 0.6)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10], min_n_ticks=1))

    def _dots(self, axes: Axes, style: Style, x: FloatArray) -> None:
        width_pt = 72 * axes.bbox.width / axes.figure.dpi
        size = float(np.clip(1.6 * width_pt / max(len(x), 1), LEAST_MARK_PT, MOST_MARK_PT))
        over = self.is_over
        for parity, mark, colour in zip((1, 0), GROUP_MARKS, style.lines, strict=False):
            its = (self.groups % 2 == parity) & ~over
            axes.plot(x[its], self.current_a[its], mark, color=colour, markersize=size, markeredgewidth=0)
        axes.plot(x[over], self.current_a[over], "^", color=style.error, markersize=size + 1.5, markeredgewidth=0)

    def _ranges(self, axes: Axes, style: Style, group: IntArray) -> None:
        order = np.argsort(self.groups, kind="stable")
        first = np.searchsorted(self.groups[order], group)
        least, most = (f.reduceat(self.current_a[order], first) for f in (np.minimum, np.maximum))
        axes.bar(group, most - least, STRIP, least, color=style.fills[0], edgecolor=style.ink, linewidth=0.4)

    def _set_range(self, axes: Axes, style: Style) -> None:
        highest = max(self._highest_a, self.rating_a if self._shows_rating else 0.0)
        if self._shows_rating:
            axes.axhline(self.rating_a, color=style.ink, linewidth=1.1, linestyle=":")
        lowest = float(self.current_a.min())
        margin = 0.06 * (highest - lowest) or 0.06 * abs(highest) or 1.0
        axes.set_ylim(lowest - margin, highest + margin)
