"""Filling: how many cells a housing takes, and the lattices that take the most."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout_app.geometry.arrays import PointArray, rotation
from layout_app.model.cell_types import CellType
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice, LatticeKind
from layout_app.planning.bounds import upper_bound
from layout_app.planning.footprints import Footprint, require_room

KINDS: tuple[LatticeKind, ...] = ("hexagonal", "square", "compressed")


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


def _sites_mm(lattice: Lattice, footprint: Footprint) -> PointArray:
    x_min, y_min, x_max, y_max = footprint.outline.bounds_mm
    corners = np.array([(x, y) for x in (x_min, x_max) for y in (y_min, y_max)]) - lattice.origin_mm
    u, v = (corners @ rotation(lattice.angle_rad)).T
    rows = np.arange(math.floor(v.min() / lattice.row_mm), math.ceil(v.max() / lattice.row_mm) + 1)
    columns = np.arange(math.floor(u.min() / lattice.along_mm) - 1, math.ceil(u.max() / lattice.along_mm) + 1)
    row, column = (grid.ravel().astype(float) for grid in np.meshgrid(rows, columns, indexing="ij"))
    points = lattice.points_mm(row, column)
    return points[footprint.contains(points)]


def arrangements(
    housing: Housing,
    cell_type: CellType,
    *,
    gap_mm: float,
    kinds: Sequence[LatticeKind] = KINDS,
    angles_rad: Sequence[float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Arrangement, ...]:
    """Return the best arrangements found, most cells first."""
    require_room(housing, cell_type.diameter_mm)
    footprint = Footprint.from_housing(housing, cell_type.diameter_mm)
    pitch = cell_type.diameter_mm + gap_mm
    most = upper_bound(footprint, pitch)
    wanted = [_offsets(kind, pitch, angle, housing) for kind in kinds for angle in angles_rad or (0.0, math.pi / 2)]
    found = [max((Arrangement(t, _sites_mm(t, footprint), most) for t in some), key=len) for some in wanted]
    return tuple(sorted(found, key=lambda a: (-len(a), KINDS.index(a.lattice.kind), a.rotation_rad)))


def _offsets(kind: LatticeKind, pitch: float, angle: float, housing: Housing) -> list[Lattice]:
    base = {
        "hexagonal": Lattice.hexagonal(pitch, angle),
        "square": Lattice.square(pitch, angle),
        "compressed": Lattice.compressed(pitch, pitch * 1.02, angle),
    }[kind]
    x, y = housing.outline.bounds_mm[:2]
    steps = np.linspace(0, 1, 6)
    return [replace(base, origin_mm=(x + a * pitch, y + b * pitch)) for a in steps for b in steps]
