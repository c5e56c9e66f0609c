"""Lattice: the regular pattern whose sites the cells stand on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray, rotation
from layout_app.model.errors import LayoutError
from layout_app.model.validation import require_choice, require_number, require_place

LatticeKind = Literal["hexagonal", "square", "compressed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """Rows of sites: `along_mm` apart within a row, rows `row_mm` apart.

    In hexagonal and compressed lattices every second row is shifted by half of `along_mm`; in a compressed one the
    rows are pushed together and the row is opened so that all neighbours keep the pitch. Row 0, column 0 is at the
    origin; rows run in the direction `angle_rad`.
    """

    kind: LatticeKind
    pitch_mm: float  # centre to centre of nearest neighbours
    along_mm: float
    row_mm: float
    angle_rad: float = 0.0
    origin_mm: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        require_choice("lattice", self.kind, get_args(LatticeKind))
        require_number("pitch", self.pitch_mm, above=0, most=1000, unit="mm")
        require_number("distance along a row", self.along_mm, least=self.pitch_mm * (1 - 1e-9), most=2000, unit="mm")
        require_number("row distance", self.row_mm, above=0, most=1000, unit="mm")
        require_number("lattice angle", self.angle_rad, least=-2 * math.pi, most=2 * math.pi)
        require_place("lattice origin", self.origin_mm)
        if self._nearest_mm < self.pitch_mm * (1 - 1e-6):
            raise LayoutError(
                f"The lattice's sites are {self._nearest_mm:g} mm apart, closer than its pitch of {self.pitch_mm:g}. "
                "Open the rows or the distance along a row."
            )

    @classmethod
    def hexagonal(cls, pitch_mm: float, angle_rad: float = 0.0, origin_mm: tuple[float, float] = (0.0, 0.0)) -> Lattice:
        """Return the densest lattice: every site has six neighbours at the pitch."""
        return cls(
            kind="hexagonal",
            pitch_mm=pitch_mm,
            along_mm=pitch_mm,
            row_mm=pitch_mm * math.sqrt(3) / 2,
            angle_rad=angle_rad,
            origin_mm=origin_mm,
        )

    @classmethod
    def square(cls, pitch_mm: float, angle_rad: float = 0.0, origin_mm: tuple[float, float] = (0.0, 0.0)) -> Lattice:
        """Return rows over one another: every site has four neighbours at the pitch."""
        return cls(
            kind="square",
            pitch_mm=pitch_mm,
            along_mm=pitch_mm,
            row_mm=pitch_mm,
            angle_rad=angle_rad,
            origin_mm=origin_mm,
        )

    @classmethod
    def compressed(
        cls, pitch_mm: float, along_mm: float, angle_rad: float = 0.0, origin_mm: tuple[float, float] = (0.0, 0.0)
    ) -> Lattice:
        """Return rows opened to `along_mm` (1 to √2 pitch), pushed together until neighbours are at the pitch."""
        require_number(
            "distance along a row", along_mm, least=pitch_mm, most=pitch_mm * math.sqrt(2) * (1 + 1e-9), unit="mm"
        )
        row_mm = math.sqrt(pitch_mm**2 - along_mm**2 / 4)
        return cls(
            kind="compressed",
            pitch_mm=pitch_mm,
            along_mm=along_mm,
            row_mm=row_mm,
            angle_rad=angle_rad,
            origin_mm=origin_mm,
        )

    @property
    def _nearest_mm(self) -> float:
        """Shortest distance from a site to one in the next row or the one after that."""
        return min(math.hypot(self.along_mm / 2, self.row_mm), 2 * self.row_mm) if self.is_staggered else self.row_mm

    @property
    def is_staggered(self) -> bool:
        """Whether every second row is shifted by half the distance along a row."""
        return self.kind != "square"

    def points_mm(self, row: FloatArray, column: FloatArray) -> PointArray:
        """Return (n, 2) positions of the sites with the given row and column numbers."""
        shift = np.mod(row, 2) / 2 if self.is_staggered else 0.0
        local = np.column_stack([(column + shift) * self.along_mm, row * self.row_mm])
        return np.asarray(local @ rotation(self.angle_rad).T + np.asarray(self.origin_mm), dtype=np.float64)
