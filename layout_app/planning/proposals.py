"""Proposals: which modules a housing could hold to meet a target, ranked, each with what it lacks.

Counting is all that is done here: the housing is filled once for each cell and gap and kept, so that the list can
follow somebody typing. Groups are formed only for the proposals looked at (`laid`), and `chain_lacks` tells what came
of that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import get_args

import numpy as np

from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.layouts import MAX_SERIES, Chain, Layout
from layout_app.planning.filling import Arrangement, arrangements

MOST_SHOWN = 24
MOST_SERIES_TRIED = 3  # numbers of groups that all keep within the voltages asked for
WAYS_OF_A_KIND = 2  # row directions shown of each kind of lattice
ROUNDING = 1e-9
SAME_SPACING = 0.01  # of the pitch: nobody would see the difference


class UnclearTargetError(LayoutError):
    """Nothing says how many groups stand in series."""

    def __init__(self) -> None:
        super().__init__("Give the groups in series or a voltage: without either any number of groups would do.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What the module shall be and do; None or 0: not asked for.

    `lowest_v` is what the empty module must not fall below, `highest_v` what the full one must not exceed. Currents
    are the whole module's.
    """

    n_series: int | None = None
    n_parallel: int | None = None
    lowest_v: float | None = None
    highest_v: float | None = None
    energy_wh: float | None = None
    energy_wh_l: float | None = None  # per litre of housing
    current_a: float = 0.0
    peak_a: float = 0.0
    chain: Chain | None = None

    @property
    def asks_for_energy(self) -> bool:
        """Whether fewer cells can be enough."""
        return bool(self.energy_wh or self.energy_wh_l)


@dataclass(frozen=True, slots=True)
class Lack:
    """What a proposal does not do, in words, and by what share it falls short (0 to 1, 1 for things all or nothing)."""

    words: str
    share: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Proposal:
    """S × P cells on the sites of one arrangement, and the shape of their chain."""

    n_series: int
    n_parallel: int
    chain: Chain
    arrangement: Arrangement
    cell_type: CellType
    volume_l: float  # of the housing, keep-outs included
    lacks: tuple[Lack, ...] = ()

    @property
    def n_cells(self) -> int:
        """S · P."""
        return self.n_series * self.n_parallel

    @property
    def n_spare(self) -> int:
        """Sites left empty; negative when they do not suffice."""
        return len(self.arrangement) - self.n_cells

    @property
    def fraction_of_bound(self) -> float:
        """Cells over a proven upper bound on how many fit in any arrangement."""
        return self.n_cells / self.arrangement.upper_bound

    @property
    def energy_wh(self) -> float:
        """Cells × capacity × nominal voltage."""
        return self.n_cells * self.cell_type.capacity_ah * self.cell_type.voltage_nominal_v

    @property
    def energy_wh_l(self) -> float:
        """Energy per litre inside the housing's wall."""
        return self.energy_wh / self.volume_l

    @cached_property
    def shortfall(self) -> float:
        """Sum of the shares of everything it lacks."""
        return sum(lack.share for lack in self.lacks)


@lru_cache(maxsize=32)
def fillings(housing: Housing, cell_type: CellType, gap_mm: float) -> tuple[Arrangement, ...]:
    """Return filling.arrangements, kept for the housings and cells asked for last."""
    return arrangements(housing, cell_type, gap_mm=gap_mm)


def proposals(
    housing: Housing, cell_type: CellType, target: Target, choices: Sequence[Arrangement]
) -> tuple[Proposal, ...]:
    """Return what could be built, best first: what meets the target, then what falls short of it by the least.

    Where an energy is asked for, the fewest cells that give it come first, then the fullest housings; otherwise the
    fullest come first.

    Parameters
    ----------
    choices : arrangements of the cell in this housing, most cells first, as `fillings` returns them

    Raises
    ------
    UnclearTargetError : neither groups in series nor a voltage are given
    """
    volume_l = housing.outline.area_mm2 * cell_type.height_mm * 1e-6
    few = _few_of_each_kind(choices)
    found = [
        _judged(Proposal(n_series=s, n_parallel=p, chain=chain, arrangement=choice, cell_type=cell_type,
                         volume_l=volume_l), target)
        for s in _series(cell_type, target)
        for choice in few
        for p in _parallels(cell_type, target, s, len(choice), volume_l)
        for chain in _chains(target)
    ]  # fmt: skip
    sign = 1 if target.asks_for_energy else -1
    place = {id(choice): k for k, choice in enumerate(few)}
    found.sort(key=lambda p: (bool(p.lacks), round(p.shortfall, 9), sign * p.n_cells, place[id(p.arrangement)]))
    return tuple(found[:MOST_SHOWN])


def laid(brief: Layout, proposal: Proposal) -> Layout:
    """Return the proposal carried out: groups formed on its sites; housing, metal and words are those of `brief`."""
    from layout_app.planning.laying import lay_into

    empty = replace(
        brief,
        cell_type=proposal.cell_type,
        lattice=proposal.arrangement.lattice,
        cells=Cells(np.empty((0, 2))),
        n_series=proposal.n_series,
        n_parallel=proposal.n_parallel,
        chain=proposal.chain,
    )
    return lay_into(empty, [proposal.arrangement])


def chain_lacks(layout: Layout) -> tuple[Lack, ...]:
    """Return what is wrong with a layout's groups and their order; empty when the chain is sound."""
    from layout_app.geometry.neighbours import neighbours
    from layout_app.planning.grouping import REACH_PITCHES, defects
    from layout_app.planning.laying import closed_to_metal
    from layout_app.planning.links import Links

    pitch_mm, centres = layout.lattice.pitch_mm, layout.cells.centres_mm
    found = neighbours(centres, REACH_PITCHES * pitch_mm, closed_to_metal(layout.housing, layout.plates.setback_mm))
    links = Links(centres, found.pairs, found.borders_mm, pitch_mm)
    said = defects(links, layout.cells.groups, layout.n_series, layout.n_parallel)
    return tuple(Lack(words, 1.0) for words in said)


