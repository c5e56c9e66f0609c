"""Rows: a footprint cut by parallel lines, exactly.

Between two neighbouring levels (heights at which the border has a corner, a highest or a lowest point) a line always
meets the same pieces of the border. So those are looked up once, and a row's spans follow in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray, rotation
from layout_app.planning.borders import ROUNDING_MM, SLACK_MM, Border
from layout_app.planning.footprints import Footprint


@dataclass(frozen=True, eq=False)
class Rows:
    """A footprint as seen by lines in one direction; coordinates are turned so that the lines are level.

    Attributes
    ----------
    levels_mm : (m + 1,) ascending heights between which the spans change smoothly
    sides : (5, m + 2, 2, k) coefficients, see `_across`, of where spans begin and end below the first level, between
        levels, and above the last
    """

    levels_mm: FloatArray
    sides: FloatArray

    @classmethod
    def along(cls, footprint: Footprint, border: Border, angle_rad: float) -> Rows:
        """Return the rows in a direction."""
        low, high, curves = _rising_pieces(border, angle_rad)
        levels = _levels(low, high)
        middle = (levels[:-1] + levels[1:]) / 2
        band, piece = np.nonzero((low <= middle[:, None]) & (middle[:, None] < high))
        x = _across(curves[piece].T, middle[band])
        order = np.lexsort([x, band])
        band, piece, x = band[order], piece[order], x[order]
        begins = _span_starts(footprint, band, np.column_stack([x, middle[band]]) @ rotation(angle_rad).T)
        sides = _by_band(band[begins] + 1, curves[piece[begins]], curves[piece[begins + 1]], len(levels) + 1)
        return cls(levels, sides)

    @property
    def n_across(self) -> int:
        """The most spans any line meets."""
        return int(self.sides.shape[-1])

    @property
    def area_mm2(self) -> float:
        """Area of the footprint, by the width midway between levels: right to a few per cent where it bends."""
        middles = (self.levels_mm[1:] + self.levels_mm[:-1]) / 2
        return float(np.diff(self.levels_mm) @ self.widths_mm(middles))

    @cached_property
    def bent_share(self) -> float:
        """Share of the height in which a span changes with height; 0 where all walls are along or across the rows."""
        bent = (self.sides[1:3, 1:-1] != 0).any(axis=(0, 2, 3))
        return float(np.diff(self.levels_mm) @ bent / (self.levels_mm[-1] - self.levels_mm[0]))

    @cached_property
    def by_step_mm(self) -> FloatArray:
        """(m + 1,) levels, those first at which the allowed width jumps most: where walls lie along the rows."""
        above, below = (self.widths_mm(self.levels_mm + step) for step in (ROUNDING_MM, -ROUNDING_MM))
        return self.levels_mm[np.argsort(-np.abs(above - below).round(6), kind="stable")]

    def widths_mm(self, heights_mm: FloatArray) -> FloatArray:
        """Return the total length of the spans at (n,) heights."""
        left, right = self.spans_mm(heights_mm)
        used = right > left
        return np.asarray((np.where(used, right, 0.0) - np.where(used, left, 0.0)).sum(axis=1), dtype=np.float64)

    def spans_mm(self, heights_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return where the allowed spans at (n,) heights begin and end: two (n, k) arrays.

        Unused places hold infinity and minus infinity. Spans reach SLACK_MM beyond the exact footprint.
        """
        band = np.searchsorted(self.levels_mm, heights_mm, side="right")
        spans = _across(self.sides[:, band], heights_mm[:, None, None])
        return spans[:, 0], spans[:, 1]


