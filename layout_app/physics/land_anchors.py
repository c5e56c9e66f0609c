"""Anchors: where the lands of a segment hang on its network of islands, webs and strips."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray
from layout_app.geometry.territories import Territories
from layout_app.physics.joints import Lands
from layout_app.physics.metal_edge import Edge
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# How far a foot's current spreads on its own, over the way to its node: to an island, into a web, to the edge
ISLAND_SPREAD, WEB_SPREAD, EDGE_SPREAD = 0.75, 1.0, 1.0
NEAR_SHARE = 0.5  # of the distance from foot to window: an anchor nearer than that to a node is that node

Link = tuple[IntArray, IntArray, FloatArray]  # from, to, squares


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Nodes on the border lines between windows' territories: (r,) arrays, one row for each node on each line.

    `ridge` is the line, `x_mm` the place along it from halfway between its windows, `trim_mm` how much shorter webs are
    at the node.
    """

    ridge: IntArray
    x_mm: FloatArray
    node: IntArray
    trim_mm: FloatArray

    def joined(self, other: Places) -> Places:
        """Return the rows of both, in order along their lines."""
        ridge, x_mm, node, trim = (
            np.concatenate([getattr(each, name) for each in (self, other)])
            for name in ("ridge", "x_mm", "node", "trim_mm")
        )
        order = np.lexsort((x_mm, ridge))
        return Places(ridge[order], x_mm[order], node[order], trim[order])


@dataclass(frozen=True, slots=True, eq=False)
class Anchors:
    """Where lands hang on the network: new nodes on border lines and on the edge, and the links to them."""

    places: Places
    ends: IntArray
    end_nodes: IntArray
    links: Link
    next_node: int


def along_lines(segment: Segment, lines: Territories) -> PointArray:
    """Return (m, 2): the unit vector along each border line."""
    across = segment.window_centres_mm[lines.pairs[:, 1]] - segment.window_centres_mm[lines.pairs[:, 0]]
    return np.asarray(np.column_stack([-across[:, 1], across[:, 0]]) / np.hypot(*across.T)[:, None])


def land_anchors(
    segment: Segment,
    lands: Lands,
    lines: Territories,
    places: Places,
    edge: Edge,
    ends: IntArray,
    solid: BaseGeometry,
    next_node: int,
) -> Anchors:
    """Return where each land hangs: straight out from its cell, on the border line or the edge it meets first.

    There it takes the node that is near, or makes one. An edge that no other node stands on, that of a boss, leads
    nowhere: there the land takes the nearest node round its window.
    """
    n = len(segment.windows_mm)
    ridge, x_mm = _met_lines(segment, lands, lines, places, solid)
    adrift = np.flatnonzero(ridge < 0)
    samples = _samples_beside(edge, lands, adrift, np.unique(edge.ring[ends]))
    on_edge, samples, lost = adrift[samples >= 0], samples[samples >= 0], adrift[samples < 0]
    for window in lost.tolist():
        ridge[window], x_mm[window] = _nearest_own_place(segment, lands, lines, places, window)
    on_line = np.flatnonzero(ridge >= 0)
    near = _nearest_place(places, ridge[on_line], x_mm[on_line])
    is_near = np.abs(places.x_mm[near] - x_mm[on_line]) < places.trim_mm[near] + NEAR_SHARE * lands.reach_mm
    fresh = on_line[~is_near]
    n_new = len(fresh) + len(on_edge)
    node = next_node + n_new + np.arange(n)  # a land on metal that holds nothing else hangs on a node of its own
    node[on_line[is_near]] = places.node[near[is_near]]
    node[fresh] = next_node + np.arange(len(fresh))
    node[on_edge] = next_node + len(fresh) + np.arange(len(on_edge))
    where, share = lands.centres_mm.copy(), np.full(n, WEB_SPREAD)
    where[on_line] = (
        lines.halfway_mm[ridge[on_line]] + x_mm[on_line, None] * along_lines(segment, lines)[ridge[on_line]]
    )
    where[on_edge] = edge.points_mm[samples]
    share[on_line[is_near]], share[on_edge] = ISLAND_SPREAD, EDGE_SPREAD
    out_mm = np.hypot(*(where - lands.centres_mm).T) * share
    new = Places(ridge[fresh], x_mm[fresh], node[fresh], np.zeros(len(fresh)))
    links = np.arange(n), node, _spreading_squares(out_mm, lands)
    return Anchors(new, samples, node[on_edge], links, next_node + n_new + n)


