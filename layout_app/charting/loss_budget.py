"""Loss budget: what cells, joints and segments turn into heat, at the continuous and at the peak current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from layout_app.charting.charts import TITLES, Spots, Value
from layout_app.charting.keys import LEAST_EM, least_height_em
from layout_app.charting.styles import HATCH, Style
from layout_app.geometry.arrays import FloatArray
from layout_app.physics.current_figures import tab_losses_w
from layout_app.physics.figures import number_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from layout_app.model.layouts import Layout
    from layout_app.physics.currents import Currents

PARTS = ("cells", "joints", "segments", "terminals")
BAR = 0.38  # of the distance of two parts, for each of the two bars


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LossBudget:
    """Losses of a module. They grow with the square of the current, for every part of it is a resistance.

    Attributes
    ----------
    current_a, peak_a : of the module; a peak of 0 is none
    nominal_v : of the module: its power is this times the current, as in the limit on losses in metal
    part_w : (4,) float array, of PARTS, at current_a; segments without the tabs, terminals are the tabs alone
    segment_w : (S+1,) float array, of each segment with its tabs, at current_a
    """

    title: ClassVar[str] = TITLES["loss_budget"]
    least_width_em: ClassVar[float] = LEAST_EM[0]
    header: ClassVar[tuple[str, ...]] = ("part", "loss_w", "share_of_power", "peak_loss_w", "peak_share_of_power")

    current_a: float
    peak_a: float
    nominal_v: float
    part_w: FloatArray
    segment_w: FloatArray

    @classmethod
    def of(cls, layout: Layout, currents: Currents) -> LossBudget:
        """Return the budget of a layout."""
        solved = currents.solved
        tabs_w, segments_w = float(sum(tab_losses_w(layout, solved))), float(solved.segment_loss_w.sum())
        return cls(
            current_a=solved.current_a,
            peak_a=layout.peak_current_a if solved.current_a else 0.0,
            nominal_v=layout.n_series * layout.cell_type.voltage_nominal_v,
            part_w=np.array([solved.cell_loss_w, solved.joint_loss_w, segments_w - tabs_w, tabs_w]),
            segment_w=solved.segment_loss_w,
        )

    @property
    def power_w(self) -> float:
        """What the module gives at current_a and its nominal voltage."""
        return self.nominal_v * abs(self.current_a)

    @property
    def peak_ratio(self) -> float:
        """Losses at the peak over those at current_a; 0 without a peak."""
        return (self.peak_a / self.current_a) ** 2 if self.current_a else 0.0

    @property
    def peak_power_w(self) -> float:
        """What the module gives at the peak and its nominal voltage."""
        return self.nominal_v * self.peak_a

    @property
    def summary(self) -> str:
        """What is lost in all, in which parts, and in which segment most."""
        total, worst = float(self.part_w.sum()), int(self.segment_w.argmax())
        parts = ", ".join(f"{name} {_watts(w)}" for name, w in zip(PARTS, self.part_w.tolist(), strict=True))
        peak = ""
        if self.peak_ratio:
            peak_w = self.peak_ratio * total
            peak = f" At the peak of {self.peak_a:g} A it is {_watts(peak_w)}, {_share(peak_w, self.peak_power_w)}."
        return (
            f"At {number_text(self.current_a)} A {_watts(total)} become heat, {_share(total, self.power_w)} of the "
            f"module's power: {parts}; of the segments, number {worst} makes most, "
            f"{_watts(float(self.segment_w[worst]))}.{peak}"
        )

    @property
    def rows(self) -> list[tuple[Value, ...]]:
        """Cells, joints, segments, terminals, then each segment; without a peak its columns are empty."""
        names = [*PARTS, *(f"segment {k}" for k in range(len(self.segment_w)))]
        return [
            (name, watts, _part(watts, self.power_w), *(
                (self.peak_ratio * watts, _part(self.peak_ratio * watts, self.peak_power_w))
                if self.peak_ratio else ("", "")
            ))
            for name, watts in zip(names, [*self.part_w.tolist(), *self.segment_w.tolist()], strict=True)
        ]  # fmt: skip

    # -- drawing ------------------------------------------------------------------------------------------------

    def draw(self, figure: Figure, style: Style) -> tuple[Spots, ...]:
        """Draw the parts, and each segment; parts and segments are spots."""
        from layout_app.charting.axes import put_key, two_panels

        room = put_key(figure, style, *self._key(style))
        parts, segments = two_panels(figure, style, room, (1, 1))
        return self._draw_parts(parts, style), self._draw_segments(segments, style)

    def _key(self, style: Style) -> tuple[list[Artist], list[str]]:
        from matplotlib.patches import Patch

        handles: list[Artist] = [Patch(facecolor=style.fills[0], edgecolor=style.ink, linewidth=0.6)]
        if self.peak_ratio:
            handles.append(Patch(facecolor=style.fills[1], edgecolor=style.ink, linewidth=0.6, hatch=HATCH))
        return handles, self._key_words()

    def _key_words(self) -> list[str]:
        said = f"at {number_text(self.current_a)} A, W and share of the module's power"
        return [said, f"at the peak of {self.peak_a:g} A"] if self.peak_ratio else [said]

    def least_height_em(self, width_em: float) -> float:
        """Return the height both panels and the key need."""
        return least_height_em(width_em, self._key_words())

    def _draw_parts(self, axes: Axes, style: Style) -> Spots:
        from matplotlib.ticker import MaxNLocator

        place = np.arange(len(PARTS), dtype=float)
        bars = [(self.part_w, self.power_w, style.fills[0], "")]
        if self.peak_ratio:
            bars.append((self.peak_ratio * self.part_w, self.peak_power_w, style.fills[1], HATCH))
        widest = float(max(watts.max() for watts, *_ in bars)) or 1.0
        for k, (watts, power_w, colour, hatch) in enumerate(bars):
            y = place + (k - (len(bars) - 1) / 2) * BAR
            axes.barh(y, watts, BAR, color=colour, edgecolor=style.ink, linewidth=0.6, hatch=hatch)
            for at, w in zip(y.tolist(), watts.tolist(), strict=True):
                axes.text(w + 0.015 * widest, at, f"{_watts(w)}, {_share(w, power_w)}", va="center", color=style.ink)
        axes.set_xlim(0, widest * (1.12 + 13 * style.em_in / (axes.bbox.width / axes.figure.dpi)))
        axes.set_ylim(len(PARTS) - 0.4, -0.6)
        axes.set_yticks(place, PARTS)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=5))
        axes.grid(visible=False)
        axes.set_xlabel("loss, W", color=style.ink)
        words = [self._words(f"All {name}", w) for name, w in zip(PARTS, self.part_w.tolist(), strict=True)]
        none = np.full(len(PARTS), -1)
        at = np.column_stack([self.part_w / 2, place])
        return Spots(axes=axes, at=at, words=words, cells=none, segments=none)

    def _draw_segments(self, axes: Axes, style: Style) -> Spots:
        from matplotlib.ticker import MaxNLocator

        number = np.arange(len(self.segment_w))
        axes.bar(number, self.segment_w, 0.7, color=style.fills[0], edgecolor=style.ink, linewidth=0.5)
        axes.set_xlim(-0.6, len(number) - 0.4)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10], min_n_ticks=1))
        axes.set_xlabel(f"segment (0: negative, {number[-1]}: positive terminal)", color=style.ink)
        axes.set_ylabel(f"loss at {number_text(self.current_a)} A, W", color=style.ink)
        axes.set_ylim(0, 1.08 * float(self.segment_w.max()) or 1.0)
        words = [self._words(f"Segment {k}", w) for k, w in enumerate(self.segment_w.tolist())]
        at = np.column_stack([number, self.segment_w / 2])
        return Spots(axes=axes, at=at, words=words, cells=np.full(len(number), -1), segments=number)

    def _words(self, name: str, watts: float) -> str:
        peak = f"; {_watts(self.peak_ratio * watts)} at the peak" if self.peak_ratio else ""
        return f"{name}: {_watts(watts)}, {_share(watts, self.power_w)} of the module's power{peak}"


def _watts(watts: float) -> str:
    """Return a power as people read it, three digits.

    >>> _watts(0.00423), _watts(28.13), _watts(2513.4)
    ('4.23 mW', '28.1 W', '2513 W')
    """
    if watts and abs(watts) < 0.0995:
        return f"{1e3 * watts:.3g} mW"
    return f"{watts:.0f} W" if abs(watts) >= 100 else f"{watts:.3g} W"


def _part(watts: float, power_w: float) -> float:
    return watts / power_w if power_w else 0.0


def _share(watts: float, power_w: float) -> str:
    return f"{100 * _part(watts, power_w):.2g} %"
