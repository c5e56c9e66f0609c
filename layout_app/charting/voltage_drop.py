"""Voltage drop: what is lost from the negative terminal to the positive one, in metal, joints and cells, by group.

The currents of a segment come and go at many potentials. Their mean, weighted by the current, gives the drop of the
whole: times the module's current it is the segment's loss, for what is lost is power in less power out (Tellegen).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from layout_app.charting.charts import TITLES, Spots, Value
from layout_app.charting.keys import LEAST_EM, least_height_em
from layout_app.charting.styles import Style
from layout_app.geometry.arrays import FloatArray
from layout_app.physics.figures import number_text
from layout_app.physics.joints import joint_ohm

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from layout_app.model.layouts import Layout
    from layout_app.physics.currents import Currents
    from layout_app.plates.segments import Segment

HATCHES = {"cells": "", "joints": "----", "metal": "////"}
FEW = 40  # steps; of more, bars are too thin for hatching, and what joints lose becomes a line
DIAMOND: dict[str, Any] = {"markersize": 3.5, "markeredgewidth": 0.5}
BAR = 0.36  # of the distance of two segments
NEAR = 1.5  # the limit is drawn when it lies no further above everything else than this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VoltageDrop:
    """Voltage lost along the chain.

    Attributes
    ----------
    current_a : of the module
    metal_v : (S+1,) float array, lost in each segment
    joint_v, cell_v : (S,) float arrays, lost in each group, both joints of its cells together
    spread_v : (S+1,) float array, between the joints of a segment that lie furthest apart
    limit_v : what a sense tap may be off by such a spread
    """

    title: ClassVar[str] = TITLES["voltage_drop"]
    least_width_em: ClassVar[float] = LEAST_EM[0]
    header: ClassVar[tuple[str, ...]] = ("step", "part", "number", "drop_v", "lost_so_far_v", "spread_v")

    current_a: float
    metal_v: FloatArray
    joint_v: FloatArray
    cell_v: FloatArray
    spread_v: FloatArray
    limit_v: float

    @classmethod
    def of(cls, layout: Layout, segments: Sequence[Segment], currents: Currents) -> VoltageDrop:
        """Return the drops of a layout from the potentials of its joints.

        A group loses its source voltage less the step between the means of its two segments; its joints' part is what
        they turn into heat over the current, the rest is its cells'.
        """
        solved = currents.solved
        flow, current_a = solved.cell_current_a, solved.current_a or 1.0  # without current nothing is lost
        into_v, out_v = _mean_potentials_v(segments, solved.contact_v, flow)
        squares = np.bincount(layout.cells.groups, weights=flow**2, minlength=layout.n_series + 1)[1:]
        joint_v = np.asarray(2 * joint_ohm(layout.joints) * squares / current_a, dtype=np.float64)
        lands = (v[: len(s.window_cells)] for s, v in zip(segments, solved.contact_v, strict=True))
        return cls(
            current_a=solved.current_a,
            metal_v=into_v - out_v,
            joint_v=joint_v,
            cell_v=layout.cell_type.voltage_nominal_v - (into_v[1:] - out_v[:-1]) - joint_v,
            spread_v=np.array([float(np.ptp(v)) for v in lands]),
            limit_v=layout.limits.sense_error_v,
        )

    @property
    def total_v(self) -> float:
        """Lost from terminal to terminal."""
        return float(self.metal_v.sum() + self.joint_v.sum() + self.cell_v.sum())

    @property
    def summary(self) -> str:
        """What is lost in all, in which parts, and in which segment most."""
        parts = (("cells", self.cell_v), ("joints", self.joint_v), ("metal", self.metal_v))
        said = ", ".join(f"{name} {_volts(float(lost.sum()))}" for name, lost in parts)
        worst, uneven = int(self.metal_v.argmax()), int(self.spread_v.argmax())
        return (
            f"At {number_text(self.current_a)} A {_volts(self.total_v)} are lost from terminal to terminal: {said}; of "
            f"the segments, number {worst} loses most, {_volts(float(self.metal_v[worst]))}. The joints on segment "
            f"{uneven} lie furthest apart, {_volts(float(self.spread_v[uneven]))}."
        )

    @property
    def rows(self) -> list[tuple[Value, ...]]:
        """From terminal to terminal: a segment, then joints and cells of the group after it."""
        steps: list[tuple[str, int, float, Value]] = []
        for k, metal in enumerate(self.metal_v.tolist()):
            steps.append(("segment", k, metal, float(self.spread_v[k])))
            if k < len(self.cell_v):
                steps.append(("joints of group", k + 1, float(self.joint_v[k]), ""))
                steps.append(("cells of group", k + 1, float(self.cell_v[k]), ""))
        so_far = np.cumsum([drop for _, _, drop, _ in steps]).tolist()
        return [
            (step, part, number, drop, lost, spread)
            for step, ((part, number, drop, spread), lost) in enumerate(zip(steps, so_far, strict=True), 1)
        ]

    # -- drawing ------------------------------------------------------------------------------------------------

    def draw(self, figure: Figure, style: Style) -> tuple[Spots, ...]:
        """Draw what is lost so far, and each step; groups and segments are spots."""
        from layout_app.charting.axes import name_axes, put_key, two_panels

        room = put_key(figure, style, *self._key(style))
        chain, steps = two_panels(figure, style, room, (1, 1))
        name_axes(chain, style, "group, from the negative to the positive terminal", "lost so far, V")
        last = len(self.cell_v)
        name_axes(steps, style, f"segment (0: negative, {last}: positive terminal)", "lost in each, mV")
        return self._draw_chain(chain, style), self._draw_steps(steps, style)

    def _key(self, style: Style) -> tuple[list[Artist], list[str]]:
        from matplotlib.lines import Line2D
        from matplotlib.patches import Patch

        handles: list[Artist] = [
            Patch(facecolor=colour, edgecolor=style.ink, linewidth=0.5, hatch=hatch)
            for colour, hatch in zip(style.fills, HATCHES.values(), strict=False)
        ]
        if not self._is_short:
            handles.append(Line2D([], [], color=style.lines[0], linewidth=1.3))
        handles.append(Line2D([], [], linestyle="none", marker="D", color=style.lines[1], **DIAMOND | _edge(style)))
        if self._shows_limit:
            handles.append(Line2D([], [], color=style.error, linewidth=1.1, linestyle=(0, (3, 1.5))))
        return handles, self._key_words()

    def _key_words(self) -> list[str]:
        return [
            *HATCHES,
            *([] if self._is_short else ["joints, each group"]),
            "joints of a segment that lie furthest apart",
            *([f"limit of that, {1e3 * self.limit_v:g} mV"] if self._shows_limit else []),
        ]

    def least_height_em(self, width_em: float) -> float:
        """Return the height both panels and the key need."""
        return least_height_em(width_em, self._key_words())

    @property
    def _is_short(self) -> bool:
        return len(self.cell_v) <= FEW

    @property
    def _shows_limit(self) -> bool:
        return self.limit_v <= NEAR * max(float(v.max()) for v in (self.metal_v, self.joint_v, self.spread_v))

    def _draw_chain(self, axes: Axes, style: Style) -> Spots:
        """Draw a group as a slope around its number, a segment as a step halfway between two groups."""
        from matplotlib.ticker import MaxNLocator

        n = len(self.cell_v)
        x = np.repeat(np.arange(n + 1) + 0.5, 2)
        metal = np.concatenate([[0.0], np.repeat(np.cumsum(self.metal_v), 2)[:-1]])
        joints, cells = (np.repeat(np.concatenate([[0.0], np.cumsum(v)]), 2) for v in (self.joint_v, self.cell_v))
        lower = np.zeros_like(metal)
        for part, colour, hatch in reversed(
            [*zip((cells, joints, metal), style.fills, HATCHES.values(), strict=False)]
        ):
            axes.fill_between(x, lower, lower + part, facecolor=colour, edgecolor=style.ink, linewidth=0.5, hatch=hatch)
            lower = lower + part
        axes.plot(x, lower, color=style.ink, linewidth=1.2)
        axes.set_xlim(0.5, n + 0.5)
        axes.set_ylim(0, 1.05 * float(lower.max()) or 1.0)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10], min_n_ticks=1))
        middle = (lower[1:-1:2] + lower[2::2]) / 2
        words = [
            f"Group {k + 1}: cells {_volts(cell)}, joints {_volts(joint)}; {_volts(so_far)} lost up to its end"
            for k, (cell, joint, so_far) in enumerate(
                zip(self.cell_v.tolist(), self.joint_v.tolist(), lower[2::2].tolist(), strict=True)
            )
        ]
        none = np.full(n, -1)
        at = np.column_stack([np.arange(1, n + 1), middle])
        return Spots(axes=axes, at=at, words=words, cells=none, segments=none)

    def _draw_steps(self, axes: Axes, style: Style) -> Spots:
        from matplotlib.ticker import MaxNLocator

        number, between = np.arange(len(self.metal_v)), np.arange(len(self.joint_v)) + 0.5
        if self._is_short:
            edges: dict[str, Any] = {"edgecolor": style.ink, "linewidth": 0.4}
            axes.bar(number, 1e3 * self.metal_v, BAR, color=style.fills[2], hatch=HATCHES["metal"], **edges)
            axes.bar(between, 1e3 * self.joint_v, BAR, color=style.fills[1], hatch=HATCHES["joints"], **edges)
        else:
            axes.bar(number, 1e3 * self.metal_v, 2 * BAR, color=style.fills[2], edgecolor=style.ink, linewidth=0.3)
            axes.plot(between, 1e3 * self.joint_v, color=style.lines[0], linewidth=1.3)
        axes.plot(number, 1e3 * self.spread_v, "D", color=style.lines[1], **DIAMOND | _edge(style))
        if self._shows_limit:
            axes.axhline(1e3 * self.limit_v, color=style.error, linewidth=1.1, linestyle=(0, (3, 1.5)))
        axes.set_xlim(-0.6, len(number) - 0.4)
        axes.set_ylim(bottom=0)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10], min_n_ticks=1))
        words = [
            f"Segment {k}: {_volts(lost)} lost in its metal; its joints lie up to {_volts(spread)} apart"
            for k, (lost, spread) in enumerate(zip(self.metal_v.tolist(), self.spread_v.tolist(), strict=True))
        ]
        at = np.column_stack([number, 1e3 * self.metal_v])
        return Spots(axes=axes, at=at, words=words, cells=np.full(len(number), -1), segments=number)


def _edge(style: Style) -> dict[str, Any]:
    return {"markeredgecolor": style.ink}


def _mean_potentials_v(
    segments: Sequence[Segment], contact_v: Sequence[FloatArray], flow_a: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return (S+1,) twice: the mean potential, weighted by the current, at which it enters and leaves each segment."""
    into, out = [], []
    for segment, potential in zip(segments, contact_v, strict=True):
        lands_v, flow = potential[: len(segment.window_cells)], flow_a[segment.window_cells]
        positive = segment.is_positive_end
        into.append(_weighted(lands_v[positive], flow[positive]) if positive.any() else float(potential[-1]))
        out.append(_weighted(lands_v[~positive], flow[~positive]) if not positive.all() else float(potential[-1]))
    return np.array(into), np.array(out)


def _weighted(values: FloatArray, weights: FloatArray) -> float:
    total = float(weights.sum())
    return float((values * weights).sum()) / total if total else float(values.mean())


def _volts(volts: float) -> str:
    """Return a voltage as people read it, three digits.

    >>> _volts(0.000423), _volts(0.0281), _volts(1.443)
    ('0.423 mV', '28.1 mV', '1.44 V')
    """
    return f"{1e3 * volts:.3g} mV" if abs(volts) < 0.995 else f"{volts:.3g} V"
