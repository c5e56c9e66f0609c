"""Edge flows: the currents that cross the edges of a mesh, balanced in every triangle.

Linear triangles give a density that is constant in each of them and jumps from one to the next, so that lines along it
may run into each other or out of the metal. But they balance round every mesh point: what the triangles round it send
there sums to zero. Going round the point, that fixes how much crosses each half edge there, but for one number, a
current that goes round and round; it is chosen so that the half edges' currents are nearest to those of the densities.
The halves together make a flow that is balanced in every triangle and crosses the metal's edge at contacts only.

Source: derived. A triangle's share of a point's balance is what a constant density carries out of the part of the
triangle nearest to the point (the box method); the rest is Kirchhoff's current law, walked round the point.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.geometry.meshes import Mesh


@dataclass(frozen=True, slots=True, eq=False)
class EdgeFlows:
    """Currents across the edges of a mesh. Side k of a triangle lies opposite its corner k.

    Attributes
    ----------
    outflow_a : (t, 3) float array, the current that leaves each triangle by each side; rows sum to zero
    across : (t, 3) int array, the same edge seen from its other side, as 3 × triangle + side; -1 on the metal's edge
    edge : (t, 3) int array, the edge of the mesh a side on the metal's edge is; -1 for one inside
    contact : (t, 3) int array, the contact over a side on the metal's edge; -1 for none
    """

    outflow_a: FloatArray
    across: IntArray
    edge: IntArray
    contact: IntArray

    def reversed(self) -> EdgeFlows:
        """Return the flow the other way round."""
        return replace(self, outflow_a=-self.outflow_a)


def edge_flows(mesh: Mesh, potential_v: FloatArray, sheet_s: float) -> EdgeFlows:
    """Return the currents across the edges of a mesh.

    Parameters
    ----------
    potential_v : (n,) float array, of each mesh point, solved by linear triangles with the contacts that
        `mesh.edge_marks` names held; NaN on metal no contact reaches, where nothing flows
    sheet_s : conductance of a square, siemens
    """
    across, edge = _sides(mesh)
    contact = np.where(edge >= 0, mesh.edge_marks[edge], -1)
    half_a = _half_outflows(mesh, np.nan_to_num(potential_v), sheet_s)
    round_a, back_a = _round_points(mesh, half_a, across, contact)
    outflow = np.roll(round_a, -2, axis=1) - np.roll(back_a, -1, axis=1)
    has_other = across >= 0
    both = outflow - np.where(has_other, outflow.ravel()[across], 0.0)
    outflow = np.where(has_other, both / 2, np.where(contact >= 0, outflow, 0.0))
    return EdgeFlows(outflow, across, edge, contact)


def _sides(mesh: Mesh) -> tuple[IntArray, IntArray]:
    """Return (t, 3) what lies across each side, and (t, 3) the edge of the mesh it is."""
    n = len(mesh.points_mm)
    begin, end = np.roll(mesh.triangles, -1, axis=1).ravel(), np.roll(mesh.triangles, -2, axis=1).ravel()
    n_sides = len(begin)
    # sorted together with their numbers, keys take a third of the time of an argsort
    keys, order = np.divmod(
        np.sort((np.minimum(begin, end) * n + np.maximum(begin, end)) * n_sides + np.arange(n_sides)), n_sides
    )
    twin = np.flatnonzero(keys[1:] == keys[:-1])
    across = np.full(n_sides, -1, dtype=np.int64)
    across[order[twin]], across[order[twin + 1]] = order[twin + 1], order[twin]
    edge = np.full(n_sides, -1, dtype=np.int64)
    single = np.flatnonzero(across < 0)  # one for each edge of the mesh
    edge[single[np.argsort(begin[single] * n + end[single])]] = np.argsort(mesh.edges[:, 0] * n + mesh.edges[:, 1])
    return across.reshape(-1, 3), edge.reshape(-1, 3)


def _half_outflows(mesh: Mesh, potential_v: FloatArray, sheet_s: float) -> FloatArray:
    """Return (t, 3): half of what the density of each triangle carries out of it by each side, A.

    It is also what the triangle takes out of the balance of the corner opposite.
    """
    x, y = (axis[mesh.triangles] for axis in np.ascontiguousarray(mesh.points_mm.T))
    after, before = [1, 2, 0], [2, 0, 1]
    inward_x, inward_y = y[:, after] - y[:, before], x[:, before] - x[:, after]  # as long as the side
    value = potential_v[mesh.triangles]
    slope_x, slope_y = (np.einsum("tk,tk->t", value, inward) for inward in (inward_x, inward_y))
    twice_mm2 = inward_x[:, 2] * inward_y[:, 0] - inward_x[:, 0] * inward_y[:, 2]
    share = sheet_s / 2 / twice_mm2
    return np.asarray((share * slope_x)[:, None] * inward_x + (share * slope_y)[:, None] * inward_y)


def _round_points(mesh: Mesh, half_a: FloatArray, across: IntArray, contact: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return (t, 3) twice: what crosses, counter-clockwise round corner j, the half side by which the walk leaves the
    triangle (side j+1), and the one by which it enters (side j+2)."""
    t = len(across)
    leaves = np.roll(across, -1, axis=1).ravel()
    after = np.where(leaves >= 0, leaves - leaves % 3 + (leaves + 1) % 3, -1)  # the next corner round the point
    enters = np.roll(across, -2, axis=1).ravel()
    out, back = np.roll(half_a, -1, axis=1).ravel(), np.roll(half_a, -2, axis=1).ravel()
    guess = np.where(after >= 0, (out - back[after]) / 2, out)
    first = _first_corners(mesh, enters)
    holds_first = np.roll(contact, -2, axis=1).ravel()[first] >= 0
    is_open = enters[first] < 0
    walk = np.full(3 * t, -1, dtype=np.int64)  # the walk each corner is on
    gained = np.zeros(3 * t)  # since its first half side
    total, missing, n = np.zeros(len(first)), np.where(holds_first, -back[first], 0.0), holds_first.astype(np.int64)
    here, on, last = first.copy(), np.arange(len(first)), first.copy()
    while len(here):
        total[on] -= half_a.ravel()[here]
        walk[here], gained[here] = on, total[on]
        missing[on] += guess[here] - total[on]
        n[on] += 1
        last[on] = here
        going = (after[here] >= 0) & (after[here] != first[on])
        here, on = after[here[going]], on[going]
    holds_last = np.roll(contact, -1, axis=1).ravel()[last] >= 0
    at_first = np.where(is_open & ~holds_last, -total, missing / np.maximum(n, 1))
    at_first = np.where(is_open & ~holds_first, 0.0, at_first)
    crossing = gained + at_first[walk]
    return crossing.reshape(t, 3), (crossing + half_a.ravel()).reshape(t, 3)


def _first_corners(mesh: Mesh, enters: IntArray) -> IntArray:
    """Return the corners walks begin at: those behind the metal's edge, and one at every point inside."""
    begins = np.flatnonzero(enters < 0)
    at = mesh.triangles.ravel()
    inside = np.ones(len(mesh.points_mm), dtype=bool)
    inside[at[begins]] = False
    corner = np.full(len(inside), -1, dtype=np.int64)
    corner[at] = np.arange(len(at))
    return np.concatenate([begins, corner[inside & (corner >= 0)]])
