"""Joining: which ends of loose edges are meant to be one point, and where edges touch or overlap."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.edges import Edges

EXACT_MM = 1e-6  # ends nearer than this were meant to be the same number: a file's last digit, not a gap


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Edges between nodes.

    Attributes
    ----------
    edges : m edges, as they were drawn: ends at one node may still be up to the joining distance apart
    nodes : (m, 2) int array, the node at each edge's start and end
    origins : (m,) int array, which of the edges given this one is, or is a part of
    """

    edges: Edges
    nodes: IntArray
    origins: IntArray

    @property
    def degrees(self) -> IntArray:
        """(number of nodes,): how many edge ends meet at each node."""
        return np.bincount(self.nodes.ravel(), minlength=int(self.nodes.max(initial=-1)) + 1)

    def kept(self, which: BoolArray) -> Network:
        """Return the network with only some of its edges."""
        return Network(self.edges.taken(which), self.nodes[which], self.origins[which])


def joined(edges: Edges, join_mm: float) -> Network:
    """Return the network in which ends within `join_mm` are one node and no edge passes through a node.

    Ends that coincide are joined first; then loose ends find each other, nearest first; then a loose end may join a
    node it nearly meets. So a chain of chords shorter than the joining distance does not collapse. Where a node lies
    on an edge (overlapping lines, a line ending on a wall) the edge is split there; `origins` tells the parts.
    """
    origins = np.flatnonzero(edges.lengths_mm > EXACT_MM)
    edges = edges.taken(origins)
    nodes = _coinciding(np.vstack([edges.starts_mm, edges.ends_mm])).reshape(2, -1).T
    network = without_duplicates(Network(edges, nodes, origins), EXACT_MM)
    for step in (_loose_ends_paired, _loose_ends_attached, _split_at_touching_nodes):
        network = step(network, join_mm)
    return network


def without_duplicates(network: Network, join_mm: float, preferred: IntArray | None = None) -> Network:
    """Return the network with one edge of each set that joins the same nodes the same way.

    Edges are the same when their middles are within `join_mm`. Of each set the one with the lowest `preferred`
    stays, and among equals the first.
    """
    if len(network.edges) == 0:
        return network
    ends = np.sort(network.nodes, axis=1)
    middles = network.edges.points_at(np.full(len(network.edges), 0.5))
    rank = np.zeros(len(ends)) if preferred is None else preferred
    order = np.lexsort([rank, ends[:, 1], ends[:, 0]])
    keep = np.ones(len(ends), dtype=np.bool_)
    starts = np.flatnonzero((np.diff(ends[order], axis=0, prepend=-1) != 0).any(axis=1))
    for run in np.split(order, starts[1:]):
        if len(run) > 1:
            keep[_repeats(run, middles, join_mm)] = False
    return network.kept(keep)


def _repeats(run: IntArray, middles: PointArray, join_mm: float) -> IntArray:
    """Return those of `run` whose middle lies on an earlier one's."""
    repeats: list[int] = []
    left = run
    while len(left):
        same = np.hypot(*(middles[left] - middles[left[0]]).T) <= join_mm
        repeats += left[same][1:].tolist()
        left = left[~same]
    return np.array(repeats, dtype=np.int64)


def _coinciding(points_mm: PointArray) -> IntArray:
    """Return (n,) node numbers: points within EXACT_MM of each other, through others if need be, share one."""
    if len(points_mm) == 0:
        return np.zeros(0, dtype=np.int64)
    # Identical points go first: thousands of ends on one spot would otherwise make millions of pairs.
    distinct, inverse = np.unique(np.round(points_mm / (EXACT_MM / 8)), axis=0, return_inverse=True)
    first, second = _pairs_within(distinct * (EXACT_MM / 8), EXACT_MM)
    return merged(np.arange(len(distinct)), first, second)[inverse.ravel()]


def _pairs_within(points_mm: PointArray, distance_mm: float) -> tuple[IntArray, IntArray]:
    """Return indices i < j of the points at most `distance_mm` apart."""
    from shapely import STRtree, points  # heavy to load: only drawings need it

    shapes = points(points_mm)
    first, second = STRtree(shapes).query(shapes, predicate="dwithin", distance=distance_mm)
    ahead = first < second
    return first[ahead], second[ahead]


def merged(labels: IntArray, first: IntArray, second: IntArray) -> IntArray:
    """Return labels with each pair's two groups made one, renumbered from 0."""
    parent = list(range(int(labels.max(initial=-1)) + 1))

    def root(label: int) -> int:
        while parent[label] != label:
            parent[label] = parent[parent[label]]
            label = parent[label]
        return label

    for a, b in zip(labels[first].tolist(), labels[second].tolist(), strict=True):
        parent[root(b)] = root(a)
    return np.unique([root(label) for label in labels.tolist()], return_inverse=True)[1]


def _loose_ends(network: Network) -> tuple[IntArray, IntArray, PointArray]:
    """Return edge and side (0 start, 1 end) of every end no other meets, and where it is."""
    edge, side = np.nonzero(network.degrees[network.nodes] == 1)
    ends = np.where((side == 0)[:, None], network.edges.starts_mm[edge], network.edges.ends_mm[edge])
    return edge, side, ends


