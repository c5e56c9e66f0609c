"""Edges: the stretch of wall along which a terminal's tabs may stand, and the places tried on it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from layout_app.geometry.arrays import PointArray

if TYPE_CHECKING:
    from layout_app.model.plates import Terminal
    from layout_app.plates.deriving import Plates

WIDEST_MM = 500.0  # a tab is no wider: the model's limit
CORNER_RAD = 0.35  # the wall turns more than this at a corner, from one sample to the next


@dataclass(frozen=True, slots=True, eq=False)
class TerminalEdge:
    """The longest stretch of a terminal's own wall without a corner, straight or gently curved.

    Attributes
    ----------
    points_mm : (n, 2) float array, along it in steps of about a millimetre
    is_straight : whether a tab as wide as the edge could be rooted all along it
    """

    points_mm: PointArray
    is_straight: bool

    @property
    def length_mm(self) -> float:
        """Along the edge, end to end."""
        steps = np.hypot(*np.diff(self.points_mm, axis=0).T)
        return float(steps.sum() + steps.mean()) if len(steps) else 0.0

    def at(self, share: float) -> tuple[float, float]:
        """Return the point at a share of the length, 0…1."""
        x, y = self.points_mm[round(share * (len(self.points_mm) - 1))].tolist()
        return x, y

    def turned_like(self, other: TerminalEdge) -> TerminalEdge:
        """Return this edge, run through in the direction of another."""
        mine, others = (edge.points_mm[-1] - edge.points_mm[0] for edge in (self, other))
        return self if float(mine @ others) >= 0 else replace(self, points_mm=self.points_mm[::-1])


@dataclass(frozen=True, slots=True)
class Place:
    """Where a terminal's tabs may be: in words, and as changes of the terminal. Places differ when their words do."""

    words: str
    changes: dict[str, Any] = field(compare=False)
    remark: str = field(default="", compare=False)


def terminal_edge(plates: Plates, is_positive: bool) -> TerminalEdge | None:
    """Return the edge of a terminal; None for a segment at no wall, or without room for its tab."""
    from layout_app.plates.tabs import GENTLE_WIDTHS

    layout = plates.layout
    segment, terminal, wall = (
        plates.segments[-1 if is_positive else 0],
        layout.terminals[is_positive],
        plates.ground.wall,
    )
    is_ours = np.isin(wall.beside, segment.window_cells) & (wall.radius_mm >= GENTLE_WIDTHS * terminal.width_mm)
    run = _longest_run(is_ours, wall.outward, wall.points_mm)
    if len(run) < terminal.width_mm:
        return None
    return TerminalEdge(wall.points_mm[run], is_straight=bool(np.isinf(wall.radius_mm[run]).all()))


def _longest_run(is_ours: np.ndarray, outward: PointArray, points_mm: PointArray) -> np.ndarray:
    """Return the indices, in order round the wall, of its longest stretch of ours that no corner divides."""
    n = len(is_ours)
    turn = (outward * np.roll(outward, -1, axis=0)).sum(axis=1) < math.cos(CORNER_RAD)  # after this sample
    goes_on = is_ours & np.roll(is_ours, -1) & ~turn
    if goes_on.all():
        return np.arange(n)
    order = (np.arange(n) + int(np.flatnonzero(~goes_on)[0]) + 1) % n
    runs = np.split(order, np.flatnonzero(~goes_on[order]) + 1)
    return max((run[is_ours[run]] for run in runs), key=len)


def tried_places(edge: TerminalEdge, terminal: Terminal) -> Iterator[Place]:
    """Yield the places to try on an edge: one end, quarter, middle, other end, both quarter points, the whole edge."""
    end = terminal.width_mm / 2 / edge.length_mm
    for words, share in (
        ("at one end", end), ("at a quarter", 0.25), ("in the middle", 0.5), ("at three quarters", 0.75),
        ("at the other end", 1 - end),
    ):  # fmt: skip
        if end <= share <= 1 - end:
            yield Place(words, {"near_mm": edge.at(share), "more_near_mm": ()})
    if terminal.width_mm <= edge.length_mm / 2:
        yield quarter_points(edge)
    if edge.is_straight:
        yield from _full_edge(edge, terminal)


def quarter_points(edge: TerminalEdge) -> Place:
    """Return two tabs, at the quarter points of an edge."""
    return Place(
        "by two tabs at the quarter points",
        {"near_mm": edge.at(0.25), "more_near_mm": (edge.at(0.75),)},
        "Join both tabs outside by equal lengths of bar.",
    )


def _full_edge(edge: TerminalEdge, terminal: Terminal) -> Iterator[Place]:
    wide_mm = math.floor(min(edge.length_mm, WIDEST_MM)) - 2.0  # the wall's samples lie half a step off its ends
    if wide_mm > 1.5 * terminal.width_mm:
        yield Place(
            "along the full edge",
            {"near_mm": edge.at(0.5), "more_near_mm": (), "width_mm": wide_mm},
            "Holds only where a bar outside, clamped along the whole tab, takes the current; one bolt does not.",
        )
