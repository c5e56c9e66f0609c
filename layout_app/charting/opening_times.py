"""Opening times: how soon a joint opens at each current, with what it meets in use and in faults marked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from layout_app.charting.charts import TITLES, Spots, Value
from layout_app.charting.keys import LEAST_EM, key_size_em, n_key_columns
from layout_app.charting.styles import Style
from layout_app.geometry.arrays import BoolArray, FloatArray
from layout_app.physics.fault_remarks import time_text
from layout_app.physics.figures import number_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from layout_app.model.layouts import Layout
    from layout_app.physics.fault_results import ChartPoint, FuseChart, LoadMargins
    from layout_app.physics.fuses import OpeningCurve
    from layout_app.physics.joint_faults import JointFaults

MARKS = "os^vD<>pP*Xhd"  # a shape for each scenario, and its number beside it
MARK_PT = 5.0
BENCH = "by the program's model; bench tests decide"
BELOW = 30.0  # the curve is drawn down to so small a part of the shortest time of a scenario
EVER = 4.0  # times the longest time: where what lasts for ever is drawn
PLOT_EM = 24.0, 18.0  # the least width and height of the plot with its words
UNITS = ((1.0, "s"), (1e-3, "ms"), (1e-6, "µs"), (1e-9, "ns"))


@dataclass(frozen=True, kw_only=True, eq=False)
class OpeningTimes:
    """The opening curve of a joint and the scenarios.

    Attributes
    ----------
    joint : what it is, in words
    chart : curve, rating and scenarios
    load : what it carries in use; None when no current is known
    necks : further curves, of what else opens when the terminals are shorted, by name
    share : the rating's part of what opens the joint
    """

    title: ClassVar[str] = TITLES["opening_times"]
    header: ClassVar[tuple[str, ...]] = ("what", "current_a", "time_s", "begins_to_melt_s")

    joint: str
    chart: FuseChart
    load: LoadMargins | None
    necks: tuple[tuple[str, OpeningCurve], ...]
    share: float

    @classmethod
    def of(cls, layout: Layout, faults: JointFaults) -> OpeningTimes:
        """Return the chart of a layout's joints, two lost bonds among the scenarios."""
        from layout_app.physics.fault_results import FuseChart
        from layout_app.physics.fuses import opening_curve

        share = layout.limits.bond_share
        plain = faults.chart(share)
        lost = () if faults.lost is None else faults.lost.points
        others = [o for o in faults.terminals.parts if o.part.fuse != faults.fuse]
        return cls(
            joint=f"{faults.fuse.text}, {faults.fuse.metal.name}",
            chart=FuseChart(curve=plain.curve, rating_a=plain.rating_a, points=(*plain.points, *lost)),
            load=faults.load,
            necks=tuple((o.part.name, opening_curve(o.part.fuse, 3 * o.current_a)) for o in others),
            share=share,
        )

    @cached_property
    def points(self) -> tuple[ChartPoint, ...]:
        """The scenarios in which current flows: no other has a place on a logarithmic axis."""
        return tuple(point for point in self.chart.points if 0 < point.current_a < math.inf)

    @property
    def least_width_em(self) -> float:
        """The key's: its words must not be cut off."""
        return max(LEAST_EM[0], key_size_em(self._words(), 1)[0] + 2)

    def least_height_em(self, width_em: float) -> float:
        """Return the height of plot and key, which stands under it where there is no room beside it."""
        columns = self._columns_beside(width_em, PLOT_EM[1])
        if columns:
            return max(PLOT_EM[1], key_size_em(self._words(), columns)[1])
        return PLOT_EM[1] + key_size_em(self._words(), n_key_columns(self._words(), width_em - 2))[1]

    def _columns_beside(self, width_em: float, height_em: float) -> int:
        """Return in how many columns the key stands beside the plot: as few as its height allows; 0 for below it."""
        words = self._words()
        sizes = {n: key_size_em(words, n) for n in range(1, len(words) + 1)}
        fitting = [n for n, (width, _) in sizes.items() if width + PLOT_EM[0] <= width_em]
        low = [n for n in fitting if sizes[n][1] <= height_em]
        return min(low) if low else max(fitting, default=0)

    @property
    def summary(self) -> str:
        """What opens the joint, and what each scenario does; that bench tests decide."""
        told = (p for p in self.points if p.label in ("continuous", "peak", "shorted cell"))
        said = "; ".join(self._line(point) for point in told)
        return (
            f"A joint ({self.joint}) opens from {number_text(_digits(self.chart.curve.steady_a))} A on and is rated "
            f"{number_text(_digits(self.chart.rating_a))} A ({said}), {BENCH}."
        )

    @property
    def rows(self) -> list[tuple[Value, ...]]:
        """The curve, then the scenarios; a time that never comes is "inf"."""
        curve = self.chart.curve
        table = [curve.current_a.tolist(), curve.opening_s.tolist(), curve.melting_s.tolist()]
        rows: list[tuple[Value, ...]] = [("opens", *values) for values in zip(*table, strict=True)]
        for name, other in self.necks:
            table = [other.current_a.tolist(), other.opening_s.tolist(), other.melting_s.tolist()]
            rows += [(f"{name} opens", *values) for values in zip(*table, strict=True)]
        rows.append(("rating", self.chart.rating_a, math.inf, ""))
        return [*rows, *((point.label, point.current_a, point.time_s, "") for point in self.chart.points)]

    def _line(self, point: ChartPoint) -> str:
        lasting = "for ever" if point.label.startswith("continuous") else "never opens"
        when = lasting if point.time_s == math.inf else time_text(point.time_s)
        return f"{point.label}: {number_text(_digits(point.current_a))} A, {when}"

    # -- drawing ------------------------------------------------------------------------------------------------

    def draw(self, figure: Figure, style: Style) -> tuple[Spots, ...]:
        """Draw curve, region of normal use and scenarios; the scenarios are spots."""
        from layout_app.charting.axes import name_axes, panel, put_key, put_key_beside

        width_em, height_em = figure.get_size_inches() / style.em_in
        columns, key = self._columns_beside(width_em, height_em), self._key(style)
        room = put_key_beside(figure, style, *key, columns) if columns else put_key(figure, style, *key)
        axes = panel(figure, style, room)
        axes.set_xscale("log")
        axes.set_yscale("log")
        name_axes(axes, style, "current through a joint or neck, A", "time")
        self._set_ranges(axes, style)
        self._draw_use(axes, style)
        self._draw_curves(axes, style)
        return (self._draw_points(axes, style),)

    def _key(self, style: Style) -> tuple[list[Artist], list[str]]:
        from matplotlib.lines import Line2D
        from matplotlib.patches import Patch

        from layout_app.charting.axes import BLANK

        handles: list[Artist] = [
            Line2D([], [], color=style.lines[0], linewidth=1.8),
            Line2D([], [], color=style.lines[0], linewidth=0.9, linestyle="--"),
            Line2D([], [], color=style.error, linewidth=1.1, linestyle=":"),
        ]
        handles += [Line2D([], [], color=style.lines[1], linewidth=1.3, linestyle="-.") for _ in self.necks]
        if self.load is not None:
            handles.append(Patch(facecolor=style.fills[5], edgecolor=style.ink, linewidth=0.5, alpha=0.6))
        handles += [self._mark(style, k) for k in range(len(self.points))]
        return [*handles, BLANK], self._words()

    def _words(self) -> list[str]:
        """Return what stands in the key."""
        rating = f"rating, {number_text(_digits(self.chart.rating_a))} A: {100 * self.share:.0f} % of what opens it"
        return [
            f"opens: {self.joint}",
            "begins to melt",
            rating,
            *(f"opens: {name}" for name, _ in self.necks),
            *([] if self.load is None else ["normal use"]),
            *(f"{k}  {self._line(point)}" for k, point in enumerate(self.points, 1)),
            BENCH[:1].upper() + BENCH[1:],
        ]

    def _mark(self, style: Style, k: int) -> Line2D:
        from matplotlib.lines import Line2D

        return Line2D(
            [], [], linestyle="none", marker=MARKS[k % len(MARKS)], color=style.lines[1], markersize=MARK_PT,
            markeredgecolor=style.ink, markeredgewidth=0.6,
        )  # fmt: skip

    @cached_property
    def _times_s(self) -> tuple[float, float]:
        """The shortest and longest time there is to show."""
        finite = [point.time_s for point in self.points if 0 < point.time_s < math.inf]
        slowest, quickest = (float(self.chart.curve.opening_s[k]) for k in (0, -1))
        shortest = min(finite) / BELOW if finite else quickest
        return max(shortest, quickest), max([slowest, *finite])

    @property
    def _ever_s(self) -> float:
        return EVER * self._times_s[1] * 2

    def _heights(self) -> FloatArray:
        return np.array([min(point.time_s, self._ever_s) for point in self.points])

    def _set_ranges(self, axes: Axes, style: Style) -> None:
        from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullFormatter, NullLocator

        currents = [point.current_a for point in self.points]
        currents += [self.chart.rating_a, self.chart.curve.steady_a]
        axes.set_xlim(min(currents) / 2.5, 2 * max(currents))
        shortest, longest = self._times_s
        axes.set_ylim(shortest / 2, 2 * self._ever_s)
        decades = 10.0 ** np.arange(math.ceil(math.log10(shortest / 2)), math.floor(math.log10(2 * longest)) + 1)
        step = -(-len(decades) // 9)
        axes.yaxis.set_major_locator(FixedLocator([*decades[::step].tolist(), self._ever_s]))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda t, _: "∞" if t == self._ever_s else decade_text(t)))
        axes.yaxis.set_minor_locator(NullLocator())
        axes.xaxis.set_major_locator(LogLocator(numticks=8))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda a, _: f"{a:g}"))
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.grid(visible=True, axis="x", color=style.faint, linewidth=0.5)
        axes.axhline(2 * longest, color=style.ink, linewidth=0.5, linestyle=(0, (1, 3)))

    def _draw_use(self, axes: Axes, style: Style) -> None:
        """Shade what a joint carries in use: the continuous current for ever, the peak as long as it lasts."""
        if self.load is None:
            return
        low, high = axes.get_ylim()
        least = axes.get_xlim()[0]
        steps = [(self.load.continuous_a, high), (self.load.peak_a, self.load.peak_s)]
        corners = [(least, low), (least, high)]
        for current_a, time_s in steps:
            if current_a > corners[-1][0]:
                corners += [(corners[-1][0], time_s), (current_a, time_s)]
        corners.append((corners[-1][0], low))
        axes.fill(*zip(*corners, strict=True), facecolor=style.fills[5], edgecolor=style.ink, linewidth=0.5, alpha=0.6)

    def _draw_curves(self, axes: Axes, style: Style) -> None:
        curve, high = self.chart.curve, axes.get_ylim()[1]
        up = [curve.steady_a], [high]  # at the steady opening current the curve runs to infinity
        for times, width, dashes in ((curve.opening_s, 1.8, "-"), (curve.melting_s, 0.9, "--")):
            x, y = np.concatenate([up[0], curve.current_a]), np.concatenate([up[1], times])
            axes.plot(x, y, color=style.lines[0], linewidth=width, linestyle=dashes)
        for _, other in self.necks:
            x = np.concatenate([[other.steady_a], other.current_a])
            axes.plot(x, np.concatenate([up[1], other.opening_s]), color=style.lines[1], linewidth=1.3, linestyle="-.")
        axes.axvline(self.chart.rating_a, color=style.error, linewidth=1.1, linestyle=":")

    def _draw_points(self, axes: Axes, style: Style) -> Spots:
        currents, heights = np.array([p.current_a for p in self.points]), self._heights()
        at = np.column_stack([currents, heights]).reshape(-1, 2)
        for k, (x, y) in enumerate(at.tolist()):
            mark = self._mark(style, k)
            mark.set_data([x], [y])
            mark.set_zorder(4)
            axes.add_line(mark)
        self._number(axes, style, at)
        none = np.full(len(at), -1)
        return Spots(axes=axes, at=at, words=[self._line(p) for p in self.points], cells=none, segments=none)

    def _number(self, axes: Axes, style: Style, at: FloatArray) -> None:
        """Write each scenario's number beside its mark, where it is free."""
        from layout_app.charting.labels import label_centres

        if not len(at):
            return
        per_pt = axes.figure.dpi / 72
        places = axes.transData.transform(at)
        box = axes.bbox
        size = 1.3 * style.font_pt * per_pt, 1.1 * style.font_pt * per_pt
        bounds = np.array([box.x0, box.y0, box.x1, box.y1])
        centres = label_centres(places, size, 1.25 * MARK_PT * per_pt, bounds)
        far = self._is_far(places, centres, size)
        for k, (x, y) in enumerate(axes.transData.inverted().transform(centres).tolist()):
            if far[k]:
                axes.plot([at[k, 0], x], [at[k, 1], y], color=style.ink, linewidth=0.4, zorder=3.5)
            axes.text(x, y, str(k + 1), ha="center", va="center", color=style.ink, zorder=5, fontweight="bold",
                      bbox={"facecolor": style.ground, "edgecolor": "none", "pad": 0.4, "alpha": 0.75})  # fmt: skip

    def _is_far(self, places: FloatArray, centres: FloatArray, size: tuple[float, float]) -> BoolArray:
        return np.asarray(np.hypot(*(places - centres).T) > 1.6 * max(size), dtype=np.bool_)


def decade_text(seconds: float) -> str:
    """Return a power of ten of seconds as people read it.

    >>> decade_text(1e-5), decade_text(0.001), decade_text(100.0)
    ('10 µs', '1 ms', '100 s')
    """
    factor, unit = next(((f, u) for f, u in UNITS if seconds >= 0.999 * f), UNITS[-1])
    return f"{seconds / factor:g} {unit}"


def _digits(current_a: float) -> float:
    return float(f"{current_a:.3g}")