def _nearest_own_place(
    segment: Segment, lands: Lands, lines: Territories, places: Places, window: int
) -> tuple[int, float]:
    """Return line and place along it of the node nearest to a land, of those round its window; (-1, 0) for none."""
    rows = np.flatnonzero((lines.pairs[places.ridge] == window).any(axis=1))
    if len(rows) == 0:
        return -1, 0.0
    ridge = places.ridge[rows]
    where = lines.halfway_mm[ridge] + places.x_mm[rows, None] * along_lines(segment, lines)[ridge]
    best = rows[np.argmin(((where - lands.centres_mm[window]) ** 2).sum(axis=1))]
    return int(places.ridge[best]), float(places.x_mm[best])


def _spreading_squares(out_mm: FloatArray, lands: Lands) -> FloatArray:
    """Return what the current meets on its way from the feet out to a distance.

    Source: derived. A disc on a wide sheet has ln(ρ / r) / 2π; an edge at the distance h mirrors it and adds
    ln(ρ / 2h) / 2π where ρ is more than the mirror's distance 2h.
    """
    mirror = np.log(np.maximum(out_mm / (2 * lands.reach_mm), 1.0))
    return np.asarray((np.log(np.maximum(out_mm / lands.radius_mm, 1.2)) + mirror) / (2 * np.pi))


def _met_lines(
    segment: Segment, lands: Lands, lines: Territories, places: Places, solid: BaseGeometry
) -> tuple[IntArray, FloatArray]:
    """Return (n,) the border line that the way out from each cell over its land meets first and where; -1 for none."""
    import shapely

    n, m = len(segment.windows_mm), len(lines.pairs)
    window = np.concatenate([lines.pairs[:, 0], lines.pairs[:, 1]])
    line = np.tile(np.arange(m), 2)
    centre, out = segment.window_centres_mm[window], lands.outward[window]
    across = lines.halfway_mm[line] - centre
    ahead = (out * across).sum(axis=1)
    reach = (across**2).sum(axis=1) / np.where(ahead > 0, ahead, 1.0)
    x_mm = ((centre + reach[:, None] * out - lines.halfway_mm[line]) * along_lines(segment, lines)[line]).sum(axis=1)
    low, high = np.full(m, np.inf), np.full(m, -np.inf)
    np.minimum.at(low, places.ridge, places.x_mm)
    np.maximum.at(high, places.ridge, places.x_mm)
    slack = NEAR_SHARE * lands.reach_mm
    met = np.flatnonzero((ahead > 0) & (x_mm > low[line] - slack) & (x_mm < high[line] + slack))
    at = (centre + reach[:, None] * out)[met]
    met = met[shapely.contains_xy(solid, at[:, 0], at[:, 1])]
    order = met[np.lexsort((reach[met], window[met]))]
    _, first = np.unique(window[order], return_index=True)
    chosen = order[first]
    ridge, found_mm = np.full(n, -1, dtype=np.int64), np.zeros(n)
    ridge[window[chosen]], found_mm[window[chosen]] = (
        line[chosen],
        np.clip(x_mm[chosen], low[line[chosen]], high[line[chosen]]),
    )
    return ridge, found_mm


def _nearest_place(places: Places, ridge: IntArray, x_mm: FloatArray) -> IntArray:
    """Return the row of the node nearest to each place on the same line; every line asked for has one."""
    span = 4 * (float(np.abs(places.x_mm).max(initial=0.0)) + float(np.abs(x_mm).max(initial=0.0)) + 1.0)
    place = np.searchsorted(places.ridge * span + places.x_mm, ridge * span + x_mm)
    before, after = np.maximum(place - 1, 0), np.minimum(place, len(places.x_mm) - 1)
    far = [np.where(places.ridge[k] == ridge, np.abs(places.x_mm[k] - x_mm), np.inf) for k in (before, after)]
    return np.where(far[0] <= far[1], before, after)


def _samples_beside(edge: Edge, lands: Lands, which: IntArray, rings: IntArray) -> IntArray:
    """Return the sample of the edge nearest to each of the given lands, of those nearest to the land's window.

    Only samples on the given rings count, those that other nodes stand on; -1 for a window that none is nearest to.
    """
    found = []
    for window in which.tolist():
        own = np.flatnonzero((edge.owner == window) & np.isin(edge.ring, rings))
        apart = ((edge.points_mm[own] - lands.centres_mm[window]) ** 2).sum(axis=1)
        found.append(int(own[apart.argmin()]) if len(own) else -1)
    return np.array(found, dtype=np.int64)
