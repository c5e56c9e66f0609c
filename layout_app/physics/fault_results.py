"""Fault results: what the scenarios of `faults` return, frozen, to be shown and to be judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout_app.model.validation import require_number
from layout_app.physics.bonds import Fuse
from layout_app.physics.fuses import OpeningCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """A scenario's place on the chart of opening time against current; time infinite for a lasting current."""

    label: str
    current_a: float
    time_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMargins:
    """What a joint carries in use, beside what opens it; all currents through the whole joint."""

    fuse: Fuse
    continuous_a: float
    peak_a: float
    peak_s: float
    opening_a: float  # least steady current that opens it
    rating_a: float  # what it may carry for ever: the chosen share of opening_a
    peak_limit_a: float  # opens it in just peak_s after the continuous current
    middle_continuous_c: float  # infinite when it melts
    middle_peak_c: float  # at the end of the peak
    peak_opening_s: float  # infinite when the peak never opens it

    @property
    def continuous_margin(self) -> float:
        """Rating over load; below 1 the bond is over its rating."""
        return _over(self.rating_a, self.continuous_a)

    @property
    def peak_margin(self) -> float:
        """The current that would open it within the peak over the peak; below 1 the peak opens it."""
        return _over(self.peak_limit_a, self.peak_a)

    @property
    def opens_at_peak(self) -> bool:
        """Whether the peak opens it before it is over."""
        return self.peak_opening_s <= self.peak_s

    @property
    def points(self) -> tuple[ChartPoint, ...]:
        """What must lie below the curve."""
        return (
            ChartPoint(label="continuous", current_a=self.continuous_a, time_s=math.inf),
            ChartPoint(label="peak", current_a=self.peak_a, time_s=self.peak_s),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortedCell:
    """A cell shorted inside, fed through its own joint by its neighbours in the group.

    "fault": at once, with everything cold and neighbours that give all their resistance allows. "sustained": with the
    bond hot and neighbours that give no more than they are rated for.
    """

    fuse: Fuse
    n_neighbours: int
    within_s: float  # how long the neighbours can be relied on
    source_v: float
    opening_a: float
    fault_a: float
    sustained_a: float
    fault_opening_s: float
    sustained_opening_s: float
    neighbour_fault_melting_s: float
    neighbour_sustained_melting_s: float
    neighbour_middle_c: float  # when the faulty joint has opened; infinite when it never does and theirs melt

    @property
    def neighbour_fault_a(self) -> float:
        """Through the joint of each neighbour, at once."""
        return self.fault_a / self.n_neighbours if self.n_neighbours else 0.0

    @property
    def neighbour_sustained_a(self) -> float:
        """Through the joint of each neighbour, sustained."""
        return self.sustained_a / self.n_neighbours if self.n_neighbours else 0.0

    @property
    def clears_at_fault(self) -> bool:
        """Whether the joint opens in time with all the current the neighbours' resistance allows."""
        return self.fault_opening_s <= self.within_s

    @property
    def clears(self) -> bool:
        """Whether the joint opens in time even with what the neighbours are rated to give."""
        return self.sustained_opening_s <= self.within_s

    @property
    def neighbours_survive(self) -> bool:
        """Whether no neighbour's joint begins to melt before the faulty one is open (or at all, if it never is)."""
        at_fault = _outlasts(self.neighbour_fault_melting_s, self.fault_opening_s)
        return at_fault and _outlasts(self.neighbour_sustained_melting_s, self.sustained_opening_s)

    @property
    def points(self) -> tuple[ChartPoint, ...]:
        """The faulty joint on the curve, its neighbours below it."""
        opening_s = self.fault_opening_s
        return (
            ChartPoint(label="shorted cell", current_a=self.fault_a, time_s=opening_s),
            ChartPoint(label="shorted cell, sustained", current_a=self.sustained_a, time_s=self.sustained_opening_s),
            ChartPoint(label="its neighbours", current_a=self.neighbour_fault_a, time_s=opening_s),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PathPart:
    """One link in the path of a shorted module's current, e.g. the bonds of a cell or a neck."""

    name: str  # e.g. "bond of each cell"
    fuse: Fuse
    share: float  # of the module's current

    def __post_init__(self) -> None:
        require_number(f"share of the {self.name}", self.share, above=0, most=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOpening:
    """What a link in the path does: its current and when it opens, infinite when never."""

    part: PathPart
    current_a: float
    opening_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortedTerminals:
    """The module's terminals shorted outside; parts in the order in which they would open."""

    current_a: float
    cell_current_a: float
    module_v: float  # what the last bond of a group, or any part all current crosses, has to interrupt
    arc_v: float  # from here on a parting metal may hold an arc
    parts: tuple[PartOpening, ...]

    @property
    def first(self) -> PartOpening | None:
        """What opens first; None when nothing does."""
        return self.parts[0] if self.parts and self.parts[0].opening_s < math.inf else None

    @property
    def may_arc(self) -> bool:
        """Whether what opens has more voltage across it than it takes to hold an arc."""
        return self.module_v >= self.arc_v

    @property
    def points(self) -> tuple[ChartPoint, ...]:
        """Each part on its own curve."""
        return tuple(
            ChartPoint(label=f"terminals shorted: {o.part.name}", current_a=o.current_a, time_s=o.opening_s)
            for o in self.parts
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LostBonds:
    """A group some of whose cells have lost their joints: what is left of them carries more."""

    n_parallel: int
    n_lost: int
    before: LoadMargins
    after: LoadMargins | None  # None when no cell is left

    @property
    def points(self) -> tuple[ChartPoint, ...]:
        """What the joints left must bear."""
        if self.after is None:
            return ()
        return tuple(
            ChartPoint(label=f"{point.label}, {self.n_lost} lost", current_a=point.current_a, time_s=point.time_s)
            for point in self.after.points
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FuseChart:
    """Numbers for a plot of opening time against current."""

    curve: OpeningCurve
    rating_a: float
    points: tuple[ChartPoint, ...]


def _outlasts(melting_s: float, opening_s: float) -> bool:
    return melting_s == math.inf or melting_s > opening_s


def _over(capability: float, load: float) -> float:
    return capability / load if load > 0 else math.inf
