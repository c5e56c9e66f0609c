"""Moves: cells shifted, turned, mirrored, put back on the lattice; refused where two cells would overlap."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from layout_app.edits.cells import CellsOverlapError
from layout_app.edits.locks import counted, free_cells
from layout_app.edits.room import TOUCHING_MM, first_clash
from layout_app.geometry.arrays import IntArray, PointArray, rotation
from layout_app.model.cells import Cells
from layout_app.model.layouts import Layout
from layout_app.model.sites import nearest_sites_mm


@dataclass(frozen=True, slots=True)
class MoveCells:
    """Shift cells, given by index."""

    cells: tuple[int, ...]
    dx_mm: float
    dy_mm: float

    @property
    def label(self) -> str:
        """E.g. "Move 3 cells"."""
        return f"Move {counted(self.cells)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells elsewhere; raise CellsOverlapError where there is no room."""
        chosen = free_cells(layout, self.cells, "moved")
        return relocated(layout, chosen, layout.cells.centres_mm[chosen] + (self.dx_mm, self.dy_mm))


@dataclass(frozen=True, slots=True)
class TurnCells:
    """Turn cells counter-clockwise about the middle of the rectangle around them."""

    cells: tuple[int, ...]
    angle_rad: float

    @property
    def label(self) -> str:
        """E.g. "Turn 3 cells by 30°"."""
        return f"Turn {counted(self.cells)} by {math.degrees(self.angle_rad):.6g}°"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells turned; raise CellsOverlapError where there is no room."""
        chosen = free_cells(layout, self.cells, "moved")
        if math.remainder(self.angle_rad, 2 * math.pi) == 0:
            return layout
        return relocated(layout, chosen, turned(layout.cells.centres_mm[chosen], self.angle_rad))


@dataclass(frozen=True, slots=True)
class MirrorCells:
    """Mirror cells left to right, or top to bottom, about the middle of the rectangle around them."""

    cells: tuple[int, ...]
    way: Literal["left to right", "top to bottom"]

    @property
    def label(self) -> str:
        """E.g. "Mirror 3 cells left to right"."""
        return f"Mirror {counted(self.cells)} {self.way}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells mirrored; raise CellsOverlapError where there is no room."""
        chosen = free_cells(layout, self.cells, "moved")
        if not len(chosen):
            return layout
        centres = layout.cells.centres_mm[chosen]
        sign = (-1.0, 1.0) if self.way == "left to right" else (1.0, -1.0)
        middle = middle_mm(centres)
        return relocated(layout, chosen, (centres - middle) * sign + middle)


@dataclass(frozen=True, slots=True)
class AlignCells:
    """Put every one of the cells on the site of the lattice nearest to it."""

    cells: tuple[int, ...]

    @property
    def label(self) -> str:
        """E.g. "Put 3 cells on sites"."""
        return f"Put {counted(self.cells)} on sites"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with those cells on sites; raise CellsOverlapError where two want the same one."""
        chosen = free_cells(layout, self.cells, "moved")
        centres = layout.cells.centres_mm[chosen]
        sites = nearest_sites_mm(layout.lattice, centres)
        is_there = np.hypot(*(sites - centres).T) < TOUCHING_MM
        return relocated(layout, chosen, np.where(is_there[:, None], centres, sites))


def middle_mm(centres_mm: PointArray) -> PointArray:
    """Return the (2,) middle of the rectangle around (n, 2) points, n ≥ 1."""
    return np.asarray((centres_mm.min(axis=0) + centres_mm.max(axis=0)) / 2, dtype=np.float64)


def turned(centres_mm: PointArray, angle_rad: float) -> PointArray:
    """Return (n, 2) points turned counter-clockwise about their middle."""
    if not len(centres_mm):
        return centres_mm
    middle = middle_mm(centres_mm)
    return np.asarray((centres_mm - middle) @ rotation(angle_rad).T + middle, dtype=np.float64)


def relocated(layout: Layout, cells: IntArray, places_mm: PointArray) -> Layout:
    """Return the layout with some cells at other places; the very same layout when none moves.

    Raises
    ------
    CellsOverlapError : two cells would overlap more than they did before
    """
    centres = layout.cells.centres_mm.copy()
    centres[cells] = places_mm
    if np.array_equal(centres, layout.cells.centres_mm):
        return layout
    # first, so that a place that is no number is refused
    moved = Cells(centres, layout.cells.groups, layout.cells.locked)
    clash = first_clash(moved.centres_mm, cells, layout.cell_type.diameter_mm, before_mm=layout.cells.centres_mm)
    if clash is not None:
        cell, other, overlap_mm = clash
        raise CellsOverlapError(moved.centres_mm[cell].tolist(), other, overlap_mm, moved=cell)
    return replace(layout, cells=moved)
