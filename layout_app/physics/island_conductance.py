"""Island conductance: what a piece of sheet does between the cuts along its boundary and the lands inside it.

The boundary is cut into short straight elements; along each the potential is linear, and the current through it is
known and uniform. Green's third identity ties both together, so nothing inside the piece needs a mesh (boundary element
method; source: any textbook of it, from memory). A land is one or more point sources with a radius; beside its round
window a mirror source in the window takes away what is steep about it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray

TWO_PI = 2 * np.pi
# Across a cut neither current nor potential is quite uniform. Taking the one for it bounds the resistance from above,
# the other from below (Thomson's and Dirichlet's principles); where cuts are narrow, the truth is nearer the second.
# A third of the first is where lattices come out as the sheet model says, in the tests; without it windows much smaller
# than the pitch would have a seventh too little resistance
UNIFORM_SHARE = 1 / 3
ON_LINE = 1e-9  # of an element's length: what is as near to its line is on it
NEAREST_MM = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Island:
    """A piece of sheet, its boundary as straight elements with the metal to their left.

    Attributes
    ----------
    nodes_mm : (e, 2) float array, where each element starts
    following : (e,) int array, the element that starts where each one ends
    piece : (e,) int array, the piece of contact each element belongs to, 0…p-1, two or more elements each; -1 for none
    contact : (p,) int array, the contact each piece belongs to, 0…k-1, ascending: first the cuts, then what is held at
        one potential
    n_cuts : int, how many of them are cuts
    sources_mm : (s, 2) float array, round contacts inside
    windows_mm : (s, 3) float array, x, y, radius of the round hole each of them sits beside
    land : (s,) int array, the land each belongs to, 0…l-1, ascending: contacts k…k+l-1
    radius_mm : of each source
    """

    nodes_mm: PointArray
    following: IntArray
    piece: IntArray
    contact: IntArray
    n_cuts: int
    sources_mm: PointArray
    windows_mm: FloatArray
    land: IntArray
    radius_mm: float


def island_conductance(island: Island) -> FloatArray:
    """Return G, (k+l, k+l), per square: currents into the contacts = sheet conductance · G · their potentials."""
    potential = _potentials(island)
    owner = np.append(island.contact, island.contact.max(initial=-1) + 1 + island.land)
    held = _between(potential, owner)
    if island.n_cuts == 0:
        return held
    beyond = int((island.contact < island.n_cuts).sum())
    whole = _belonging(owner[:beyond])
    whole /= whole.sum(axis=0)  # one part for each cut, fed all along
    potential = np.block(
        [
            [whole.T @ potential[:beyond, :beyond] @ whole, whole.T @ potential[:beyond, beyond:]],
            [potential[beyond:, :beyond] @ whole, potential[beyond:, beyond:]],
        ]
    )
    fed = _between(potential, np.append(np.arange(island.n_cuts), owner[beyond:]))
    return np.asarray(UNIFORM_SHARE * fed + (1 - UNIFORM_SHARE) * held)


def _between(potential: FloatArray, owner: IntArray) -> FloatArray:
    """Return the conductances between contacts from the potentials of their parts, each contact at one potential."""
    n = len(potential)
    apart = np.eye(n - 1, n) - np.eye(n - 1, n, 1)  # from each part to the next: feeds that sum to nothing
    between = apart @ potential @ apart.T
    to_next = apart @ _belonging(owner)
    found = to_next.T @ np.linalg.solve(between, to_next)
    return np.asarray((found + found.T) / 2)


def _belonging(owner: IntArray) -> FloatArray:
    return np.asarray((owner[:, None] == np.arange(owner.max(initial=-1) + 1)) * 1.0)


def _potentials(island: Island) -> FloatArray:
    """Return (p+s, p+s): the potential of each piece and source when one of them, by column, is fed with unit current.

    What is fed leaves evenly all along the boundary; differences of two columns are free of that.
    """
    start, end = island.nodes_mm, island.nodes_mm[island.following]
    length = np.hypot(*(end - start).T)
    n_pieces = len(island.contact)
    share = (island.piece[:, None] == np.arange(n_pieces)) * length[:, None]
    share /= share.sum(axis=0)  # (e, p): of a piece's current through each element, and of its mean potential
    n, n_sources = len(start), len(island.sources_mm)
    points, sign, steep_at = _steep(island)
    at_start, at_end, single = _seen(np.vstack([start, points]), start, end)
    double = at_start[:n].copy()
    double[:, island.following] += at_end[:n]
    system = np.diag(double.sum(axis=1)) - double + length[None, :] / length.sum()
    steep = _summed(sign * (at_start[n:] + at_end[n:]).T)  # (e, s) into the piece, for what the steep part sends out
    inward = np.hstack([share, steep]) / length[:, None] - 1 / length.sum()  # (e, p+s) ∂u/∂n of the regular part
    regular = np.linalg.solve(system, single[:n] @ inward)
    on_element = (regular + regular[island.following]) / 2
    on_element[:, n_pieces:] += _summed(sign * single[n:].T) / length[:, None]
    own = slice(n, n + n_sources)
    inside = single[own] @ inward + at_start[own] @ regular + at_end[own] @ regular[island.following]
    inside[:, n_pieces:] += steep_at
    return np.vstack([share.T @ on_element, inside])


def _steep(island: Island) -> tuple[PointArray, FloatArray, FloatArray]:
    """Return what makes the steep part of the sources' potentials.

    Returns
    -------
    points_mm, sign : (3s, 2), (3s,) where current is fed in: the sources, their mirrors in their windows, and, taken
        out again, amid their windows
    potential : (s, s) at each source, of each with what goes with it; its own at its radius
    """
    source, centre, radius = island.sources_mm, island.windows_mm[:, :2], island.windows_mm[:, 2:]
    out = source - centre
    mirror = centre + out * (radius**2 / np.maximum((out**2).sum(axis=1, keepdims=True), NEAREST_MM))
    points, n = np.vstack([source, mirror, centre]), len(source)
    sign = np.repeat([1.0, 1.0, -1.0], n)
    apart = np.hypot(*(source[:, None] - points[None]).transpose(2, 0, 1))
    apart[np.arange(n), np.arange(n)] = island.radius_mm
    return points, sign, _summed(np.log(np.maximum(apart, NEAREST_MM)) * (-sign / TWO_PI))


def _summed(columns: FloatArray) -> FloatArray:
    """Return (…, s) the sum over what belongs to each source, of (…, 3s)."""
    n = columns.shape[1] // 3
    return columns[:, :n] + columns[:, n : 2 * n] + columns[:, 2 * n :]


def _seen(points: PointArray, start: PointArray, end: PointArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return three (n, e) integrals along each element, seen from each point.

    The angle it takes, over 2π, shared between its start and its end as a potential linear along it is; and
    ∫ -ln(distance) / 2π.
    """
    along = end - start
    length = np.hypot(*along.T)
    unit = along / length[:, None]
    x, y = start[None, :, 0] - points[:, None, 0], start[None, :, 1] - points[:, None, 1]
    t0 = x * unit[:, 0] + y * unit[:, 1]
    off = x * unit[:, 1] - y * unit[:, 0]
    off = np.where(np.abs(off) < ON_LINE * length, 0.0, off)
    t1 = t0 + length
    off2 = off**2
    log0 = np.log(np.maximum(t0**2 + off2, NEAREST_MM**2)) / 2
    log1 = np.log(np.maximum(t1**2 + off2, NEAREST_MM**2)) / 2
    angle = np.where(off == 0, 0.0, np.arctan2(off * length, off2 + t0 * t1))
    at_end = (off * (log1 - log0) - t0 * angle) / length
    single = length - off * angle - t1 * log1 + t0 * log0
    return (angle - at_end) / TWO_PI, at_end / TWO_PI, single / TWO_PI
