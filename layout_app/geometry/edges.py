"""Edges: loose straight pieces and circular arcs, as columns, before anybody knows which of them form a loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """n loose edges; bulges mean what they mean in a Contour, and every edge stands alone.

    Attributes
    ----------
    starts_mm, ends_mm : (n, 2) float arrays, mm
    bulges : (n,) float array, tan(included angle / 4), positive counter-clockwise, 0 straight
    """

    starts_mm: PointArray
    ends_mm: PointArray
    bulges: FloatArray

    @classmethod
    def together(cls, pieces: Sequence[Edges]) -> Edges:
        """Return the edges of all pieces, in order."""
        if not pieces:
            return cls(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0))
        return cls(
            np.vstack([piece.starts_mm for piece in pieces]),
            np.vstack([piece.ends_mm for piece in pieces]),
            np.concatenate([piece.bulges for piece in pieces]),
        )

    def __len__(self) -> int:
        return len(self.bulges)

    def taken(self, which: IntArray | BoolArray) -> Edges:
        """Return the edges with the given indices (or mask)."""
        return Edges(self.starts_mm[which], self.ends_mm[which], self.bulges[which])

    def reversed(self) -> Edges:
        """Return every edge run the other way."""
        return Edges(self.ends_mm, self.starts_mm, -self.bulges)

    @property
    def chords_mm(self) -> FloatArray:
        """(n,): distance from start to end, mm."""
        return np.asarray(np.hypot(*(self.ends_mm - self.starts_mm).T), dtype=np.float64)

    @property
    def radii_mm(self) -> FloatArray:
        """(n,): radius of each arc, mm; infinite for straight edges."""
        size = np.abs(self.bulges)
        with np.errstate(divide="ignore"):
            return np.where(size > 0, self.chords_mm * (1 + size**2) / (4 * np.where(size > 0, size, 1)), np.inf)

    @property
    def lengths_mm(self) -> FloatArray:
        """(n,): length along each edge, mm."""
        half = 2 * np.abs(np.arctan(self.bulges))
        return np.asarray(self.chords_mm / np.sinc(half / np.pi), dtype=np.float64)  # chord = length sin(half) / half

    @property
    def centres_mm(self) -> PointArray:
        """(n, 2): centre of each arc; meaningless for straight edges."""
        bulges = np.where(self.bulges == 0, 1.0, self.bulges)
        chord = self.ends_mm - self.starts_mm
        across = np.column_stack([-chord[:, 1], chord[:, 0]])
        return np.asarray(self.starts_mm + chord / 2 + ((1 / bulges - bulges) / 4)[:, None] * across)

    def points_at(self, fractions: FloatArray) -> PointArray:
        """Return (n, 2): one point on each edge, at the given fraction 0…1 of its length."""
        half = 2 * np.arctan(self.bulges)
        reach = fractions * np.sinc(fractions * half / np.pi) / np.sinc(half / np.pi)
        turn = (fractions - 1) * half
        chord = self.ends_mm - self.starts_mm
        across = np.column_stack([-chord[:, 1], chord[:, 0]])
        offset = (reach * np.cos(turn))[:, None] * chord + (reach * np.sin(turn))[:, None] * across
        return np.asarray(self.starts_mm + offset, dtype=np.float64)

    def part(self, begin: FloatArray, end: FloatArray) -> Edges:
        """Return the part of each edge between two fractions of its length, (n,) each."""
        bulges = np.tan(np.arctan(self.bulges) * (end - begin))
        starts = np.where((begin == 0)[:, None], self.starts_mm, self.points_at(begin))
        ends = np.where((end == 1)[:, None], self.ends_mm, self.points_at(end))
        return Edges(starts, ends, bulges)

    def halved(self) -> Edges:
        """Return the (2n) halves of all edges, in order."""
        n = len(self)
        begin, end = np.tile([0.0, 0.5], n), np.tile([0.5, 1.0], n)
        return self.taken(np.repeat(np.arange(n), 2)).part(begin, end)

    def nearest_fractions(self, points_mm: PointArray) -> FloatArray:
        """Return (n,): where on each edge its point lies nearest, as a fraction of the length clipped to 0…1."""
        chord, to_point = self.ends_mm - self.starts_mm, points_mm - self.starts_mm
        straight = (chord * to_point).sum(axis=1) / np.maximum((chord**2).sum(axis=1), 1e-300)
        included = 4 * np.arctan(self.bulges)
        first, spoke = self.starts_mm - self.centres_mm, points_mm - self.centres_mm
        turned = np.arctan2(first[:, 0] * spoke[:, 1] - first[:, 1] * spoke[:, 0], (first * spoke).sum(axis=1))
        side = np.where(included < 0, -1.0, 1.0)
        middle = np.abs(included) / 2
        turned = (turned * side - middle + np.pi) % (2 * np.pi) - np.pi + middle  # within half a turn of mid-arc
        curved = turned / np.where(included == 0, 1.0, np.abs(included))
        return np.asarray(np.clip(np.where(self.bulges == 0, straight, curved), 0.0, 1.0), dtype=np.float64)


def bulges_with_radii(chords_mm: FloatArray, radii_mm: FloatArray, bulges: FloatArray) -> FloatArray:
    """Return (n,) bulges that keep radius, side and kind (less or more than half a turn) over new chords.

    A chord longer than the diameter, which a moved end can bring about, becomes a half turn.
    """
    half = np.arcsin(np.minimum(chords_mm / (2 * radii_mm), 1.0))
    half = np.where(np.abs(bulges) > 1, np.pi - half, half)
    return np.asarray(np.copysign(np.tan(half / 2), bulges) * (bulges != 0), dtype=np.float64)
