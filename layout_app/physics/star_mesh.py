"""Star-mesh: nodes with few links taken out of a network, which stays the same seen from the others."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.physics.module import Metal

MOST_LINKS = 4  # of a node taken out: it leaves no more than six links, some beside others that are there already


def without_stars(metal: Metal, n_kept: int) -> Metal:
    """Return the network with some nodes taken out, no two of them linked, none of the first `n_kept`.

    It halves the time of solving large modules, where all nodes have to be put in order first.

    Source: star-mesh transformation (Rosen, 1924, from memory): the links gᵢ of a node become gᵢ gⱼ / Σ g.
    """
    start, end, link = _merged(metal.n_nodes, metal.start, metal.end, metal.conductance_s)
    is_out = _apart(metal.n_nodes, start, end, n_kept)
    touched = is_out[start] | is_out[end]
    middle = np.where(is_out[start], start, end)[touched]
    tip, arm = (start + end)[touched] - middle, link[touched]
    order = np.argsort(middle, kind="stable")
    middle, tip, arm = middle[order], tip[order], arm[order]
    n_after = np.searchsorted(middle, middle, side="right") - np.arange(len(middle)) - 1
    one = np.repeat(np.arange(len(middle)), n_after)
    other = one + 1 + np.arange(len(one)) - np.repeat(np.cumsum(n_after) - n_after, n_after)
    total = np.bincount(middle, weights=arm, minlength=metal.n_nodes)
    start = np.concatenate([start[~touched], tip[one]])
    end = np.concatenate([end[~touched], tip[other]])
    link = np.concatenate([link[~touched], arm[one] * arm[other] / total[middle[one]]])
    number = np.cumsum(~is_out) - 1
    return Metal(int((~is_out).sum()), *_merged(metal.n_nodes, number[start], number[end], link))


def _apart(n_nodes: int, start: IntArray, end: IntArray, n_kept: int) -> BoolArray:
    """Return which nodes to take out: of those with few links each that comes before all its neighbours.

    Fewer links come first, then the lower number.
    """
    n_links = np.bincount(start, minlength=n_nodes) + np.bincount(end, minlength=n_nodes)
    never = (MOST_LINKS + 1) * n_nodes
    place = np.where((n_links <= MOST_LINKS) & (n_links > 0), n_links * n_nodes + np.arange(n_nodes), never)
    place[:n_kept] = never
    least = np.full(n_nodes, never)
    np.minimum.at(least, start, place[end])
    np.minimum.at(least, end, place[start])
    return np.asarray(place < least)


def _merged(
    n_nodes: int, start: IntArray, end: IntArray, conductance: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the links with those between the same two nodes made one, and those from a node to itself left out."""
    names, link = np.unique(np.minimum(start, end) * n_nodes + np.maximum(start, end), return_inverse=True)
    total = np.bincount(link, weights=conductance, minlength=len(names))
    one, other = names // n_nodes, names % n_nodes
    return one[one != other], other[one != other], total[one != other]
