"""Loops: closed contours found among loose edges, and what is left over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray, PointArray, frozen_floats
from layout_app.geometry.contours import Contour
from layout_app.geometry.edges import Edges, bulges_with_radii
from layout_app.geometry.faces import closed_paths, components, faces, path_edges
from layout_app.geometry.joining import EXACT_MM, Network, joined, without_duplicates


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """A closed contour, counter-clockwise, and the indices of the edges it was made from."""

    contour: Contour
    edges: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class OpenChain:
    """Edges that hang together without closing.

    `ends_mm` is (k, 2): the ends no other edge meets; `length_mm` is along all edges.
    """

    edges: tuple[int, ...]
    length_mm: float
    points_mm: PointArray  # starts, middles and ends of the edges
    ends_mm: PointArray


@dataclass(frozen=True, slots=True, eq=False)
class LoopsFound:
    """Every edge given is in a loop, in an open chain, a partition (straight across a loop) or idle (a duplicate)."""

    loops: tuple[Loop, ...]
    open_chains: tuple[OpenChain, ...]
    partitions: tuple[int, ...]
    idle: tuple[int, ...]


def find_loops(edges: Edges, join_mm: float) -> LoopsFound:
    """Return the closed loops among loose edges whose ends may be up to `join_mm` apart.

    Arcs keep their radius: where ends do not quite meet, straight ends move. Where three or more edges meet, dangling
    lines are left out, the way round the outside is a loop, straight partitions across it are idle, and whatever else
    is closed off inside it is a loop of its own, except the largest such space.

    >>> square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])
    >>> found = find_loops(Edges(square, np.roll(square, -1, axis=0), np.zeros(4)), 0.01)
    >>> [loop.contour.area_mm2 for loop in found.loops]
    [16.0]
    """
    network = joined(edges, join_mm)
    network = without_duplicates(network, join_mm, _least_likely_walls(network, edges))
    on_cycles = _between_cycles(network, _not_dangling(network))
    paths = [path for component in components(network, on_cycles) for path in closed_paths(network, component)]
    loops = [
        Loop(contour, tuple(sorted(set(network.origins[path >> 1].tolist()))))
        for path in paths
        if (contour := _contour(network, path)) is not None
    ]
    used = {index for loop in loops for index in loop.edges}
    chains = tuple(_open_chains(network, ~on_cycles, used))
    on_paths = np.concatenate(paths) >> 1 if paths else np.zeros(0, dtype=np.int64)
    across = on_cycles & ~np.isin(np.arange(len(on_cycles)), on_paths)
    partitions = set(network.origins[across].tolist()) - used
    busy = used | partitions | {index for chain in chains for index in chain.edges}
    idle = tuple(index for index in range(len(edges)) if index not in busy)
    return LoopsFound(tuple(loops), chains, tuple(sorted(partitions)), idle)


def _least_likely_walls(network: Network, edges: Edges) -> IntArray:
    """Return (m,) ranks: of two edges on one another, the one with fewer loose ends stays, then the longer."""
    loose = np.zeros(len(edges), dtype=np.int64)
    np.add.at(loose, network.origins, (network.degrees[network.nodes] == 1).any(axis=1))
    order = np.lexsort([-edges.lengths_mm, loose])
    rank = np.empty(len(edges), dtype=np.int64)
    rank[order] = np.arange(len(edges))
    return rank[network.origins]


def _not_dangling(network: Network) -> BoolArray:
    """Return (m,): which edges remain when dangling ones are taken away until none is left."""
    keep = np.ones(len(network.edges), dtype=np.bool_)
    degrees = network.degrees
    at_node = _edges_at(network.nodes, len(degrees))
    loose = np.flatnonzero(degrees == 1).tolist()
    while loose:
        node = loose.pop()
        for edge in at_node(node):
            if keep[edge]:
                keep[edge] = False
                for end in network.nodes[edge].tolist():
                    degrees[end] -= 1
                    if degrees[end] == 1:
                        loose.append(end)
    return keep


def _edges_at(nodes: IntArray, n_nodes: int) -> Callable[[int], list[int]]:
    """Return a function giving the edges at a node."""
    order = np.argsort(nodes.ravel(), kind="stable")
    bound = np.searchsorted(nodes.ravel()[order], np.arange(n_nodes + 1))
    owner = (order // 2).tolist()
    return lambda node: owner[bound[node] : bound[node + 1]]


def _between_cycles(network: Network, keep: BoolArray) -> BoolArray:
    """Return `keep` without bridges: edges that join two closed parts and lie on neither."""
    junctions = np.bincount(network.nodes[keep].ravel(), minlength=len(network.degrees)) > 2
    if not junctions.any():
        return keep
    keep = keep.copy()
    for component in components(network, keep):
        for face in faces(network, component):
            sides, counts = np.unique(face >> 1, return_counts=True)
            keep[sides[counts == 2]] = False  # the same face on both sides
    return keep


# -- one contour from a path --------------------------------------------------------------------------------------


def _contour(network: Network, path: IntArray) -> Contour | None:
    """Return the closed contour along a path of half edges, its ends made to meet; None if nothing is left of it."""
    run = _parts_made_whole(path_edges(network, path), network.origins[path >> 1], path & 1)
    if len(run) == 1:
        return _closed_arc(run)
    vertices = _meeting_points(run)
    ends = np.roll(vertices, -1, axis=0)
    chords = np.hypot(*(ends - vertices).T)
    unmoved = (vertices == run.starts_mm).all(axis=1) & (ends == run.ends_mm).all(axis=1)
    bulges = np.where(unmoved, run.bulges, bulges_with_radii(chords, run.radii_mm, run.bulges))
    keep = chords > EXACT_MM
    if keep.sum() < 2 or (keep.sum() == 2 and not bulges[keep].any()):
        return None
    return Contour(vertices[keep], bulges[keep])


def _closed_arc(run: Edges) -> Contour | None:
    """Return the circle of a single arc whose ends were joined; None for what is no such arc."""
    if not abs(run.bulges[0]) > 1:
        return None
    x, y = run.centres_mm[0]
    return Contour.circle(float(x), float(y), float(run.radii_mm[0]))


def _parts_made_whole(run: Edges, origins: IntArray, sides: IntArray) -> Edges:
    """Return the run with successive parts of one edge put together again."""
    new = (origins != np.roll(origins, 1)) | (sides != np.roll(sides, 1)) | _apart(run)
    if new.all() or not new.any():
        return run
    first = np.flatnonzero(new)
    run = Edges(*(np.roll(column, -first[0], axis=0) for column in (run.starts_mm, run.ends_mm, run.bulges)))
    first = first - first[0]
    last = np.append(first[1:], len(run)) - 1
    quarter_turns = np.add.reduceat(np.arctan(run.bulges), first)
    return Edges(run.starts_mm[first], run.ends_mm[last], np.tan(quarter_turns))


def _apart(run: Edges) -> BoolArray:
    """Return which edges do not start exactly where the one before ends."""
    gap = run.starts_mm - np.roll(run.ends_mm, 1, axis=0)
    return np.asarray(np.hypot(*gap.T) > EXACT_MM, dtype=np.bool_)


def _meeting_points(run: Edges) -> PointArray:
    """Return (n, 2): where each edge of a closed run meets the one before it.

    An arc's end stays and a line's end comes to it. Two lines, or two arcs, meet where they cross, if that is near;
    else half way.
    """
    here, before = run.starts_mm, np.roll(run.ends_mm, 1, axis=0)
    is_arc = run.bulges != 0
    was_arc = np.roll(is_arc, 1)
    points = np.where((was_arc & ~is_arc)[:, None], before, here)
    alike = np.flatnonzero(is_arc == was_arc)
    gaps = np.hypot(*(here - before).T)
    for k in alike[gaps[alike] > EXACT_MM].tolist():
        middle = (here[k] + before[k]) / 2
        cross = _crossing(run, k - 1, k, middle)
        near = cross is not None and max(np.hypot(*(cross - here[k])), np.hypot(*(cross - before[k]))) <= 2 * gaps[k]
        points[k] = cross if cross is not None and near else middle
    return points


def _crossing(run: Edges, first: int, second: int, near_mm: PointArray) -> PointArray | None:
    """Return where two lines or two whole circles cross, the place nearest to `near_mm`; None if nowhere."""
    if run.bulges[first] == 0:
        along, across = run.ends_mm[first] - run.starts_mm[first], run.ends_mm[second] - run.starts_mm[second]
        steepness = along[0] * across[1] - along[1] * across[0]
        if abs(steepness) < 0.05 * np.hypot(*along) * np.hypot(*across):  # flatter than 3 degrees: ill defined
            return None
        to_second = run.starts_mm[second] - run.starts_mm[first]
        share = (to_second[0] * across[1] - to_second[1] * across[0]) / steepness
        return np.asarray(run.starts_mm[first] + share * along, dtype=np.float64)
    (p, q), (r, s) = run.centres_mm[[first, second]], run.radii_mm[[first, second]]
    apart = float(np.hypot(*(q - p)))
    if apart == 0 or not abs(r - s) < apart < r + s:
        return None
    ahead = (apart**2 + r**2 - s**2) / (2 * apart)
    aside = np.sqrt(max(r**2 - ahead**2, 0.0))
    unit = (q - p) / apart
    spots = [p + ahead * unit + side * aside * np.array([-unit[1], unit[0]]) for side in (1, -1)]
    return frozen_floats(min(spots, key=lambda spot: float(np.hypot(*(spot - near_mm)))))


def _open_chains(network: Network, dangling: BoolArray, used: set[int]) -> Iterator[OpenChain]:
    """Yield what hangs together among the edges outside every loop, leaving out parts of edges that are in one."""
    outside = dangling & ~np.isin(network.origins, list(used))
    degrees = network.degrees
    for component in components(network, outside):
        edges = network.edges.taken(component)
        nodes = network.nodes[component]
        loose = np.vstack([edges.starts_mm[degrees[nodes[:, 0]] == 1], edges.ends_mm[degrees[nodes[:, 1]] == 1]])
        middles = edges.points_at(np.full(len(component), 0.5))
        points = np.vstack([edges.starts_mm, middles, edges.ends_mm])
        members = tuple(sorted(set(network.origins[component].tolist())))
        yield OpenChain(members, float(edges.lengths_mm.sum()), points, loose)
