"""Line walks: lines along the current, walked through a mesh from triangle to triangle, all lines at once.

With a flow that is balanced in every triangle, the density in it is constant and crosses each side evenly. So a line is
known by the share of a side's current to its left: that share tells by which of the other sides it leaves, and where.
Between two lines flows the same current all along: lines cannot meet, turn in circles or leave the metal off a contact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.contact_rims import ContactRims
from layout_app.physics.edge_flows import EdgeFlows

LEAST_A = 1e-300  # only rounding strands a line where nothing flows
# A line crosses a mesh of t triangles in about √t steps; one in a hundred times that has lost its way in rounding
MOST_STEPS, STEPS_PER_ROOT = 1000, 100


@dataclass(frozen=True, slots=True, eq=False)
class Walks:
    """Lines as points on the sides of triangles, one line after another.

    Attributes
    ----------
    line : (p,) int array, ascending
    side : (p,) int array, 3 × triangle + side the point is on: of the triangle the line goes through next, but for its
        last point, where it leaves the metal
    share : (p,) float array, along the side, from corner k + 1 to corner k + 2
    ends : (l,) int array, the contact each line leads to; -1 where rounding has stranded it
    """

    line: IntArray
    side: IntArray
    share: FloatArray
    ends: IntArray


def walk(flows: EdgeFlows, rims: ContactRims, begin_a: FloatArray) -> Walks:
    """Return the lines from where they enter the metal, counted as `rims.entered_a`, along the current."""
    outflow, across = flows.outflow_a.ravel(), flows.across.ravel()
    ends = np.full(len(begin_a), -1, dtype=np.int64)
    line = np.arange(len(begin_a))
    side, share = rims.entry(begin_a)
    told: list[tuple[IntArray, IntArray, FloatArray]] = [(line, side, share)]
    waiting: list[tuple[IntArray, IntArray, FloatArray]] = []  # at a contact: settled many at a time
    n_waiting = 0
    for _ in range(MOST_STEPS + int(STEPS_PER_ROOT * np.sqrt(len(flows.across)))):
        if n_waiting >= len(line):
            if n_waiting == 0:
                break
            again = _settled(flows, rims, ends, *(np.concatenate(column) for column in zip(*waiting, strict=True)))
            line, side, share = (np.concatenate(pair) for pair in zip((line, side, share), again, strict=True))
            told.append(again)
            waiting, n_waiting = [], 0
            continue
        side, share = _crossed(outflow, side, share)
        beyond = across[side]
        inside = beyond >= 0
        if not inside.all():
            waiting.append((line[~inside], side[~inside], share[~inside]))
            told.append(waiting[-1])
            n_waiting += len(waiting[-1][0])
            line, beyond, share = line[inside], beyond[inside], share[inside]
        side, share = beyond, 1 - share
        told.append((line, side, share))
    number, sides, shares = (np.concatenate(column) for column in zip(*told, strict=True))
    order = np.argsort(number, kind="stable")
    return Walks(number[order], sides[order], shares[order], ends)


def _crossed(outflow: FloatArray, side: IntArray, share: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return by which side of its triangle each line leaves, and where."""
    first, k = side - side % 3, side % 3
    after, before = first + (k + 1) % 3, first + (k + 2) % 3  # opposite the corners after and before this one
    along = np.abs(outflow[side])
    from_start, from_end = share * along, (1 - share) * along
    by_before = (from_start < outflow[before]) & (outflow[before] > 0)
    by_before |= outflow[after] <= 0
    leaves_by = np.where(by_before, before, after)
    part = np.where(by_before, from_start, from_end) / np.maximum(outflow[leaves_by], LEAST_A)
    part = np.minimum(part, 1.0)
    return leaves_by, np.where(by_before, 1 - part, part)


def _settled(
    flows: EdgeFlows, rims: ContactRims, ends: IntArray, line: IntArray, side: IntArray, share: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the lines at contacts that pass, with where they enter again; note where the others end."""
    contact = flows.contact.ravel()[side]
    held = contact >= 0
    line, side, share, contact = line[held], side[held], share[held], contact[held]
    passes, again_a = rims.passed_on(side, share)
    ends[line[~passes]] = contact[~passes]
    return line[passes], *rims.entry(again_a[passes])


def points_of(mesh: Mesh, walks: Walks) -> FloatArray:
    """Return the (p, 2) points of walks, mm."""
    begin, end = side_ends(mesh, walks.side)
    return np.asarray(mesh.points_mm[begin] * (1 - walks.share)[:, None] + mesh.points_mm[end] * walks.share[:, None])


def side_ends(mesh: Mesh, side: IntArray) -> tuple[IntArray, IntArray]:
    """Return the mesh points at both ends of sides given as 3 × triangle + side."""
    triangle, k = np.divmod(side, 3)
    return mesh.triangles[triangle, (k + 1) % 3], mesh.triangles[triangle, (k + 2) % 3]
