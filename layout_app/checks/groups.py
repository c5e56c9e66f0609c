"""Groups: each has its cells, hangs together, and borders on the next one in the chain."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from layout_app.checks.findings import Finding, named, places
from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.geometry.neighbours import neighbours
from layout_app.model.housings import Housing
from layout_app.model.layouts import Layout
from layout_app.planning.grouping import REACH_PITCHES
from layout_app.planning.laying import closed_to_metal
from layout_app.planning.links import Links


def missing_groups(layout: Layout) -> Iterator[Finding]:
    """Every group of the chain must have cells."""
    empty = (np.flatnonzero(layout.group_sizes == 0) + 1).tolist()
    if empty:
        first, rest = empty[0], len(empty) - 1
        whom = f"Group {first} has" if not rest else f"Groups {first} and {rest} more have"
        yield Finding(
            rule="missing group",
            severity="error",
            message=f"{whom} no cells, so the chain of {layout.n_series} groups is open. Paint cells into every group "
            "or choose fewer groups in series.",
            measured=float(layout.n_series - len(empty)),
            limit=float(layout.n_series),
            unit="groups",
            source="definition",
        )


def uneven_groups(layout: Layout) -> Iterator[Finding]:
    """Every group must have as many cells as chosen; the smallest one limits the module."""
    sizes = layout.group_sizes
    for group in (np.flatnonzero((sizes != layout.n_parallel) & (sizes > 0)) + 1).tolist():
        cells, n_cells = layout.cells.of_group(group), int(sizes[group - 1])
        off, counted = n_cells - layout.n_parallel, f"{n_cells} {'cell' if n_cells == 1 else 'cells'}"
        what = f"{-off} too few: it is empty before the others" if off < 0 else f"{off} too many"
        yield Finding(
            rule="uneven group",
            severity="error",
            message=f"Group {group} has {counted}, {what}. Give every group {layout.n_parallel} cells.",
            measured=float(n_cells),
            limit=float(layout.n_parallel),
            unit="cells",
            places_mm=places(_middle_mm(layout, cells)),
            cells=tuple(cells.tolist()),
            source="cells in parallel chosen for this layout",
        )


def split_groups(layout: Layout) -> Iterator[Finding]:
    """The cells of a group must hang together through neighbours, or no single segment can reach them."""
    labels = _links(layout).pieces(layout.cells.groups)
    for group in range(1, layout.n_series + 1):
        cells = layout.cells.of_group(group)
        pieces, sizes = np.unique(labels[cells], return_counts=True)
        if len(pieces) < 2:
            continue
        parts = [cells[labels[cells] == piece] for piece in pieces[np.argsort(-sizes, kind="stable")]]
        apart = np.concatenate(parts[1:])
        verb = "stands" if len(apart) == 1 else "stand"
        yield Finding(
            rule="split group",
            severity="error",
            message=f"Group {group} falls into {len(parts)} parts that are no neighbours; {named(apart.tolist())} "
            f"{verb} apart from the rest. Trade for cells beside the rest of the group.",
            measured=float(len(parts)),
            limit=1.0,
            unit="parts",
            places_mm=places(np.concatenate([_middle_mm(layout, part) for part in parts[1:]])),
            cells=tuple(apart.tolist()),
            source="definition",
        )


def steps_apart(layout: Layout) -> Iterator[Finding]:
    """Each group must border on the next: their common segment carries the whole current across that border."""
    groups = layout.cells.groups
    low, high = np.sort(groups[_links(layout).pairs], axis=1).T
    bordering = set(low[(high - low == 1) & (low > 0)].tolist())
    sizes = layout.group_sizes
    for group in range(1, layout.n_series):
        if group in bordering or not sizes[group - 1 : group + 1].all():
            continue
        here, there = layout.cells.of_group(group), layout.cells.of_group(group + 1)
        yield Finding(
            rule="step apart",
            severity="error",
            message=f"Groups {group} and {group + 1} have no border in common, so segment {group} cannot be one piece. "
            "Repaint cells until the two groups touch.",
            measured=0.0,
            limit=1.0,
            unit="neighbouring pairs",
            places_mm=places(np.concatenate([_middle_mm(layout, here), _middle_mm(layout, there)])),
            segments=(group,),
            source="definition",
        )


def _links(layout: Layout) -> Links:
    """Return which cells are neighbours, as planning sees it: across a border that metal can cross."""
    return _links_between(
        layout.cells.centres_mm.tobytes(), layout.lattice.pitch_mm, layout.housing, layout.plates.setback_mm
    )


@lru_cache(maxsize=2)  # two rules ask, and repainting cells moves none
def _links_between(centres: bytes, pitch_mm: float, housing: Housing, setback_mm: float) -> Links:
    centres_mm = np.frombuffer(centres).reshape(-1, 2)
    found = neighbours(centres_mm, REACH_PITCHES * pitch_mm, closed_to_metal(housing, setback_mm))
    return Links(centres_mm, found.pairs, found.borders_mm, pitch_mm)


def _middle_mm(layout: Layout, cells: IntArray) -> PointArray:
    """Return (1, 2): the cell of a set nearest to the middle of them all, a place that is on a cell."""
    centres = layout.cells.centres_mm[cells]
    off_mm = np.hypot(*(centres - centres.mean(axis=0)).T)
    return centres[[int(off_mm.argmin())]]