def _span_starts(footprint: Footprint, band: IntArray, crossings: PointArray) -> IntArray:
    """Return the numbers of the crossings at which a line enters the footprint; (n,) bands ascending, (n, 2) points.

    Lines enter and leave by turns. In bands where two pieces of border coincide (keep-outs in one line), or one shorter
    than rounding is missing, every place between two crossings is asked for its margin instead.
    """
    by_turns = (np.arange(len(band)) - np.searchsorted(band, band)) % 2 == 0
    same_band = np.append(band[1:] == band[:-1], False)
    apart = np.append(np.hypot(*np.diff(crossings, axis=0).T) > ROUNDING_MM, True)
    is_odd = np.bincount(band) % 2 == 1
    is_odd[band[same_band & ~apart]] = True
    doubtful = np.flatnonzero(is_odd[band] & same_band & apart)
    margins = footprint.margins_mm((crossings[doubtful] + crossings[np.minimum(doubtful + 1, len(band) - 1)]) / 2)
    by_turns[is_odd[band]] = False
    by_turns[doubtful] = margins >= -SLACK_MM - ROUNDING_MM
    return np.flatnonzero(by_turns)


def _across(curves: FloatArray, y: FloatArray) -> FloatArray:
    """x = a + b y + s √(r² - (y - c)²), with the rows a, b, s, r², c; s is 0 for straight pieces, ±1 for arcs."""
    a, b, s, r_sq, c = curves
    return np.asarray(a + b * y + s * np.sqrt(np.maximum(r_sq - (y - c) ** 2, 0.0)), dtype=np.float64)


def _rising_pieces(border: Border, angle_rad: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return lowest and highest y and the coefficients of all pieces, arcs cut at their highest and lowest points."""
    turn = rotation(angle_rad)  # points @ turn turns back by the angle
    arc = np.isfinite(border.radius_mm)
    (x0, y0), (x1, y1) = (border.start_mm[~arc] @ turn).T, (border.end_mm[~arc] @ turn).T
    rises = np.abs(y1 - y0) > 1e-12
    x0, y0, x1, y1 = x0[rises], y0[rises], x1[rises], y1[rises]
    slope = (x1 - x0) / (y1 - y0)
    zero = np.zeros_like(slope)
    straight = np.column_stack([x0 - slope * y0, slope, zero, zero, zero])
    low, high, bent = _half_arcs(border, arc, angle_rad)
    lowest, highest = np.minimum(y0, y1), np.maximum(y0, y1)
    return np.concatenate([lowest, low]), np.concatenate([highest, high]), np.vstack([straight, bent])


def _half_arcs(border: Border, arc: np.ndarray, angle_rad: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return lowest and highest y and coefficients of the arcs' left and right halves.

    In quarter turns from straight down, half circle number k spans 2 k to 2 k + 2; even ones lie on the right.
    """
    (cx, cy), radius = (border.centre_mm[arc] @ rotation(angle_rad)).T, border.radius_mm[arc]
    start, end = (border.start_rad[arc] - angle_rad) / np.pi + 0.5, (border.end_rad[arc] - angle_rad) / np.pi + 0.5
    parts = []
    for k in range(3):  # an arc of at most a full turn touches three half circles
        half = np.floor(start) + k
        begin, finish = np.maximum(start, half), np.minimum(end, half + 1)
        y_a, y_b = (cy - radius * np.cos(np.pi * place) for place in (begin, finish))
        side = np.where(half % 2 == 0, 1.0, -1.0)
        columns = np.column_stack([np.minimum(y_a, y_b), np.maximum(y_a, y_b), cx, 0 * cx, side, radius**2, cy])
        parts.append(columns[finish > begin])
    stacked = np.vstack(parts)
    return stacked[:, 0], stacked[:, 1], stacked[:, 2:]


def _levels(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the heights at which some piece begins or ends, those within rounding of one another once."""
    heights = np.unique(np.concatenate([low, high]))
    return heights[np.concatenate([[True], np.diff(heights) > ROUNDING_MM])] if len(heights) else heights


def _by_band(band: IntArray, begin: FloatArray, end: FloatArray, n_bands: int) -> FloatArray:
    """Return (5, n_bands, 2, k): both sides of each band's spans, in order; ±infinity where a band has fewer."""
    place = np.arange(len(band)) - np.searchsorted(band, band)
    table = np.zeros((5, n_bands, 2, int(place.max(initial=0)) + 1))
    table[0, :, 0], table[0, :, 1] = np.inf, -np.inf
    table[:, band, 0, place], table[:, band, 1, place] = begin.T, end.T
    return table
