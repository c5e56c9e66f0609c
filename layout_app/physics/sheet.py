"""Sheet: steady conduction in thin metal, by linear triangles.

Current density in the sheet follows the gradient of the potential; over the thickness it is uniform. A contact holds
the metal's edge under it at one potential. What a sheet does between its contacts is all in its conductance matrix G:
currents into the contacts = G · potentials of the contacts. Every row of G sums to zero.

Source of the element: Galerkin's method with linear shape functions; any textbook of finite elements.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.sparse import eliminated, factorised

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix


@dataclass(frozen=True, eq=False)
class Sheet:
    """A mesh with its contacts, and the sheet's conductance thickness / resistivity.

    Attributes
    ----------
    mesh : its edge marks 0…k-1 name the contact over each edge
    conductance_s : float, of a square, siemens
    n_contacts : int, k
    """

    mesh: Mesh
    conductance_s: float
    n_contacts: int

    @cached_property
    def contact_of_points(self) -> IntArray:
        """(n,): the contact that holds each mesh point, -1 for none."""
        marks = self.mesh.edge_marks
        held = np.full(len(self.mesh.points_mm), -1, dtype=np.int64)
        for end in (0, 1):
            held[self.mesh.edges[marks >= 0, end]] = marks[marks >= 0]
        return held

    @cached_property
    def unknowns(self) -> IntArray:
        """(n,): the unknown of each mesh point: free points first, then the contacts in order."""
        held = self.contact_of_points
        free = np.cumsum(held < 0) - 1
        return np.where(held < 0, free, self.n_free + held)

    @property
    def n_free(self) -> int:
        """How many mesh points no contact holds."""
        return int((self.contact_of_points < 0).sum())

    @cached_property
    def matrix(self) -> csc_matrix[np.float64]:
        """(free + k, free + k): the conductance matrix of all unknowns, siemens."""
        from scipy.sparse import csc_matrix

        corner = self.unknowns[self.mesh.triangles]
        link_s = self.conductance_s * _link_weights(self.mesh)
        start, end = corner[:, [1, 2, 0]].ravel(), corner[:, [2, 0, 1]].ravel()
        n = self.n_free + self.n_contacts
        total = np.bincount(start, weights=link_s.ravel(), minlength=n)
        total += np.bincount(end, weights=link_s.ravel(), minlength=n)
        itself = np.arange(n)
        rows, columns = np.concatenate([start, end, itself]), np.concatenate([end, start, itself])
        return csc_matrix((np.concatenate([-link_s.ravel(), -link_s.ravel(), total]), (rows, columns)), shape=(n, n))

    @cached_property
    def part_of_unknowns(self) -> IntArray:
        """(free + k,): which unknowns hang together through metal."""
        from scipy.sparse.csgraph import connected_components

        return np.asarray(connected_components(self.matrix, directed=False)[1], dtype=np.int64)

    @cached_property
    def is_solved(self) -> BoolArray:
        """(free,): which free points hang on a contact; the others carry no current and have no potential."""
        part = self.part_of_unknowns
        return np.isin(part[: self.n_free], part[self.n_free :])

    def contact_conductance_s(self) -> FloatArray:
        """Return G, (k, k), siemens, symmetric: the free points eliminated."""
        kept = np.append(self.is_solved, np.ones(self.n_contacts, dtype=bool))
        matrix = self.matrix if kept.all() else self.matrix[np.flatnonzero(kept)][:, np.flatnonzero(kept)]
        return eliminated(matrix, self.n_contacts)

    def potentials_v(self, contact_v: FloatArray, injected_a: FloatArray | None = None) -> FloatArray:
        """Return the (n,) potential of each mesh point for given (k,) potentials of the contacts; NaN where unsolved.

        `injected_a`, (n,), is current fed in at mesh points besides.
        """
        n, rows = self.n_free, np.flatnonzero(self.is_solved)
        inner = self.matrix[rows]
        right = -np.asarray(inner[:, n:] @ contact_v)
        free = self.contact_of_points < 0
        if injected_a is not None:
            right = right + injected_a[free][self.is_solved]
        solved = np.full(self.n_free, np.nan)
        if len(right):
            solved[self.is_solved] = factorised(inner[:, rows].tocsc()).solve(right)
        return np.asarray(np.concatenate([solved, contact_v])[self.unknowns])

    def densities_a_mm2(self, potential_v: FloatArray, thickness_mm: float) -> FloatArray:
        """Return the (t, 2) current density in each triangle, A/mm², for (n,) potentials of the mesh points."""
        return -self.conductance_s / thickness_mm * _gradients(self.mesh, potential_v)

    def losses_w_mm2(self, potential_v: FloatArray) -> FloatArray:
        """Return the (t,) loss per area of sheet in each triangle, W/mm²."""
        return np.asarray(self.conductance_s * (_gradients(self.mesh, potential_v) ** 2).sum(axis=1))

    def edge_densities_a_mm2(self, potential_v: FloatArray, thickness_mm: float) -> FloatArray:
        """Return the (e,) current density along each of the mesh's edges on the metal's edge, A/mm²; 0 on contacts.

        No current crosses a bare edge, so what potentials differ along it is all there is. In linear triangles these
        differences are off by the square of the mesh's size, the densities inside the triangles by the size itself.
        """
        start, end = self.mesh.edges.T
        along = np.abs(potential_v[end] - potential_v[start]) / np.diff(self.mesh.edge_ends_mm, axis=1)[:, 0]
        return np.where(self.mesh.edge_marks < 0, self.conductance_s / thickness_mm * along, 0.0)

    def inflows_a(self, potential_v: FloatArray) -> FloatArray:
        """Return the (n,) current that enters the sheet at each mesh point: nothing but rounding off the contacts."""
        corner = self.mesh.triangles
        value = potential_v[corner]
        along = self.conductance_s * _link_weights(self.mesh) * (value[:, [1, 2, 0]] - value[:, [2, 0, 1]])
        n = len(self.mesh.points_mm)
        leaving = np.bincount(corner[:, [1, 2, 0]].ravel(), weights=along.ravel(), minlength=n)
        return np.asarray(leaving - np.bincount(corner[:, [2, 0, 1]].ravel(), weights=along.ravel(), minlength=n))

    def anew(self) -> Sheet:
        """Return the same sheet without what it has worked out, which takes ten times the mesh's memory."""
        return Sheet(self.mesh, self.conductance_s, self.n_contacts)

    def refined(self) -> Sheet:
        """Return the same sheet on a mesh with every triangle quartered."""
        return Sheet(self.mesh.refined(), self.conductance_s, self.n_contacts)


def _link_weights(mesh: Mesh) -> FloatArray:
    """Return (t, 3): half the cotangent of each corner's angle, the conductance its opposite side gets, in squares."""
    corner = mesh.points_mm[mesh.triangles]
    to = [corner[:, (k + 1) % 3] - corner[:, k] for k in range(3)]
    twice = to[0][:, 0] * -to[2][:, 1] + to[0][:, 1] * to[2][:, 0]
    dots = np.stack([-(to[k] * to[(k + 2) % 3]).sum(axis=1) for k in range(3)], axis=1)
    return np.asarray(dots / (2 * twice[:, None]))


def _gradients(mesh: Mesh, values: FloatArray) -> FloatArray:
    """Return (t, 2): the gradient of the linear field through values at the mesh points, per mm."""
    corner, value = mesh.points_mm[mesh.triangles], values[mesh.triangles]
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    u, v = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
    twice = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.column_stack([u * b[:, 1] - v * a[:, 1], v * a[:, 0] - u * b[:, 0]]) / twice[:, None]
