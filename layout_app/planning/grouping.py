"""Grouping: divides cells into parallel groups in series order.

Several orders of visiting the cells are tried (see chains), each is cut into runs of P, mended by trading cells
across borders (see balancing) and judged: first by defects, then by the current density at the borders it crosses.
The best is kept, so a division is returned in every case, with its defects where there is no sound one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.neighbours import Neighbours, neighbours
from layout_app.model.layouts import Chain
from layout_app.planning.balancing import Effort, balanced, cut
from layout_app.planning.chains import Plan, Request, last_resorts, plans, threads
from layout_app.planning.links import Links
from layout_app.planning.steps import REACH_PITCHES, Step, border_density_per_mm, pair_borders_mm, step_sums, steps

__all__ = ["REACH_PITCHES", "Division", "Step", "divide", "steps"]

FAULT_COST = 4.0  # mark-up of a plan with one fault a group, before it is mended
PATIENCE_CELLS = 2000  # a module this large has plans mended that look up to twice as bad as the best, a smaller more
EFFORT = 500_000  # cells and groups looked at while mending plans: half a second or so
SMALL_GROUP = 4  # cells; smaller groups are better strung on a thread than mended
HAIR = 0.1  # of the pitch: the border a step without one is counted to have when plans are compared


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Division:
    """Cells divided into groups. `is_sound`: P cells a group, each in one piece and touching the next.

    Attributes
    ----------
    groups : (n,) int array, 1…S in series order from the start of the chain, 0 for a site left out
    defects : one sentence each, saying what is wrong and where; empty when sound
    """

    groups: IntArray
    defects: tuple[str, ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.defects


def divide(
    centres_mm: PointArray,
    *,
    pitch_mm: float,
    n_series: int,
    n_parallel: int,
    chain: Chain,
    start_rad: float | None = None,
    pairs: Neighbours | IntArray | None = None,
) -> Division:
    """Divide cells into S groups of P, each touching the next along as long a border as can be had.

    Parameters
    ----------
    centres_mm : (n, 2) float array, mm; with more than S · P, the spare ones are left out
    pitch_mm : centre to centre of nearest neighbours
    chain : "straight", terminals at opposite ends, or "folded", out and back, terminals side by side
    start_rad : direction towards the edge where the chain begins; None: an end of the longer side
    pairs : neighbouring cells, with their borders if at hand; worked out from the centres when not given
    """
    links = _links(centres_mm, pitch_mm, pairs)
    request = Request(n_series, n_parallel, chain, start_rad)
    kept = _largest_piece(links)
    if len(kept) < request.n_cells:
        kept = np.arange(len(centres_mm))
    inner = links.part(np.isin(np.arange(links.n_cells), kept))
    groups = np.zeros(len(centres_mm), dtype=np.int64)
    groups[kept] = _best_groups(inner, request)
    return Division(groups=groups, defects=defects(links, groups, n_series, n_parallel))


def _best_groups(links: Links, request: Request) -> IntArray:
    """Return the best division of a connected set of cells."""
    best = _Best(links, request)
    if not links.n_cells:
        return best.groups
    best.consider(plans(links, request))
    if links.n_cells < request.n_cells:  # no order of them can be sound
        return best.groups
    resorts = (threads, last_resorts) if request.n_parallel < SMALL_GROUP else (last_resorts, threads)
    for resort in resorts:
        if best.faults:
            best.consider(resort(links, request))
    return best.groups


class _Best:
    """The best division so far. Plans are mended in the order of how good they look, as long as they may still win."""

    def __init__(self, links: Links, request: Request) -> None:
        self.links, self.request = links, request
        self.groups: IntArray = np.zeros(links.n_cells, dtype=np.int64)
        self.faults: float = np.inf
        self.density: float = np.inf

    def consider(self, plans: Iterable[Plan]) -> None:
        """Mend and judge the plans that may be better than the best so far."""
        drafts: list[tuple[float, int, float, Plan, IntArray]] = []
        for plan in plans:
            groups = cut(plan.order[: self.request.n_cells], self.request.n_parallel, self.links.n_cells)
            faults, hope = self._faults(groups), self._density(groups, only_closed=True) * plan.handicap
            drafts.append((hope * (1 + FAULT_COST * faults / self.request.n_series), len(drafts), hope, plan, groups))
        effort = Effort(EFFORT)
        for outlook, _, hope, plan, groups in sorted(drafts, key=lambda draft: draft[:2]):
            hopeless = self.density * (1 + PATIENCE_CELLS / self.links.n_cells)
            if self.faults == 0 and (hope >= self.density or outlook >= hopeless):
                continue
            self._judge(groups, plan.handicap)
            if self._faults(groups) and effort.left > 0:
                mended = balanced(self.links, groups, self.request.n_series, self.request.n_parallel, effort)
                self._judge(mended, plan.handicap)

    def _judge(self, groups: IntArray, handicap: float) -> None:
        faults, density = self._faults(groups), self._density(groups) * handicap
        if (faults, density) < (self.faults, self.density):
            self.groups, self.faults, self.density = groups, faults, density

    def _faults(self, groups: IntArray) -> int:
        """Return how many pieces too many there are and how many steps without a border."""
        used = groups > 0
        n_split = len(np.unique(self.links.pieces(groups)[used])) - len(np.unique(groups[used]))
        return n_split + int((self._borders_mm(groups) <= 0).sum())

    def _density(self, groups: IntArray, *, only_closed: bool = False) -> float:
        """Return the rms current density at the borders per ampere, 1/mm; `only_closed`: steps without one left out."""
        border_mm = self._borders_mm(groups)
        return border_density_per_mm(border_mm[border_mm > 0] if only_closed else border_mm, HAIR * self.links.pitch_mm)

    def _borders_mm(self, groups: IntArray) -> FloatArray:
        return step_sums(groups, self.links.pairs, self.request.n_series, self.links.borders_mm)[1]


def _links(centres_mm: PointArray, pitch_mm: float, pairs: Neighbours | IntArray | None) -> Links:
    if pairs is None:
        pairs = neighbours(centres_mm, REACH_PITCHES * pitch_mm)
    if not isinstance(pairs, Neighbours):
        pairs = Neighbours(pairs, pair_borders_mm(centres_mm, pairs))
    return Links(centres_mm, pairs.pairs, pairs.borders_mm, pitch_mm)


def _largest_piece(links: Links) -> IntArray:
    """Return the cells of the largest connected piece, the first of equals, ascending."""
    if not links.n_cells:
        return np.empty(0, dtype=np.int64)
    pieces = links.pieces()
    return np.flatnonzero(pieces == np.argmax(np.bincount(pieces)))


def defects(links: Links, groups: IntArray, n_series: int, n_parallel: int) -> tuple[str, ...]:
    """Return what is wrong with a division, one sentence each."""
    found: list[str] = []
    counts = np.bincount(groups, minlength=n_series + 1)[1:]
    uneven = np.flatnonzero(counts != n_parallel) + 1
    if len(uneven):
        found.append(
            f"{int(counts.sum())} cells stand where {n_series} × {n_parallel} are asked for; "
            f"group{'s' if len(uneven) > 1 else ''} {_listed(uneven)} not full."
        )
    whole = np.bincount(links.pieces()) if links.n_cells else np.empty(0, dtype=np.int64)
    if len(whole) > 1 and whole.max() < n_series * n_parallel:
        found.append(
            f"The cells stand in {len(whole)} parts that do not touch; the largest has {whole.max()} of the "
            f"{n_series * n_parallel} cells the chain needs."
        )
    found += _splits(links, groups)
    n_pairs, _ = step_sums(groups, links.pairs, n_series, links.borders_mm)
    found += [f"Group {k} does not touch group {k + 1}." for k in (np.flatnonzero(n_pairs == 0) + 1).tolist()]
    return tuple(found)


def _splits(links: Links, groups: IntArray) -> list[str]:
    found = []
    pieces = links.pieces(groups)
    used = np.flatnonzero(groups > 0)
    of_piece, first = np.unique(pieces[used], return_index=True)
    owner = groups[used[first]]
    for group in np.unique(owner[np.bincount(owner)[owner] > 1]).tolist():
        parts = of_piece[owner == group]
        smallest = parts[np.argmin(np.bincount(pieces)[parts])]
        x, y = links.centres_mm[np.flatnonzero(pieces == smallest)[0]]
        found.append(f"Group {group} is in {len(parts)} pieces; one is at x {x:.1f} mm, y {y:.1f} mm.")
    return found


def _listed(numbers: IntArray) -> str:
    few = ", ".join(str(n) for n in numbers[:5].tolist())
    return few if len(numbers) <= 5 else f"{few} and {len(numbers) - 5} more"
