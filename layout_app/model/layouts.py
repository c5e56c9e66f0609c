"""Layout: the one value everything else is derived from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.errors import CellsOutOfRangeError, LayoutError
from layout_app.model.housings import Housing
from layout_app.model.joints import JointSettings
from layout_app.model.lattices import Lattice
from layout_app.model.limits import Limits
from layout_app.model.overrides import SegmentOverride
from layout_app.model.plates import Face, PlateSettings, Terminal
from layout_app.model.validation import (
    require_choice,
    require_count,
    require_flag,
    require_line,
    require_number,
    require_pair,
    require_text,
)

Chain = Literal["straight", "folded"]
MAX_SERIES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A module on paper: housing, cells with their groups, and the choices made about its metal. Immutable.

    `n_series` is S, the number of parallel groups; `n_parallel` the number of cells each is meant to have.
    `terminals` holds the tab of segment 0 (negative) and of segment S (positive); `overrides` what single segments do
    differently, at most one each, ascending.
    """

    name: str
    housing: Housing
    cell_type: CellType
    lattice: Lattice
    cells: Cells
    n_series: int
    n_parallel: int
    plates: PlateSettings
    terminals: tuple[Terminal, Terminal] = field(default_factory=lambda: (Terminal(), Terminal()))
    chain: Chain = "straight"
    first_group_up: bool = True  # whether group 1 stands with its positive end on the top face
    design_current_a: float = 0.0  # continuous, whole module
    peak_current_a: float = 0.0  # ten seconds, whole module
    limits: Limits = field(default_factory=Limits)
    joints: JointSettings = field(default_factory=JointSettings)
    notes: str = ""
    overrides: tuple[SegmentOverride, ...] = ()

    def __post_init__(self) -> None:
        require_line("name", self.name)
        require_text("notes", self.notes, longest=100_000)
        require_count("series", self.n_series, least=1, most=MAX_SERIES)
        require_count("parallel", self.n_parallel, least=1)
        require_count("series times parallel", self.n_series * self.n_parallel, least=1)
        require_pair("terminals", self.terminals)
        require_flag("first group up", self.first_group_up)
        require_choice("chain", self.chain, ("straight", "folded"))
        require_number("design current", self.design_current_a, least=0, most=1e6, unit="A")
        require_number("peak current", self.peak_current_a, least=0, most=1e6, unit="A")
        self._require_overrides()
        beyond = np.flatnonzero(self.cells.groups > self.n_series)
        if len(beyond):
            raise CellsOutOfRangeError(
                f"Cell {beyond[0] + 1} is in group {self.cells.groups[beyond[0]]}, but the chain has only "
                f"{self.n_series} groups.",
                beyond.tolist(),
            )

    def _require_overrides(self) -> None:
        numbers = [override.segment for override in self.overrides]
        for number, override in zip(numbers, self.overrides, strict=True):
            require_count("segment of an override", number, most=self.n_series)
            override.of(self.plates)  # raises where a value is out of range
        if numbers != sorted(set(numbers)):
            raise LayoutError("The overrides must be one for a segment, in ascending order.")

    def override_of(self, segment: int) -> SegmentOverride | None:
        """Return what is different about a segment, or None."""
        return next((override for override in self.overrides if override.segment == segment), None)

    def plates_of(self, segment: int) -> PlateSettings:
        """Return the plate settings that hold for a segment."""
        override = self.override_of(segment)
        return self.plates if override is None else override.of(self.plates)

    @property
    def n_segments(self) -> int:
        """S + 1."""
        return self.n_series + 1

    @property
    def group_sizes(self) -> IntArray:
        """(S,): how many cells each group has, group 1 first."""
        return np.bincount(self.cells.groups, minlength=self.n_series + 1)[1:]

    @property
    def positive_up(self) -> BoolArray:
        """(n,): which cells stand with the positive end on the top face; unassigned cells stand like group 1."""
        if not self.cell_type.has_opposite_contacts:
            return np.full(len(self.cells), self.first_group_up)
        odd = (self.cells.groups % 2 == 1) | (self.cells.groups == 0)
        return np.asarray(odd == self.first_group_up, dtype=np.bool_)

    def face_of(self, segment: int) -> Face:
        """Return the face segment 0…S lies on."""
        if not self.cell_type.has_opposite_contacts:
            return "top" if self.first_group_up else "bottom"
        return "top" if (segment % 2 == 1) == self.first_group_up else "bottom"

    def segments_on(self, face: Face) -> tuple[int, ...]:
        """Return the numbers of the segments on a face, ascending."""
        return tuple(k for k in range(self.n_segments) if self.face_of(k) == face)
