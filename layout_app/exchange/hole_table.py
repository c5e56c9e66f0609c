"""Hole table: every round hole of a face with the number it carries in drawings and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.plates.segments import Segment

NO_CELL = -1  # a bolt hole has no cell under it
HEADINGS = ("HOLE", "X mm", "Y mm", "DIA mm", "CELL", "END")


@dataclass(frozen=True, slots=True, eq=False)
class HoleTable:
    """The round holes of one face, numbered from 1: windows in the order of their cells, then bolt holes.

    Attributes
    ----------
    numbers : (h,) int array
    circles_mm : (h, 3) float array: x, y, radius
    cells : (h,) int array: index of the cell under the hole, NO_CELL for a bolt hole
    is_positive : (h,) bool array: whether the cell's positive end (or the positive terminal) is there
    segments : (h,) int array: number of the segment the hole is in
    """

    numbers: IntArray
    circles_mm: FloatArray
    cells: IntArray
    is_positive: BoolArray
    segments: IntArray

    @classmethod
    def of(cls, segments: Sequence[Segment]) -> HoleTable:
        """Return the table of the given segments, all of one face."""
        blocks = [_holes_of(segment) for segment in segments] or [np.empty((0, 6))]
        holes = np.vstack(blocks)
        is_bolt = holes[:, 3] == NO_CELL
        order = np.lexsort((1 - holes[:, 4], holes[:, 3], is_bolt))
        holes = holes[order]
        return cls(
            np.arange(1, len(holes) + 1),
            holes[:, :3],
            holes[:, 3].astype(np.int64),
            holes[:, 4].astype(np.bool_),
            holes[:, 5].astype(np.int64),
        )

    def __len__(self) -> int:
        return len(self.numbers)

    def of_segment(self, number: int) -> HoleTable:
        """Return the rows of one segment; the numbers stay those of the face."""
        mine = self.segments == number
        return HoleTable(
            self.numbers[mine], self.circles_mm[mine], self.cells[mine], self.is_positive[mine], self.segments[mine]
        )

    def columns(self) -> list[list[str]]:
        """Return the columns as text, in the order of HEADINGS; lengths to 0.001 mm."""
        x_mm, y_mm, radius_mm = self.circles_mm.T
        lengths = [[f"{value:.3f}" for value in column.tolist()] for column in (x_mm, y_mm, 2 * radius_mm)]
        cells = ["-" if cell == NO_CELL else str(cell + 1) for cell in self.cells.tolist()]
        signs = ["+" if positive else "-" for positive in self.is_positive.tolist()]
        ends = [
            f"{sign} bolt" if cell == NO_CELL else sign for sign, cell in zip(signs, self.cells.tolist(), strict=True)
        ]
        return [[str(number) for number in self.numbers.tolist()], *lengths, cells, ends]


def _holes_of(segment: Segment) -> FloatArray:
    """(h, 6): x, y, radius, cell, is positive, segment."""
    n_windows = len(segment.windows_mm)
    rows = np.empty((len(segment.circles_mm), 6))
    rows[:, :3] = segment.circles_mm
    rows[:n_windows, 3], rows[n_windows:, 3] = segment.window_cells, NO_CELL
    # a bolt hole belongs to a terminal: segment 0 is the negative one
    rows[:n_windows, 4], rows[n_windows:, 4] = segment.is_positive_end, segment.number > 0
    rows[:, 5] = segment.number
    return rows
