"""Charts: what every chart has in common, and all charts of a layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Protocol

from layout_app.charting.styles import Style
from layout_app.geometry.arrays import FloatArray, IntArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from layout_app.model.layouts import Layout
    from layout_app.physics.currents import Currents
    from layout_app.physics.joint_faults import JointFaults
    from layout_app.plates.segments import Segment

Value = str | int | float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spots:
    """Points of a chart that can say something, in reading order.

    Attributes
    ----------
    axes : whose coordinates they have
    at : (n, 2) float array, data coordinates
    words : n sentences
    cells, segments : (n,) int arrays, the cell (index) or segment each is about; -1 for none
    """

    axes: Axes
    at: FloatArray
    words: Sequence[str]
    cells: IntArray
    segments: IntArray


class Chart(Protocol):
    """Numbers and how to draw them.

    `title` names the chart; `least_width_em` is how wide it must be to be read, in heights of its font.
    """

    title: ClassVar[str]

    @property
    def least_width_em(self) -> float: ...
    def least_height_em(self, width_em: float) -> float:
        """Return how high it must be to be read at a width."""

    @property
    def summary(self) -> str:
        """What the chart says, in a sentence or two."""

    @property
    def header(self) -> tuple[str, ...]:
        """Names of the columns of its numbers, with units."""

    @property
    def rows(self) -> list[tuple[Value, ...]]:
        """Its numbers."""

    def draw(self, figure: Figure, style: Style) -> Sequence[Spots]:
        """Draw it into an empty figure."""


TITLES = {
    "cell_currents": "Cell currents",
    "loss_budget": "Loss budget",
    "voltage_drop": "Voltage drop along the chain",
    "opening_times": "Opening time of a joint",
}


def chart_of(key: str, layout: Layout, segments: Sequence[Segment], currents: Currents, faults: JointFaults) -> Chart:
    """Return one of the charts in TITLES of a layout whose currents are known."""
    from layout_app.charting.cell_currents import CellCurrents
    from layout_app.charting.loss_budget import LossBudget
    from layout_app.charting.opening_times import OpeningTimes
    from layout_app.charting.voltage_drop import VoltageDrop

    match key:
        case "cell_currents":
            return CellCurrents.of(layout, currents)
        case "loss_budget":
            return LossBudget.of(layout, currents)
        case "voltage_drop":
            return VoltageDrop.of(layout, segments, currents)
        case _:
            return OpeningTimes.of(layout, faults)
