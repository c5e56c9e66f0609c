"""Filling: how many cells a housing takes, and the lattices that take the most."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import PointArray, rotation
from layout_app.model.cell_types import CellType
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice, LatticeKind
from layout_app.model.validation import MAX_CELLS, require_choice, require_number
from layout_app.planning.bounds import upper_bound
from layout_app.planning.footprints import Footprint, no_room_error
from layout_app.planning.searching import Search

KINDS: tuple[LatticeKind, ...] = ("hexagonal", "square", "compressed")
MOST_SITES = 20 * MAX_CELLS  # lattice positions looked at: thin frames enclose many that do not fit


@dataclass(frozen=True, eq=False)
class Arrangement:
    """A lattice laid into a housing, with every site that fits; a cell could stand on each."""

    lattice: Lattice
    centres_mm: PointArray  # (n, 2) row by row, each row in its own direction
    upper_bound: int  # no arrangement of any kind holds more

    def __len__(self) -> int:
        return len(self.centres_mm)

    @property
    def rotation_rad(self) -> float:
        """Direction of the rows."""
        return self.lattice.angle_rad

    @property
    def fraction_of_bound(self) -> float:
        """Cells over the proven upper bound."""
        return len(self) / self.upper_bound


def sites_mm(lattice: Lattice, housing: Housing, cell_type: CellType) -> PointArray:
    """Return (n, 2) sites of the lattice at which a cell fits the housing, row by row, each row in its direction."""
    return _sites_mm(lattice, Footprint.from_housing(housing, cell_type.diameter_mm))


def arrangements(
    housing: Housing,
    cell_type: CellType,
    *,
    gap_mm: float,
    kinds: Sequence[LatticeKind] = KINDS,
    angles_rad: Sequence[float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Arrangement, ...]:
    """Return the best arrangement of each kind and row direction, most cells first.

    Rows are laid along the housing's straight edges (at most six directions, for compressed lattices two, the longest
    in total) and at right angles to them. In small and in mostly curved housings hexagonal and square lattices are also
    turned through all angles; the best is added where it holds more than every other of its kind. A hexagonal lattice
    is the compressed one that is not compressed at all: where it holds more than each compressed one, it is among the
    results even if only "compressed" was asked for.

    Parameters
    ----------
    gap_mm : clear gap between cans; the pitch is the nominal diameter and the gap
    kinds : lattices to try; the result holds at least one of each
    angles_rad : row directions to try instead of the housing's own
    progress : called with the share done, 0 to 1; what it raises ends the search

    Raises
    ------
    NoRoomError : not a single cell fits
    """
    require_number("gap", gap_mm, least=0, most=500, unit="mm")
    for kind in kinds:
        require_choice("lattice", kind, KINDS)
    footprint = Footprint.from_housing(housing, cell_type.diameter_mm)
    pitch_mm = cell_type.diameter_mm + gap_mm
    _require_sane_count(footprint.area_mm2 / pitch_mm**2, MAX_CELLS)
    search = Search.of(footprint, pitch_mm)
    if search is None:
        raise no_room_error(housing, cell_type.diameter_mm)
    most = upper_bound(footprint, pitch_mm)
    found: list[Arrangement] = []
    for share, lattice, must_beat in _lattices(search, kinds, angles_rad):
        if lattice is not None:
            arrangement = Arrangement(lattice, _sites_mm(lattice, footprint), most)
            if not must_beat or len(arrangement) > _most(found, lattice.kind):
                found.append(arrangement)
        if progress:
            progress(share)
    return _ranked(found, kinds)


def _lattices(
    search: Search, kinds: Sequence[LatticeKind], angles_rad: Sequence[float] | None
) -> Iterator[tuple[float, Lattice | None, bool]]:
    """Yield the share done, the lattice just found, if any, and whether it is only wanted if it beats its kind."""
    tried = [kind for kind in KINDS if kind in kinds or (kind == "hexagonal" and "compressed" in kinds)]
    turns = angles_rad is None and search.is_turning_worthwhile
    turned = [kind for kind in tried if kind != "compressed"] if turns else []
    n_stages = len(tried) + len(turned)
    for k, kind in enumerate(tried):
        angles = search.directions_rad(kind) if angles_rad is None else angles_rad
        for n, angle in enumerate(angles):
            yield (k + (n + 1) / len(angles)) / n_stages, search.best(kind, angle), False
    for k, kind in enumerate(turned):
        for share, lattice in search.best_turned(kind):
            yield (len(tried) + k + share) / n_stages, lattice, True


def _ranked(found: Sequence[Arrangement], kinds: Sequence[LatticeKind]) -> tuple[Arrangement, ...]:
    """Return the arrangements, most cells first; ties by kind and direction. An unasked hexagonal one must win."""
    unasked_mark = -1 if "hexagonal" in kinds else _most(found, "compressed")
    shown = [a for a in found if a.lattice.kind != "hexagonal" or len(a) > unasked_mark]
    return tuple(sorted(shown, key=lambda a: (-len(a), KINDS.index(a.lattice.kind), a.rotation_rad)))


def _most(found: Sequence[Arrangement], kind: LatticeKind) -> int:
    """Return the most cells any arrangement of a kind holds so far."""
    return max((len(a) for a in found if a.lattice.kind == kind), default=-1)


def _sites_mm(lattice: Lattice, footprint: Footprint) -> PointArray:
    x_min, y_min, x_max, y_max = footprint.outline.bounds_mm
    corners = np.array([(x, y) for x in (x_min, x_max) for y in (y_min, y_max)]) - lattice.origin_mm
    u, v = (corners @ rotation(lattice.angle_rad)).T
    rows = np.arange(math.floor(v.min() / lattice.row_mm), math.ceil(v.max() / lattice.row_mm) + 1)
    columns = np.arange(math.floor(u.min() / lattice.along_mm) - 1, math.ceil(u.max() / lattice.along_mm) + 1)
    _require_sane_count(len(rows) * len(columns), MOST_SITES)
    row, column = (grid.ravel().astype(np.float64) for grid in np.meshgrid(rows, columns, indexing="ij"))
    points = lattice.points_mm(row, column)
    return points[footprint.contains(points)]


def _require_sane_count(n_cells: float, most: int) -> None:
    """Raise where there would be more cells than anybody means."""
    if n_cells > most:
        raise LayoutError(
            f"About {n_cells:.0f} cells would go into this housing; at most {most} are worked on. "
            "Check the units of the drawing and the cell's diameter."
        )
