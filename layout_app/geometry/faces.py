"""Faces: the regions a network of edges divides the plane into, and the closed ways round them.

Half edge 2k runs along edge k, half edge 2k + 1 against it; a path is an array of half edges, each starting where the
one before ends.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.geometry.contours import bow_areas
from layout_app.geometry.edges import Edges
from layout_app.geometry.joining import Network, merged

STRAIGHT_RAD = 1e-3  # pieces of one straight line, as drawn, differ less


def components(network: Network, keep: BoolArray) -> Iterator[IntArray]:
    """Yield the edges of each connected part."""
    edges = np.flatnonzero(keep)
    if len(edges) == 0:
        return
    start, end = network.nodes[edges].T
    labels = merged(np.arange(len(network.degrees)), start, end)[start]
    order = np.argsort(labels, kind="stable")
    yield from np.split(edges[order], np.flatnonzero(np.diff(labels[order])) + 1)


def closed_paths(network: Network, component: IntArray) -> Iterator[IntArray]:
    """Yield the half edges of each loop of a connected part without dangling edges, each counter-clockwise."""
    every = list(faces(network, component))
    if len(every) == 2:
        yield max(every, key=lambda face: _signed_area(network, face))
        return
    outside = min(every, key=lambda face: _signed_area(network, face))
    rims = [_turned(rim) for rim in _simple_cycles(network, outside)]
    yield from rims
    on_rim = np.isin(component, np.concatenate(rims) >> 1)
    inside = component[~on_rim]
    bosses = inside[~_is_partition(network, inside, component[on_rim])]
    inner = [f for f in faces(network, np.concatenate([component[on_rim], bosses])) if _signed_area(network, f) > 0]
    for rim in rims:
        ours = [face for face in inner if np.isin(face >> 1, rim >> 1).any()]
        largest = max(ours, key=lambda face: _signed_area(network, face), default=None)
        yield from (face for face in ours if face is not largest)
    yield from (face for face in inner if not np.isin(face >> 1, np.concatenate(rims) >> 1).any())


def _turned(path: IntArray) -> IntArray:
    """Return a path of half edges run the other way."""
    return path[::-1] ^ 1


def faces(network: Network, component: IntArray) -> Iterator[IntArray]:
    """Yield the half edges round each face, the face on their left: counter-clockwise, the outermost clockwise."""
    half = np.concatenate([2 * component, 2 * component + 1])
    leaves = network.nodes[half >> 1, half & 1]
    order = np.lexsort([_bearings_rad(network, half, leaves), leaves])
    half, leaves = half[order], leaves[order]
    first = np.flatnonzero(np.diff(leaves, prepend=-1) != 0)
    before = np.arange(len(half)) - 1  # the half edge next clockwise about the same node
    before[first] = np.append(first[1:], len(half)) - 1
    follower = dict(zip((half ^ 1).tolist(), half[before].tolist(), strict=True))
    while follower:
        path = [next(iter(follower))]
        while (following := follower.pop(path[-1])) != path[0]:
            path.append(following)
        yield np.array(path, dtype=np.int64)


def _bearings_rad(network: Network, half: IntArray, leaves: IntArray) -> FloatArray:
    """Return the direction in which each half edge leaves its node.

    Seen at one common distance from the node, so that an arc and the line it is tangent to differ.
    """
    edges = network.edges.taken(half >> 1)
    lengths = edges.lengths_mm
    reach = np.full(int(leaves.max()) + 1, np.inf)
    np.minimum.at(reach, leaves, lengths / 3)
    along = reach[leaves] / lengths
    forward = half & 1 == 0
    away = edges.points_at(np.where(forward, along, 1 - along))
    node = np.where(forward[:, None], edges.starts_mm, edges.ends_mm)
    return np.asarray(np.arctan2(*(away - node).T[::-1]), dtype=np.float64)


def path_edges(network: Network, path: IntArray) -> Edges:
    """Return the edges of a path of half edges, each turned the way the path runs."""
    edges = network.edges.taken(path >> 1)
    against = path & 1 == 1
    return Edges(
        np.where(against[:, None], edges.ends_mm, edges.starts_mm),
        np.where(against[:, None], edges.starts_mm, edges.ends_mm),
        np.where(against, -edges.bulges, edges.bulges),
    )


def _signed_area(network: Network, path: IntArray) -> float:
    """Return the area to the left of a closed path, mm²; positive when it runs counter-clockwise."""
    edges = path_edges(network, path)
    if len(edges) == 1:  # an arc whose two ends were joined
        edges = edges.halved()
    x, y = (edges.starts_mm - edges.starts_mm[0]).T
    chords = np.hypot(np.roll(x, -1) - x, np.roll(y, -1) - y)
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2 + (chords**2 * bow_areas(edges.bulges)).sum())


def _simple_cycles(network: Network, path: IntArray) -> Iterator[IntArray]:
    """Yield the loops of a closed path that passes some nodes more than once."""
    stack: list[int] = []
    seen: dict[int, int] = {}
    for half in path.tolist():
        node = int(network.nodes[half >> 1, half & 1])
        if node in seen:
            yield np.array(stack[seen[node] :], dtype=np.int64)
            for gone in stack[seen[node] :]:
                seen.pop(int(network.nodes[gone >> 1, gone & 1]))
            del stack[len(seen) :]
        seen[node] = len(stack)
        stack.append(half)
    yield np.array(stack, dtype=np.int64)


def _is_partition(network: Network, inside: IntArray, rim: IntArray) -> BoolArray:
    """Return which inside edges are straight and run on straight, node after node, from rim to rim."""
    straight = network.edges.bulges[inside] == 0
    edges = network.edges.taken(inside)
    bearing = np.arctan2(*(edges.ends_mm - edges.starts_mm).T[::-1])
    fixed = set(network.nodes[rim].ravel().tolist())
    at_node: dict[int, list[int]] = {}
    for k, ends in enumerate(network.nodes[inside].tolist()):
        for node in ends:
            at_node.setdefault(node, []).append(k)
    doubtful = np.zeros(len(inside), dtype=np.bool_)
    for node, members in at_node.items():
        if node in fixed:
            continue
        for k in members:
            differs = [abs(np.sin(bearing[k] - bearing[m])) for m in members if m != k]
            doubtful[k] |= not differs or min(differs) > STRAIGHT_RAD or not straight[members].all()
    spoiled = doubtful | ~straight
    pending = np.flatnonzero(spoiled).tolist()
    while pending:  # a line that ends in a corner is a wall of something, all along
        k = pending.pop()
        for node in network.nodes[inside[k]].tolist():
            for m in at_node[node] if node not in fixed else ():
                if not spoiled[m]:
                    spoiled[m] = True
                    pending.append(m)
    return np.asarray(~spoiled, dtype=np.bool_)
