"""Links: the cells of a module as a graph; every pair of neighbours is a link as strong as their border is long."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray


@dataclass(frozen=True)
class Links:
    """Cells and the pairs of them that share a border.

    Attributes
    ----------
    centres_mm : (n, 2) float array, mm
    pairs : (m, 2) int array, i < j
    borders_mm : (m,) float array, length of each pair's common border
    pitch_mm : centre to centre of nearest neighbours
    """

    centres_mm: PointArray
    pairs: IntArray
    borders_mm: FloatArray
    pitch_mm: float

    @property
    def n_cells(self) -> int:
        """Number of cells."""
        return len(self.centres_mm)

    @cached_property
    def n_neighbours(self) -> IntArray:
        """(n,): how many neighbours each cell has."""
        return np.bincount(self.pairs.ravel(), minlength=self.n_cells)

    def matrix(self, weights: FloatArray) -> Any:
        """Return the symmetric (n, n) sparse matrix with the given weight at every pair."""
        from scipy.sparse import coo_array

        i, j = self.pairs.T
        both = (np.concatenate([weights, weights]), (np.concatenate([i, j]), np.concatenate([j, i])))
        return coo_array(both, shape=(self.n_cells, self.n_cells)).tocsr()

    def pieces(self, groups: IntArray | None = None) -> IntArray:
        """Return (n,) the number of the connected piece each cell is in, links across groups left out."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components

        i, j = (self.pairs if groups is None else self.pairs[groups[self.pairs[:, 0]] == groups[self.pairs[:, 1]]]).T
        shape = (self.n_cells, self.n_cells)
        labels = connected_components(coo_array((np.ones(len(i), dtype=np.int8), (i, j)), shape=shape), directed=False)
        return np.asarray(labels[1], dtype=np.int64)

    def part(self, kept: BoolArray) -> Links:
        """Return the links among the kept cells, numbered anew."""
        number = np.cumsum(kept) - 1
        inside = kept[self.pairs].all(axis=1)
        return Links(self.centres_mm[kept], number[self.pairs[inside]], self.borders_mm[inside], self.pitch_mm)

    @cached_property
    def around(self) -> list[list[int]]:
        """For every cell its neighbours, ascending."""
        matrix = self.matrix(self.borders_mm)
        ends, neighbours = matrix.indptr.tolist(), matrix.indices.tolist()
        return [neighbours[a:b] for a, b in itertools.pairwise(ends)]
