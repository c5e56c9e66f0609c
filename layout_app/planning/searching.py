"""Search: the best lattice of each kind in each direction of one footprint."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from layout_app.geometry.arrays import rotation
from layout_app.model.lattices import Lattice, LatticeKind
from layout_app.planning.borders import Border
from layout_app.planning.directions import across_too, edge_directions_rad, is_turning_worthwhile
from layout_app.planning.footprints import Footprint
from layout_app.planning.openings import openings_mm
from layout_app.planning.origins import Spacing, best_origin, most_sites
from layout_app.planning.rows import Rows

PERIOD_RAD: dict[LatticeKind, float] = {"hexagonal": math.pi / 3, "square": math.pi / 2, "compressed": math.pi}
MAX_DIRECTIONS: dict[LatticeKind, int] = {"hexagonal": 6, "square": 6, "compressed": 2}  # the longest edges; time
N_TURNS = 30  # angles of the first sweep through a period: steps of 2 to 3 degrees
N_OPENINGS = 4  # how many openings of a compressed lattice are looked at closely


@dataclass(frozen=True, eq=False)
class Search:
    """One footprint, moved so that the middle of its outline is the origin: far-off drawings lose no digits."""

    footprint: Footprint
    border: Border
    middle_mm: tuple[float, float]
    pitch_mm: float
    _rows: dict[float, Rows] = field(default_factory=dict)  # kinds share directions

    @classmethod
    def of(cls, footprint: Footprint, pitch_mm: float) -> Search | None:
        """Return the search, or None where the footprint is empty."""
        x_min, y_min, x_max, y_max = footprint.outline.bounds_mm
        middle = ((x_min + x_max) / 2, (y_min + y_max) / 2)
        centred = footprint.moved(-middle[0], -middle[1])
        border = Border.of(centred)
        return cls(centred, border, middle, pitch_mm) if len(border.radius_mm) else None

    def directions_rad(self, kind: LatticeKind) -> list[float]:
        """Return the row directions along and across the housing's edges that differ for this kind of lattice."""
        along_edges = edge_directions_rad(self.footprint)[: MAX_DIRECTIONS[kind]]
        return [float(angle) for angle in across_too(along_edges, PERIOD_RAD[kind])]

    @property
    def is_turning_worthwhile(self) -> bool:
        """Whether `best_turned` has a fair chance to find more than `best` in every direction of the edges."""
        return is_turning_worthwhile(self.footprint, self.footprint.area_mm2 / self.pitch_mm**2)

    def best(self, kind: LatticeKind, angle_rad: float) -> Lattice:
        """Return the lattice with the most sites found, rows in the given direction."""
        if kind != "compressed":
            return self._placed(self._unplaced(kind, angle_rad))[1]
        opened = [Lattice.compressed(self.pitch_mm, a, angle_rad) for a in self._openings_mm(angle_rad)]
        counts = most_sites(self._rows_along(angle_rad), [_spacing(lattice) for lattice in opened])
        likely = np.argsort(-counts, kind="stable")[:N_OPENINGS]
        found = [self._placed(opened[k]) for k in sorted(likely)]
        return max(found, key=lambda pair: pair[0])[1]

    def best_turned(self, kind: LatticeKind) -> Iterator[tuple[float, Lattice | None]]:
        """Sweep through all directions: yield the share done, and at the end the lattice with the most sites found."""
        step = PERIOD_RAD[kind] / N_TURNS
        angles = np.arange(N_TURNS) * step
        counts = np.empty(0)
        for k, angle in enumerate(angles):
            counts = np.append(counts, self._count(self._unplaced(kind, angle)))
            yield k / N_TURNS, None
        best = angles[np.argsort(-counts, kind="stable")[:3]]
        nearby = (best[:, None] + step * np.array([0.0, -0.5, -0.25, 0.25, 0.5])).ravel() % math.pi
        counts = np.array([self._count(self._unplaced(kind, angle)) for angle in nearby])
        best = nearby[np.argsort(-counts, kind="stable")[:3]]
        yield 1.0, max((self._placed(self._unplaced(kind, angle)) for angle in best), key=lambda pair: pair[0])[1]

    def _unplaced(self, kind: LatticeKind, angle_rad: float) -> Lattice:
        make = Lattice.hexagonal if kind == "hexagonal" else Lattice.square
        return make(self.pitch_mm, float(angle_rad))

    def _openings_mm(self, angle_rad: float) -> list[float]:
        return [float(a) for a in openings_mm(self._rows_along(angle_rad), self.pitch_mm)]

    def _count(self, lattice: Lattice) -> int:
        return int(most_sites(self._rows_along(lattice.angle_rad), [_spacing(lattice)])[0])

    def _placed(self, lattice: Lattice) -> tuple[int, Lattice]:
        origin = best_origin(self._rows_along(lattice.angle_rad), _spacing(lattice))
        x, y = rotation(lattice.angle_rad) @ (origin.x_mm, origin.y_mm) + self.middle_mm
        return origin.n_sites, replace(lattice, origin_mm=(float(x), float(y)))

    def _rows_along(self, angle_rad: float) -> Rows:
        if angle_rad not in self._rows:
            self._rows[angle_rad] = Rows.along(self.footprint, self.border, angle_rad)
        return self._rows[angle_rad]


def _spacing(lattice: Lattice) -> Spacing:
    return Spacing(lattice.along_mm, lattice.row_mm, lattice.is_staggered)
