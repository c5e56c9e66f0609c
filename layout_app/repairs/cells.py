"""Repairs of cells that stand where they cannot. Nothing is offered that would change a locked cell."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from scipy.spatial import cKDTree

from layout_app.checks.cells import ROUNDING_MM, SAME_PLACE
from layout_app.checks.findings import Finding, named
from layout_app.edits import ChangeFill, EraseCells
from layout_app.edits.planning import gap_mm_of
from layout_app.edits.repairs import PutCells
from layout_app.geometry.arrays import BoolArray, PointArray
from layout_app.model.cells import UNASSIGNED
from layout_app.model.layouts import Layout
from layout_app.planning.filling import sites_mm
from layout_app.repairs.offers import Offer

NEAR_PITCHES = 1.2  # a site so near a cell of the group is its neighbour
FAR_PITCHES = 3.0  # further away, moving a cell is laying out, not repairing
MOST_MOVED = 50


def erase_doubles(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Of cells at one place, keep one: one that has a group, else the first."""
    doubled = _in_the_way(layout, finding.cells, SAME_PLACE * layout.cell_type.diameter_mm)
    if doubled:
        yield Offer(f"Erase {named(doubled)}", EraseCells(tuple(doubled)))


def erase_overlapping(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Erase as few cells as leave no overlap, those without a group first."""
    extra = _in_the_way(layout, finding.cells, layout.cell_type.diameter_mm - ROUNDING_MM)
    if extra:
        yield Offer(f"Erase {named(extra)}", EraseCells(tuple(extra)))


def move_to_free_sites(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Put each cell on the nearest free site beside its own group, if all find one."""
    moved = [cell for cell in finding.cells if not layout.cells.locked[cell]]
    if finding.rule == "overlap":
        moved = _in_the_way(layout, finding.cells, layout.cell_type.diameter_mm - ROUNDING_MM)
    sites = _sites_for(layout, moved) if 0 < len(moved) <= MOST_MOVED else None
    if sites is not None:
        where = "a free site" if len(moved) == 1 else "free sites"
        yield Offer(f"Move {named(moved)} to {where}", PutCells(tuple(moved), tuple(sites)))


def erase_loose(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Erase those of the cells that belong to no group."""
    groups = layout.cells.groups
    loose = [cell for cell in finding.cells if groups[cell] == UNASSIGNED and not layout.cells.locked[cell]]
    if loose:
        yield Offer(f"Erase {named(loose)}", EraseCells(tuple(loose)))


def fill_again(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Fill the housing again with the least gap that is allowed, where the lattice itself is too narrow."""
    if finding.limit is not None and gap_mm_of(layout) < finding.limit - ROUNDING_MM and not layout.cells.has_locks:
        gap_mm = math.ceil(finding.limit * 100 - 1e-6) / 100
        words = f"Fill and group again with a gap of {gap_mm:g} mm"
        yield Offer(words, ChangeFill(gap_mm=gap_mm))


def _in_the_way(layout: Layout, cells: tuple[int, ...], within_mm: float) -> list[int]:
    """Return cells, ascending, without which no two are nearer than `within_mm`; those with most such pairs first.

    None where two locked cells are.
    """
    numbers = np.array(sorted(cells), dtype=np.int64)
    pairs = cKDTree(layout.cells.centres_mm[numbers]).query_pairs(within_mm)
    near: dict[int, set[int]] = {cell: set() for cell in numbers.tolist()}
    for a, b in pairs:
        near[int(numbers[a])].add(int(numbers[b]))
        near[int(numbers[b])].add(int(numbers[a]))
    is_loose, locked = layout.cells.groups == UNASSIGNED, layout.cells.locked
    gone: list[int] = []
    while any(near.values()):
        free = [cell for cell, others in near.items() if others and not locked[cell]]
        if not free:
            return []
        worst = max(free, key=lambda cell: (is_loose[cell], len(near[cell]), cell))
        gone.append(worst)
        for other in near.pop(worst):
            near[other].discard(worst)
    return sorted(gone)


def free_sites_mm(layout: Layout, stays: BoolArray | None = None) -> PointArray:
    """Return (m, 2) sites of the lattice where a cell could stand beside those cells that stay."""
    sites = sites_mm(layout.lattice, layout.housing, layout.cell_type)
    centres = layout.cells.centres_mm if stays is None else layout.cells.centres_mm[stays]
    if not len(sites) or not len(centres):
        return sites
    away_mm = cKDTree(centres).query(sites)[0]
    return np.asarray(sites[away_mm >= layout.cell_type.diameter_mm - ROUNDING_MM])


def _sites_for(layout: Layout, cells: list[int]) -> list[tuple[float, float]] | None:
    """Return a free site for each cell, beside cells of its group that stay; None unless all find one."""
    taken: list[tuple[float, float]] = []
    stays = np.ones(len(layout.cells), dtype=np.bool_)
    stays[cells] = False
    free_mm = free_sites_mm(layout, stays)
    for cell in cells:
        site = _site_for(layout, cell, stays, free_mm, taken)
        if site is None:
            return None
        taken.append(site)
    return taken


def _site_for(
    layout: Layout, cell: int, stays: BoolArray, free_mm: PointArray, taken: list[tuple[float, float]]
) -> tuple[float, float] | None:
    centre, pitch_mm = layout.cells.centres_mm[cell], layout.lattice.pitch_mm
    group = int(layout.cells.groups[cell])
    mates = layout.cells.centres_mm[stays & (layout.cells.groups == group)]
    away_mm = np.hypot(*(free_mm - centre).T)
    for k in np.argsort(away_mm, kind="stable").tolist():
        if away_mm[k] > FAR_PITCHES * pitch_mm:
            return None
        x, y = free_mm[k].tolist()
        if any(math.dist((x, y), other) < layout.cell_type.diameter_mm for other in taken):
            continue
        if not group or (np.hypot(*(mates - (x, y)).T) <= NEAR_PITCHES * pitch_mm).any():
            return x, y
    return None
