"""Laying: from a housing and a wish for S × P cells to a layout."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from layout_app.geometry.neighbours import Neighbours, neighbours
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import LatticeKind
from layout_app.model.layouts import MAX_SERIES, Chain, Layout
from layout_app.model.plates import PlateSettings
from layout_app.model.validation import MAX_CELLS, require_choice, require_count
from layout_app.planning.filling import KINDS, Arrangement, arrangements
from layout_app.planning.grouping import REACH_PITCHES, Division, divide
from layout_app.planning.shortfalls import TooFewSitesError, remedies
from layout_app.planning.steps import border_density_per_mm, step_sums

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout_app.geometry.arrays import PointArray

__all__ = ["TooFewSitesError", "closed_to_metal", "lay", "lay_into", "regroup"]

DEFAULT_MATERIAL = "copper"  # the catalogue's first: what links of this kind are mostly cut from (from memory)
CHORD_MM = 0.05  # arcs of walls are cut into chords this fine where borders meet them: far below any neck
CELLS_TRIED = 3000  # arrangements are divided until this many cells have been; the fullest one in any case
SPARE_COST = 0.2  # of the merit: an arrangement with as many spare sites as cells must be this much better


def lay(
    housing: Housing,
    cell_type: CellType,
    *,
    n_series: int,
    n_parallel: int,
    gap_mm: float = 1.0,
    lattice: LatticeKind | Literal["best"] | None = "best",
    chain: Chain = "straight",
    start_rad: float | None = None,
    plates: PlateSettings | None = None,
    name: str = "",
    design_current_a: float = 0.0,
    peak_current_a: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> Layout:
    """Return a layout of exactly S · P cells: the housing filled, spare sites left out, groups formed.

    Of the arrangements that hold enough cells the one is taken that gives a sound chain with the longest borders. If
    none gives a sound chain, the best attempt is returned; the checks say what is wrong with it.

    Parameters
    ----------
    lattice : kind to use; "best" or None: whichever serves best
    start_rad : direction towards the edge where the chain begins; None: an end of the longer side
    plates : None: 0.5 mm copper and the other defaults
    progress : called with the share done, 0 to 1; what it raises ends the work

    Raises
    ------
    TooFewSitesError : fewer sites than S · P; says how many and which gap or clearance would do
    NoRoomError : not a single cell fits
    """
    _require_sane_request(n_series, n_parallel, lattice)
    kinds = KINDS if lattice is None or lattice == "best" else (lattice,)
    ranked = arrangements(housing, cell_type, gap_mm=gap_mm, kinds=kinds, progress=progress)
    n_cells = n_series * n_parallel
    fitting = [arrangement for arrangement in ranked if len(arrangement) >= n_cells]
    if not fitting:
        clearance_mm = housing.wall_clearance_mm
        ways = remedies(housing, cell_type, gap_mm, ranked[0], n_cells)
        raise TooFewSitesError(len(ranked[0]), n_series, n_parallel, gap_mm, clearance_mm, ways)
    layout = Layout(
        name=name,
        housing=housing,
        cell_type=cell_type,
        lattice=fitting[0].lattice,
        cells=Cells(np.empty((0, 2))),
        n_series=n_series,
        n_parallel=n_parallel,
        plates=plates or _default_plates(),
        chain=chain,
        design_current_a=design_current_a,
        peak_current_a=peak_current_a,
    )
    return lay_into(layout, fitting, start_rad=start_rad)


def lay_into(layout: Layout, choices: Sequence[Arrangement], *, start_rad: float | None = None) -> Layout:
    """Return the layout with its cells on the sites of the arrangement that serves its chain best.

    Cells are numbered group by group and within a group along the rows, so that a cell moved or traded later changes
    its own line of the file only, and a group's cells stand together in tables.

    Parameters
    ----------
    choices : arrangements with at least S · P sites each; the first ones are tried, all of a small module
    """
    best = min(_divided(layout, choices, start_rad), key=lambda found: found[0])
    _, arrangement, division = best
    used = np.flatnonzero(division.groups)
    order = used[np.argsort(division.groups[used], kind="stable")]
    cells = Cells(arrangement.centres_mm[order], division.groups[order])
    return replace(layout, lattice=arrangement.lattice, cells=cells)


def regroup(
    layout: Layout,
    *,
    n_series: int | None = None,
    n_parallel: int | None = None,
    chain: Chain | None = None,
    start_rad: float | None = None,
) -> Layout:
    """Return the layout with its cells divided anew; they keep their places and numbers. None: as the layout has it.

    Cells beyond S · P become unassigned, those that serve the chain least. With fewer than S · P the last groups stay
    short; the checks say so.
    """
    bare = replace(
        layout,
        cells=Cells(layout.cells.centres_mm),
        n_series=layout.n_series if n_series is None else n_series,
        n_parallel=layout.n_parallel if n_parallel is None else n_parallel,
        chain=layout.chain if chain is None else chain,
    )
    if not len(bare.cells):
        return bare
    division, _ = _division(bare, bare.cells.centres_mm, bare.lattice.pitch_mm, start_rad)
    return replace(bare, cells=bare.cells.regrouped(division.groups))


def _divided(
    layout: Layout, choices: Sequence[Arrangement], start_rad: float | None
) -> Iterator[tuple[tuple[int, float, int], Arrangement, Division]]:
    """Yield arrangements divided, each with its rank: unsound last, then by border density, spare sites counting."""
    n_cells, n_done = layout.n_series * layout.n_parallel, 0
    for k, arrangement in enumerate(choices):
        if k and n_done + len(arrangement) > CELLS_TRIED:
            return
        n_done += len(arrangement)
        pitch_mm = arrangement.lattice.pitch_mm
        division, found = _division(layout, arrangement.centres_mm, pitch_mm, start_rad)
        _, border_mm = step_sums(division.groups, found.pairs, layout.n_series, found.borders_mm)
        cost = border_density_per_mm(border_mm, pitch_mm / 10)
        n_spare = len(arrangement) - n_cells
        yield (len(division.defects), cost * (1 + SPARE_COST * n_spare / n_cells), k), arrangement, division


def _division(
    layout: Layout, centres_mm: PointArray, pitch_mm: float, start_rad: float | None
) -> tuple[Division, Neighbours]:
    found = neighbours(centres_mm, REACH_PITCHES * pitch_mm, closed_to_metal(layout.housing, layout.plates.setback_mm))
    division = divide(
        centres_mm,
        pitch_mm=pitch_mm,
        n_series=layout.n_series,
        n_parallel=layout.n_parallel,
        chain=layout.chain,
        start_rad=start_rad,
        pairs=found,
    )
    return division, found


def closed_to_metal(housing: Housing, setback_mm: float) -> BaseGeometry:
    """Return the area around the footprint and in it that no segment may cover: walls, keep-outs and the setback."""
    import shapely

    inside = housing.outline.polygon(CHORD_MM)
    keep_outs = [loop.polygon(CHORD_MM).buffer(setback_mm) for loop in housing.keep_outs]
    x_min, y_min, x_max, y_max = inside.bounds
    margin_mm = max(x_max - x_min, y_max - y_min)  # no border reaches further out than the housing is large
    around = shapely.box(x_min - margin_mm, y_min - margin_mm, x_max + margin_mm, y_max + margin_mm)
    return shapely.union_all([around.difference(inside.buffer(-setback_mm)), *keep_outs])


def _require_sane_request(n_series: int, n_parallel: int, lattice: str | None) -> None:
    require_count("series", n_series, least=1, most=MAX_SERIES)
    require_count("parallel", n_parallel, least=1)
    require_count("series × parallel", n_series * n_parallel, most=MAX_CELLS)
    if lattice not in (None, "best"):
        require_choice("lattice", lattice, KINDS)


def _default_plates() -> PlateSettings:
    from layout_app.model.catalogues import material

    return PlateSettings(material=material(DEFAULT_MATERIAL))