# -- what is worth proposing ----------------------------------------------------------------------------------------


def _few_of_each_kind(choices: Sequence[Arrangement]) -> list[Arrangement]:
    """Return the fullest arrangements of each kind, in the order given; of two that are the same, the first."""
    kept: list[Arrangement] = []
    for choice in choices:
        if any(_is_same(choice, other) for other in kept):
            continue
        if sum(other.lattice.kind == choice.lattice.kind for other in kept) < WAYS_OF_A_KIND:
            kept.append(choice)
    return kept


def _is_same(one: Arrangement, other: Arrangement) -> bool:
    """Whether rows, count and spacing agree: a compressed lattice may turn out not to be compressed at all."""
    a, b = one.lattice, other.lattice
    near = abs(a.along_mm - b.along_mm) + abs(a.row_mm - b.row_mm) < SAME_SPACING * a.pitch_mm
    return near and len(one) == len(other) and a.angle_rad == b.angle_rad


def _series(cell: CellType, target: Target) -> list[int]:
    """Return the numbers of groups that serve the target, those nearest the middle of its voltages first."""
    if target.n_series:
        return [target.n_series]
    if target.lowest_v is None and target.highest_v is None:
        raise UnclearTargetError
    least = 1 if target.lowest_v is None else max(1, math.ceil(target.lowest_v / cell.voltage_min_v - ROUNDING))
    if target.highest_v is None:
        return [min(least, MAX_SERIES)]
    most = max(1, math.floor(target.highest_v / cell.voltage_max_v + ROUNDING))
    if target.lowest_v is None:
        return [min(most, MAX_SERIES)]
    if least > most:  # no number does: what just keeps one of the two
        return sorted({min(least, MAX_SERIES), min(most, MAX_SERIES)})
    middle = (target.lowest_v + target.highest_v) / 2 / cell.voltage_nominal_v
    within = range(least, min(most, MAX_SERIES) + 1)
    return sorted(within, key=lambda s: (abs(s - middle), s))[:MOST_SERIES_TRIED]


def _parallels(cell: CellType, target: Target, n_series: int, n_sites: int, volume_l: float) -> list[int]:
    """Return numbers of cells in parallel: the one asked for, or the least that will do and the most that fit."""
    if target.n_parallel:
        return [target.n_parallel]
    least, most = _least_parallel(cell, target, n_series, volume_l), n_sites // n_series
    if most == 0:
        return [max(least, 1)]  # not even one in each group: told as cells too few
    return sorted({least, most}) if target.asks_for_energy and 0 < least < most else [most]


def _least_parallel(cell: CellType, target: Target, n_series: int, volume_l: float) -> int:
    """Return how many cells in parallel energy and currents call for."""
    per_parallel_wh = n_series * cell.capacity_ah * cell.voltage_nominal_v
    wanted = (
        (target.energy_wh or 0.0) / per_parallel_wh,
        (target.energy_wh_l or 0.0) * volume_l / per_parallel_wh,
        target.current_a / cell.continuous_current_a,
        target.peak_a / cell.peak_current_a,
    )
    return math.ceil(max(wanted) - ROUNDING)


def _chains(target: Target) -> tuple[Chain, ...]:
    return (target.chain,) if target.chain else get_args(Chain)


# -- what a proposal lacks ------------------------------------------------------------------------------------------


def _judged(proposal: Proposal, target: Target) -> Proposal:
    return replace(proposal, lacks=tuple(_lacks(proposal, target)))


def _lacks(proposal: Proposal, target: Target) -> Iterator[Lack]:
    if proposal.n_spare < 0:
        yield Lack(f"{-proposal.n_spare} sites too few", -proposal.n_spare / proposal.n_cells)
    yield from _voltage_lacks(proposal, target)
    for has, wanted, unit in (
        (proposal.energy_wh, target.energy_wh, "Wh"),
        (proposal.energy_wh_l, target.energy_wh_l, "Wh/l"),
    ):
        if wanted and has < wanted * (1 - ROUNDING):
            yield Lack(f"{has:.4g} of {wanted:.4g} {unit}", 1 - has / wanted)
    cell = proposal.cell_type
    for module_a, rating_a, how_long in (
        (target.current_a, cell.continuous_current_a, "continuously"),
        (target.peak_a, cell.peak_current_a, "for ten seconds"),
    ):
        each_a = module_a / proposal.n_parallel
        if each_a > rating_a * (1 + ROUNDING):
            yield Lack(f"{each_a:.3g} A a cell {how_long}, it stands {rating_a:g} A", 1 - rating_a / each_a)
    if not cell.has_opposite_contacts:
        yield Lack("no metal yet for cells contacted at one end", 1.0)


def _voltage_lacks(proposal: Proposal, target: Target) -> Iterator[Lack]:
    empty_v = proposal.n_series * proposal.cell_type.voltage_min_v
    full_v = proposal.n_series * proposal.cell_type.voltage_max_v
    if target.lowest_v and empty_v < target.lowest_v * (1 - ROUNDING):
        yield Lack(f"{empty_v:.4g} V when empty, below {target.lowest_v:.4g} V", 1 - empty_v / target.lowest_v)
    if target.highest_v is not None and full_v > target.highest_v * (1 + ROUNDING):
        yield Lack(f"{full_v:.4g} V when full, above {target.highest_v:.4g} V", 1 - target.highest_v / full_v)
