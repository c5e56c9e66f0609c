"""Mesh rings: the edge of a piece of metal as closed rings, and where the nodes of a mesh stand on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from shapely import Polygon

UNMARKED = -1
BARELY_RAD = 1e-6  # turns less than this are rounding
CORNER_RAD = 0.45  # an edge that turns by 26° at once has a corner a node must keep; less is a chord of an arc
MEANT = 0.8  # sides of a polygon longer than this share of the size wanted are no chords of an arc
LEAST_PER_RING = 6  # nodes on the smallest hole: it must stay a hole when every edge of it is a chord
BETWEEN_RINGS_MM = 1.0  # empty stretch of the position that runs over all rings


@dataclass(frozen=True, eq=False)
class Rings:
    """Closed rings, one after another, each with its first vertex repeated at its end.

    Attributes
    ----------
    vertices_mm : (v, 2) float array
    ring_of : (v,) int array: the ring each vertex is on, ascending; 0 is the outline when there is only one piece
    marks : (v,) int array: the mark of the straight bit from each vertex to the next, UNMARKED for none; those of the
        repeated vertices are not used
    """

    vertices_mm: PointArray
    ring_of: IntArray
    marks: IntArray

    @classmethod
    def of(cls, polygons: Sequence[Polygon]) -> Rings:
        """Return the unmarked rings of polygons: metal on the left of every ring."""
        import shapely

        if not polygons:
            return cls(np.empty((0, 2)), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))
        turned = shapely.orient_polygons(np.asarray(polygons, dtype=object))
        rings = shapely.get_rings(turned)
        points, ring_of = shapely.get_coordinates(rings, return_index=True)
        keep = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1) | (np.diff(ring_of) != 0))
        points, ring_of = points[keep], ring_of[keep].astype(np.int64)
        return cls(points, ring_of, np.full(len(points), UNMARKED, dtype=np.int64))

    @cached_property
    def is_last(self) -> BoolArray:
        """(v,): which vertices end their ring."""
        return np.append(np.diff(self.ring_of) != 0, True)

    @cached_property
    def is_first(self) -> BoolArray:
        """(v,): which vertices begin their ring."""
        return np.append(True, np.diff(self.ring_of) != 0)

    @cached_property
    def lengths_mm(self) -> FloatArray:
        """(v,): length of the bit from each vertex to the next; 0 for the last of a ring."""
        steps = np.hypot(*np.diff(self.vertices_mm, axis=0, append=self.vertices_mm[-1:]).T)
        return np.where(self.is_last, 0.0, steps)

    @cached_property
    def positions_mm(self) -> FloatArray:
        """(v,): position along all rings, one after another."""
        gaps = np.where(self.is_last, BETWEEN_RINGS_MM, self.lengths_mm)
        return np.asarray(np.concatenate([[0.0], np.cumsum(gaps)[:-1]]))

    @cached_property
    def perimeters_mm(self) -> FloatArray:
        """(r,): length of each ring."""
        return np.asarray(np.bincount(self.ring_of, weights=self.lengths_mm), dtype=np.float64)

    @cached_property
    def turns_rad(self) -> FloatArray:
        """(v,): how far each ring turns at each vertex, positive to the left; the same at both ends of a ring."""
        step = np.roll(self.vertices_mm, -1, axis=0) - self.vertices_mm
        step[self.is_last] = step[self.is_first]
        heading = np.arctan2(step[:, 1], step[:, 0])
        arriving = np.roll(heading, 1)
        arriving[self.is_first] = np.roll(heading, 1)[self.is_last]
        return np.asarray(np.mod(heading - arriving + np.pi, 2 * np.pi) - np.pi)

    def at(self, positions_mm: FloatArray) -> PointArray:
        """Return the (n, 2) points at positions along the rings."""
        x, y = self.vertices_mm.T
        return np.column_stack([np.interp(positions_mm, self.positions_mm, axis) for axis in (x, y)])

    def marks_at(self, positions_mm: FloatArray) -> IntArray:
        """Return the (n,) marks of the bits the positions lie on."""
        bit = np.searchsorted(self.positions_mm, positions_mm, side="right") - 1
        return np.asarray(self.marks[np.clip(bit, 0, len(self.marks) - 1)])

    def with_vertices_at(self, positions_mm: FloatArray) -> Rings:
        """Return the rings with further vertices; a position that has one already gets no second."""
        after = np.clip(np.searchsorted(self.positions_mm, positions_mm), 1, len(self.positions_mm) - 1)
        nearest = np.minimum(*(np.abs(self.positions_mm[k] - positions_mm) for k in (after, after - 1)))
        new = np.unique(positions_mm[nearest > 1e-9])
        if len(new) == 0:
            return self
        place = np.searchsorted(self.positions_mm, new)
        points = np.insert(self.vertices_mm, place, self.at(new), axis=0)
        ring_of, marks = (np.insert(column, place, column[place - 1]) for column in (self.ring_of, self.marks))
        return Rings(points, ring_of, marks)

    def marked(self, marks: IntArray) -> Rings:
        """Return the same rings with other marks."""
        return Rings(self.vertices_mm, self.ring_of, marks)

    def _kept(self, wanted_mm: FloatArray) -> BoolArray:
        """Return (v,) the vertices a mesh may not cut off: ring ends, corners, and where the mark changes.

        An arc comes as chords far shorter than the sizes wanted, and its vertices may go; those of a polygon that has
        sides as long as the sizes are meant.
        """
        before = np.roll(self.marks, 1)
        before[self.is_first] = np.roll(self.marks, 1)[self.is_last]
        is_end = self.is_first | self.is_last
        shorter = np.minimum(self.lengths_mm, np.roll(self.lengths_mm, 1))
        turn = np.abs(self.turns_rad)
        is_corner = (turn > CORNER_RAD) | ((turn > BARELY_RAD) & (shorter > MEANT * wanted_mm))
        return np.asarray(is_corner | is_end | (self.marks != before))

    def nodes_mm(self, sizing: Callable[[PointArray], FloatArray]) -> FloatArray:
        """Return the positions of a mesh's nodes on the rings, ascending, both ends of every ring among them.

        Between vertices that must be kept the nodes stand as far apart as `sizing` asks: (n, 2) places to (n,) mm.
        """
        at_vertices = sizing(self.vertices_mm)
        samples, wanted_mm = self._samples(sizing, at_vertices)
        rate = 1.0 / wanted_mm
        step = np.diff(samples)
        is_between_rings = np.isin(samples[1:], self.positions_mm[self.is_first])
        counted = np.where(is_between_rings, 0.0, step * (rate[1:] + rate[:-1]) / 2)
        wanted = np.concatenate([[0.0], np.cumsum(counted)])
        kept = self._kept(at_vertices)
        fixed = self.positions_mm[kept]
        at_fixed = wanted[np.searchsorted(samples, fixed)]
        n_edges = np.maximum(np.ceil(np.diff(at_fixed) - 0.25), 1).astype(np.int64)
        n_edges[np.isin(fixed[1:], self.positions_mm[self.is_first])] = 1  # the stretch from ring to ring
        n_edges = self._enough_for_rings(n_edges, fixed, self.ring_of[kept][:-1])
        piece = np.repeat(np.arange(len(n_edges)), n_edges)
        share = (np.arange(len(piece)) - np.repeat(np.cumsum(n_edges) - n_edges, n_edges)) / n_edges[piece]
        target = at_fixed[piece] + share * np.diff(at_fixed)[piece]
        inside = np.interp(target, wanted, samples)
        return np.append(np.where(share == 0, fixed[piece], inside), fixed[-1])

    def _samples(
        self, sizing: Callable[[PointArray], FloatArray], at_vertices: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return positions close enough to integrate the wanted number of edges, and the sizes wanted there.

        Bits are halved until half the size at either end is longer: sizes grow slowly, so no small place is missed.
        """
        samples, wanted = self.positions_mm, at_vertices
        is_bit = ~self.is_last[:-1]
        while True:
            long = is_bit & (np.diff(samples) > np.minimum(wanted[1:], wanted[:-1]) / 2)
            if not long.any():
                return samples, wanted
            halves = (samples[1:] + samples[:-1])[long] / 2
            place = np.flatnonzero(long) + 1
            samples, wanted = np.insert(samples, place, halves), np.insert(wanted, place, sizing(self.at(halves)))
            is_bit = np.insert(is_bit, place, True)

    def _enough_for_rings(self, n_edges: IntArray, fixed: FloatArray, ring: IntArray) -> IntArray:
        """Return the counts, raised where a whole ring would have too few nodes to enclose anything."""
        in_ring = ~np.isin(fixed[1:], self.positions_mm[self.is_first])
        total = np.bincount(ring, weights=np.where(in_ring, n_edges, 0), minlength=len(self.perimeters_mm))
        factor = np.ceil(LEAST_PER_RING / np.maximum(total, 1)).astype(np.int64)
        return np.where(in_ring, n_edges * factor[ring], n_edges)