def _loose_ends_paired(network: Network, join_mm: float) -> Network:
    """Join loose ends two by two, nearest first."""
    edge, side, ends = _loose_ends(network)
    if len(edge) < 2:
        return network
    first, second = _pairs_within(ends, join_mm)
    # The two ends of one edge are a pair only if they nearly meet the long way round.
    closes = network.edges.lengths_mm[edge[first]] > 4 * join_mm
    sound = (edge[first] != edge[second]) | closes
    first, second = first[sound], second[sound]
    order = np.argsort(np.hypot(*(ends[first] - ends[second]).T), kind="stable")
    taken: set[int] = set()
    pairs = []
    for a, b in zip(first[order].tolist(), second[order].tolist(), strict=True):
        if a not in taken and b not in taken:
            taken |= {a, b}
            pairs.append((a, b))
    if not pairs:
        return network
    a_end, b_end = np.array(pairs).T
    return _with_nodes_merged(network, network.nodes[edge[a_end], side[a_end]], network.nodes[edge[b_end], side[b_end]])


def _with_nodes_merged(network: Network, first: IntArray, second: IntArray) -> Network:
    """Return the network with each pair of nodes made one; nodes are numbered anew."""
    labels = np.arange(int(network.nodes.max(initial=-1)) + 1)
    return replace(network, nodes=merged(labels, first, second)[network.nodes])


def _loose_ends_attached(network: Network, join_mm: float) -> Network:
    """Join each remaining loose end to the nearest end of another edge within reach."""
    from shapely import STRtree, points

    edge, side, ends = _loose_ends(network)
    if len(edge) == 0 or len(network.edges) < 2:
        return network
    every = np.vstack([network.edges.starts_mm, network.edges.ends_mm])
    loose, other = STRtree(points(every)).query(points(ends), predicate="dwithin", distance=join_mm)
    elsewhere = other % len(network.edges) != edge[loose]
    loose, other = loose[elsewhere], other[elsewhere]
    order = np.lexsort([np.hypot(*(ends[loose] - every[other]).T), loose])
    loose, nearest = np.unique(loose[order], return_index=True)
    return _with_nodes_merged(
        network, network.nodes[edge[loose], side[loose]], network.nodes.T.ravel()[other[order][nearest]]
    )


def _split_at_touching_nodes(network: Network, join_mm: float) -> Network:
    """Split every edge at the nodes that lie on it."""
    edge, node, fraction = _touches(network, join_mm)
    if len(edge) == 0:
        return network
    whole = np.arange(len(network.edges))
    owner = np.concatenate([whole, edge])
    begin = np.concatenate([np.zeros(len(whole)), fraction])
    from_node = np.concatenate([network.nodes[:, 0], node])
    order = np.lexsort([begin, owner])
    owner, begin, from_node = owner[order], begin[order], from_node[order]
    is_last = np.append(owner[1:] != owner[:-1], True)
    end = np.where(is_last, 1.0, np.append(begin[1:], 1.0))
    to_node = np.where(is_last, network.nodes[owner, 1], np.append(from_node[1:], 0))
    parts = network.edges.taken(owner).part(begin, end)
    split = Network(parts, np.column_stack([from_node, to_node]), network.origins[owner])
    # Two nodes nearer than the joining distance on one edge are one node.
    short = (np.bincount(edge, minlength=len(whole))[owner] > 0) & (parts.lengths_mm <= join_mm)
    split = _with_nodes_merged(split, from_node[short], to_node[short]).kept(~short)
    # A part from a node back to itself is shorter than the joining distance, or an arc closed on itself.
    return split.kept((split.nodes[:, 0] != split.nodes[:, 1]) | (split.edges.lengths_mm > 4 * join_mm))


def _touches(network: Network, join_mm: float) -> tuple[IntArray, IntArray, FloatArray]:
    """Return (edge, node, fraction) wherever a node lies on an edge's inside."""
    from shapely import STRtree, box, points

    edges = network.edges
    long_enough = np.flatnonzero(edges.lengths_mm > 3 * join_mm)
    if len(long_enough) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0)
    low, high = _bounds(edges.taken(long_enough), join_mm)
    every_node, place = np.unique(network.nodes.T.ravel(), return_index=True)
    where = np.vstack([edges.starts_mm, edges.ends_mm])[place]
    at, edge = STRtree(box(*low.T, *high.T)).query(points(where))
    edge = long_enough[edge]
    strange = (network.nodes[edge] != every_node[at][:, None]).all(axis=1)
    at, edge = at[strange], edge[strange]
    candidates = edges.taken(edge)
    fraction = candidates.nearest_fractions(where[at])
    near = np.hypot(*(candidates.points_at(fraction) - where[at]).T) <= join_mm
    inside = np.minimum(fraction, 1 - fraction) * candidates.lengths_mm > join_mm
    hit = near & inside
    return edge[hit], every_node[at[hit]], fraction[hit]


def _bounds(edges: Edges, margin_mm: float) -> tuple[PointArray, PointArray]:
    """Return lower and upper corners of boxes that hold each edge, with a margin; arcs get their whole circle."""
    low, high = np.minimum(edges.starts_mm, edges.ends_mm), np.maximum(edges.starts_mm, edges.ends_mm)
    # An arc rises at most bulge x half chord from its chord, and up to half a turn never reaches further sideways.
    rise = np.where(np.abs(edges.bulges) > 1, 2 * edges.radii_mm, np.abs(edges.bulges) * edges.chords_mm / 2)
    rise = np.where(edges.bulges == 0, 0.0, rise)[:, None] + margin_mm
    return low - rise, high + rise
