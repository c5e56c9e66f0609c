"""Segment links: a segment as a network of the metal really there.

Nodes are the islands of metal where three or more windows meet, and the places where the border between two windows'
territories runs out at the metal's edge. Links are the webs between two windows, from island to island or edge, and
the strips of metal between a window and the edge. Each land hangs on the nearest node round its window; a terminal on
the foot of its tab. Conductances come from the widths of that metal. How far an island reaches into its webs, and how
an edge node divides the metal round it, no width tells: two shares, set so that plates of round holes and the sheet
model come out right (the tests hold them to that).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.territories import Territories, territories
from layout_app.model.errors import LayoutError
from layout_app.physics.joints import Lands
from layout_app.physics.module import Metal
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import ROOTED_MM, Tab

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

ISLAND_SHARE = 0.13  # of the radius of an island that its webs are shorter
EDGE_SHARE = 0.2  # of the metal between window and edge that a web is shorter where it meets the strip along the edge
WEDGE_WIDTH = 1.7  # of the metal where two strips meet, over the strips' own
ISLAND_SPREAD, WEB_SPREAD, EDGE_SPREAD = (
    0.7,
    1.0,
    1.0,
)  # how far a foot's current spreads on its own, over the way to its node
NEAR_SHARE = 0.5  # of the distance from foot to window: an anchor nearer than that to a node is that node
ROOT_PIECE_MM = 6.0  # a tab's current enters the metal all along its root, here in pieces of this width
STEP_MM = 0.7  # how closely the edge is sampled
CHORDS_MM = 0.05
LEAST_SQUARES = 0.02  # of a link between nodes that all but coincide
STEEPEST = 4.0  # what the opening of a web adds per length, at most: it has a pole where web becomes island
GAUSS_X, GAUSS_WEIGHT = np.polynomial.legendre.leggauss(16)


_Link = tuple[IntArray, IntArray, FloatArray]  # from, to, squares


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """Samples along the edge of the metal, ring by ring.

    Attributes
    ----------
    points_mm : (s, 2) float array
    following : (s,) int array, the sample after each one on its ring
    ring : (s,) int array
    owner : (s,) int array, the nearest window
    in_tab : (s,) bool array
    """

    points_mm: PointArray
    following: IntArray
    ring: IntArray
    owner: IntArray
    in_tab: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Nodes on the border lines between windows' territories: (r,) arrays, one row for each node on each line.

    `ridge` is the line, `x_mm` the place along it from halfway between its windows, `trim_mm` how much shorter webs are
    at the node.
    """

    ridge: IntArray
    x_mm: FloatArray
    node: IntArray
    trim_mm: FloatArray

    def joined(self, other: _Places) -> _Places:
        """Return the rows of both, in order along their lines."""
        ridge, x_mm, node, trim = (
            np.concatenate([getattr(each, name) for each in (self, other)])
            for name in ("ridge", "x_mm", "node", "trim_mm")
        )
        order = np.lexsort((x_mm, ridge))
        return _Places(ridge[order], x_mm[order], node[order], trim[order])


@dataclass(frozen=True, slots=True, eq=False)
class _Anchors:
    """Where lands hang on the network: new nodes on border lines and on the edge, and the links to them."""

    places: _Places
    ends: IntArray
    end_nodes: IntArray
    links: _Link
    next_node: int


def segment_links(segment: Segment, lands: Lands, tab: Tab | None) -> Metal:
    """Return a segment as links; its first nodes are its lands, then its terminal if it has a tab.

    Raises
    ------
    LayoutError : the segment has no metal where its tab should be
    """
    import shapely

    n_windows, n_contacts = len(segment.windows_mm), len(segment.windows_mm) + (tab is not None)
    solid = shapely.multipolygons([piece.polygon(CHORDS_MM) for piece in segment.pieces])
    shapely.prepare(solid)
    lines = _own_lines(territories(segment.window_centres_mm), n_windows)
    edge = _edge(segment, solid, tab)
    is_island = shapely.contains_xy(solid, *lines.corners_mm.T)
    island = np.where(is_island, n_contacts + np.cumsum(is_island) - 1, -1)
    runs_out = np.flatnonzero(edge.owner != edge.owner[edge.following])
    tab_middles = _run_middles(edge)
    ends = np.concatenate([runs_out, tab_middles])
    first_end = n_contacts + int(is_island.sum())
    node = first_end + np.arange(len(ends))
    places = _places(segment, lines, island, edge, runs_out, node[: len(runs_out)])
    anchors = _anchors(segment, lands, lines, places, edge, ends, solid, first_end + len(ends))
    root = anchors.next_node
    places = places.joined(anchors.places)
    links = [_webs(segment, lines, places, solid), anchors.links]
    links.append(_strips(segment, edge, np.append(ends, anchors.ends), np.append(node, anchors.end_nodes)))
    if tab is not None:
        links += _tab_links(segment, tab, edge, n_windows, root, tab_middles, node[len(runs_out) :])
    start, end, squares = (np.concatenate(column) for column in zip(*links, strict=True))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    real = start != end
    conductance = sheet_s / np.maximum(squares[real], LEAST_SQUARES)
    return _without_loose(root + 1, n_contacts, start[real], end[real], conductance)


def _own_lines(grounds: Territories, n_windows: int) -> Territories:
    own = (grounds.pairs < n_windows).all(axis=1)
    return Territories(grounds.corners_mm, grounds.pairs[own], grounds.ridges[own], grounds.halfway_mm[own])


def _edge(segment: Segment, solid: BaseGeometry, tab: Tab | None) -> _Edge:
    import shapely
    from scipy.spatial import cKDTree

    shape = solid if tab is None or not tab.is_outside else shapely.difference(solid, _beyond_root(tab))
    rings = shapely.get_rings(shapely.segmentize(shapely.get_parts(shape), STEP_MM))
    points, ring_of = shapely.get_coordinates(rings, return_index=True)
    is_last = np.append(np.diff(ring_of) != 0, True)
    points, ring_of = points[~is_last], ring_of[~is_last]
    following = np.arange(1, len(points) + 1)
    starts = np.flatnonzero(np.append(True, np.diff(ring_of) != 0))
    following[np.append(starts[1:] - 1, len(points) - 1)] = starts
    owner = np.asarray(cKDTree(segment.window_centres_mm).query(points)[1], dtype=np.int64)
    in_tab = np.zeros(len(points), dtype=bool)
    if tab is not None:
        out = np.array(tab.outward)
        along, across = (points - tab.foot_mm) @ out, (points - tab.foot_mm) @ np.array([-out[1], out[0]])
        in_tab = (np.abs(along - _root_mm(tab)) < ROOTED_MM) & (np.abs(across) < tab.width_mm / 2 + 1e-3)
    return _Edge(points, following, ring_of.astype(np.int64), owner, in_tab)


def _root_mm(tab: Tab) -> float:
    """Return where a tab's strip meets the other metal's edge, along its way out."""
    return tab.from_mm + ROOTED_MM if tab.is_outside else tab.to_mm


def _beyond_root(tab: Tab) -> BaseGeometry:
    from shapely import Polygon

    foot, out = np.array(tab.foot_mm), np.array(tab.outward)
    side = np.array([-out[1], out[0]]) * tab.width_mm * 0.75
    start, end = foot + _root_mm(tab) * out, foot + (tab.to_mm + ROOTED_MM) * out
    return Polygon([start - side, start + side, end + side, end - side])


def _run_middles(edge: _Edge) -> IntArray:
    """Return the middle samples of short pieces of the edge under the tab, each beside one window."""
    inside = np.flatnonzero(edge.in_tab)
    if len(inside) == 0:
        return inside
    new = np.append(True, (np.diff(inside) != 1) | (np.diff(edge.owner[inside]) != 0))
    runs = np.split(inside, np.flatnonzero(new)[1:])
    pieces = [piece for run in runs for piece in np.array_split(run, int(np.ceil(len(run) * STEP_MM / ROOT_PIECE_MM)))]
    middles = np.array([piece[len(piece) // 2] for piece in pieces])
    return np.asarray(middles[edge.owner[middles] == edge.owner[edge.following[middles]]])


def _places(
    segment: Segment, lines: Territories, island: IntArray, edge: _Edge, ends: IntArray, node: IntArray
) -> _Places:
    """Return the nodes on each border line: its islands, and where it runs out at the edge."""
    n, radius = len(segment.windows_mm), segment.windows_mm[:, 2]
    low, high = np.sort(lines.pairs, axis=1).T
    along = _along(segment, lines)
    ridge, side = np.nonzero(island[lines.ridges] >= 0)
    corner = lines.ridges[ridge, side]
    reach = np.hypot(*(lines.corners_mm[corner] - segment.window_centres_mm[low[ridge]]).T)
    parts = [
        (ridge, lines.corners_mm[corner], island[corner],
         ISLAND_SHARE * (reach - (radius[low] + radius[high])[ridge] / 2))
    ]  # fmt: skip
    one, other = np.sort([edge.owner[ends], edge.owner[edge.following[ends]]], axis=0)
    order = np.argsort(low * n + high)
    names = (low * n + high)[order]
    place = np.minimum(np.searchsorted(names, one * n + other), len(names) - 1)
    if len(names):
        known = names[place] == one * n + other
        at = ((edge.points_mm[ends] + edge.points_mm[edge.following[ends]]) / 2)[known]
        depth = np.hypot(*(at - segment.window_centres_mm[one[known]]).T) - (radius[one] + radius[other])[known] / 2
        parts.append((order[place[known]], at, node[known], EDGE_SHARE * depth))
    ridge, points, nodes, trim = (np.concatenate(column) for column in zip(*parts, strict=True))
    x = ((points - lines.halfway_mm[ridge]) * along[ridge]).sum(axis=1)
    order = np.lexsort((x, ridge))
    return _Places(ridge[order], x[order], nodes[order], np.maximum(trim[order], 0.0))


def _along(segment: Segment, lines: Territories) -> PointArray:
    """Return (m, 2): the unit vector along each border line."""
    across = segment.window_centres_mm[lines.pairs[:, 1]] - segment.window_centres_mm[lines.pairs[:, 0]]
    return np.asarray(np.column_stack([-across[:, 1], across[:, 0]]) / np.hypot(*across.T)[:, None])


def _webs(segment: Segment, lines: Territories, places: _Places, solid: BaseGeometry) -> _Link:
    """Return a link for every stretch of metal between two windows, from one node on their border line to the next."""
    import shapely

    row = np.flatnonzero(places.ridge[1:] == places.ridge[:-1])
    ridge, from_mm, to_mm = places.ridge[row], places.x_mm[row], places.x_mm[row + 1]
    middle = lines.halfway_mm[ridge] + ((from_mm + to_mm) / 2)[:, None] * _along(segment, lines)[ridge]
    is_metal = shapely.contains_xy(solid, middle[:, 0], middle[:, 1])
    row, ridge, from_mm, to_mm = row[is_metal], ridge[is_metal], from_mm[is_metal], to_mm[is_metal]
    trim = places.trim_mm[row], places.trim_mm[row + 1]
    shorter = np.minimum(1.0, 0.9 * (to_mm - from_mm) / np.maximum(trim[0] + trim[1], 1e-9))
    start, end = from_mm + trim[0] * shorter, to_mm - trim[1] * shorter
    return places.node[row], places.node[row + 1], _web_squares(segment, lines.pairs[ridge], start, end)


def _web_squares(segment: Segment, pairs: IntArray, from_mm: FloatArray, to_mm: FloatArray) -> FloatArray:
    """Return (m,) the resistance of webs between two round windows, squares.

    Source: derived. Current in a channel that opens by the angle α to either side runs along rays: a step dx of width
    w has dx/w · tan α / α, where straight walls would have dx/w. At x from the line of centres the wall of a window of
    radius r leans by arcsin(x / r).
    """
    centres = segment.window_centres_mm
    apart = np.hypot(*(centres[pairs[:, 0]] - centres[pairs[:, 1]]).T)[:, None]
    half = ((to_mm - from_mm) / 2)[:, None]
    x = np.abs(((from_mm + to_mm) / 2)[:, None] + half * GAUSS_X[None])
    width, opening = apart.copy() * np.ones_like(x), np.zeros_like(x)
    for side in (0, 1):
        radius = segment.windows_mm[pairs[:, side], 2][:, None]
        width -= np.sqrt(np.maximum(radius**2 - x**2, 0))
        lean = np.where(x < radius, np.arcsin(np.minimum(x / radius, 1.0)), 0.0)
        opening += _opening(lean) / 2
    width = np.maximum(width, 1e-3 * apart)
    return np.asarray((opening / width * GAUSS_WEIGHT[None]).sum(axis=1) * half[:, 0])


def _opening(lean: FloatArray) -> FloatArray:
    """Return tan α / α, held at its limits."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(lean > 1e-6, np.minimum(np.tan(lean) / lean, STEEPEST), 1.0)


def _strips(segment: Segment, edge: _Edge, ends: IntArray, node: IntArray) -> _Link:
    """Return a link for every strip between a window and the edge, from one edge node to the next on the same ring.

    Source: derived. Round a window of radius r, metal out to R conducts ln(R / r) per angle, for current that runs
    round; the angles' resistances add up.
    """
    centres, radius = segment.window_centres_mm[edge.owner], segment.windows_mm[edge.owner, 2]
    here, there = edge.points_mm - centres, edge.points_mm[edge.following] - centres
    angle = np.abs(np.arctan2(here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0], (here * there).sum(axis=1)))
    reach = (np.hypot(*here.T) + np.hypot(*there.T)) / 2
    lean = np.arctan2(np.abs(np.hypot(*here.T) - np.hypot(*there.T)), angle * reach)
    opening = (1 + _opening(lean)) / 2  # the edge leans, the window does not
    ends, node = ends[np.argsort(ends, kind="stable")], node[np.argsort(ends, kind="stable")]
    squares = angle * opening / np.log(np.maximum(reach / radius, 1.02))
    total = np.concatenate([[0.0], np.cumsum(squares)])
    if len(ends) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0)
    last = np.flatnonzero(edge.following <= np.arange(len(edge.following)))
    ring = np.searchsorted(last, ends)
    first = edge.following[last]
    is_final = np.append(np.diff(ring) != 0, True)
    is_opening = np.append(True, np.diff(ring) != 0)
    after = np.arange(1, len(ends) + 1)
    after[is_final] = np.flatnonzero(is_opening)
    squares_between = total[ends[after] + 1] - total[ends + 1]
    whole = total[last + 1] - total[first]
    squares_between = np.where(is_final, squares_between + whole[ring], squares_between)
    # Between a strip's last ray and the border line lies a wedge, wider than the strip: half the way across it on
    # average, d/2 (1 − r/R) / 2 long, and so much wider than the strip's R − r
    one, other = edge.owner[ends], edge.owner[edge.following[ends]]
    apart = np.hypot(*(segment.window_centres_mm[one] - segment.window_centres_mm[other]).T)
    wedge = apart / (4 * WEDGE_WIDTH * reach[ends])
    return node, node[after], squares_between + wedge + wedge[after]


def _tab_links(
    segment: Segment, tab: Tab, edge: _Edge, terminal: int, root: int, middles: IntArray, nodes: IntArray
) -> list[_Link]:
    """Return the links from the strips under a tab's root to its root, and from there along the tab to its end."""
    if len(middles) == 0:
        raise LayoutError(
            f"Segment {segment.number} has no metal where its tab should end. Place its terminal elsewhere."
        )
    owner = edge.owner[middles]
    depth = np.hypot(*(edge.points_mm[middles] - segment.window_centres_mm[owner]).T) - segment.windows_mm[owner, 2]
    width = tab.width_mm / len(middles)
    length_mm = tab.to_mm - _root_mm(tab)
    _, _, radius = tab.bolt_hole_mm
    hole = np.pi / 2 * (2 * radius / tab.width_mm) ** 2 if tab.is_outside else 0.0  # dipole limit, values.md section 5
    along = np.array([length_mm / tab.width_mm + hole])
    return [
        (nodes, np.full(len(nodes), root), depth / 2 / width),
        (np.array([root]), np.array([terminal]), along),
    ]


def _anchors(
    segment: Segment,
    lands: Lands,
    lines: Territories,
    places: _Places,
    edge: _Edge,
    ends: IntArray,
    solid: BaseGeometry,
    next_node: int,
) -> _Anchors:
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
    where[on_line] = lines.halfway_mm[ridge[on_line]] + x_mm[on_line, None] * _along(segment, lines)[ridge[on_line]]
    where[on_edge] = edge.points_mm[samples]
    share[on_line[is_near]], share[on_edge] = ISLAND_SPREAD, EDGE_SPREAD
    out_mm = np.hypot(*(where - lands.centres_mm).T) * share
    new = _Places(ridge[fresh], x_mm[fresh], node[fresh], np.zeros(len(fresh)))
    links = np.arange(n), node, _spreading_squares(out_mm, lands)
    return _Anchors(new, samples, node[on_edge], links, next_node + n_new + n)


def _nearest_own_place(
    segment: Segment, lands: Lands, lines: Territories, places: _Places, window: int
) -> tuple[int, float]:
    """Return line and place along it of the node nearest to a land, of those round its window; (-1, 0) for none."""
    rows = np.flatnonzero((lines.pairs[places.ridge] == window).any(axis=1))
    if len(rows) == 0:
        return -1, 0.0
    ridge = places.ridge[rows]
    where = lines.halfway_mm[ridge] + places.x_mm[rows, None] * _along(segment, lines)[ridge]
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
    segment: Segment, lands: Lands, lines: Territories, places: _Places, solid: BaseGeometry
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
    x_mm = ((centre + reach[:, None] * out - lines.halfway_mm[line]) * _along(segment, lines)[line]).sum(axis=1)
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


def _nearest_place(places: _Places, ridge: IntArray, x_mm: FloatArray) -> IntArray:
    """Return the row of the node nearest to each place on the same line; every line asked for has one."""
    span = 4 * (float(np.abs(places.x_mm).max(initial=0.0)) + float(np.abs(x_mm).max(initial=0.0)) + 1.0)
    place = np.searchsorted(places.ridge * span + places.x_mm, ridge * span + x_mm)
    before, after = np.maximum(place - 1, 0), np.minimum(place, len(places.x_mm) - 1)
    far = [np.where(places.ridge[k] == ridge, np.abs(places.x_mm[k] - x_mm), np.inf) for k in (before, after)]
    return np.where(far[0] <= far[1], before, after)


def _samples_beside(edge: _Edge, lands: Lands, which: IntArray, rings: IntArray) -> IntArray:
    """Return the sample of the edge nearest to each of the given lands, of those nearest to the land's window.

    Only samples on the given rings count, those that other nodes stand on; -1 for a window that none is nearest to.
    """
    found = []
    for window in which.tolist():
        own = np.flatnonzero((edge.owner == window) & np.isin(edge.ring, rings))
        apart = ((edge.points_mm[own] - lands.centres_mm[window]) ** 2).sum(axis=1)
        found.append(int(own[apart.argmin()]) if len(own) else -1)
    return np.array(found, dtype=np.int64)


def _without_loose(n_nodes: int, n_contacts: int, start: IntArray, end: IntArray, conductance: FloatArray) -> Metal:
    """Return the links less the nodes no link touches."""
    used = np.zeros(n_nodes, dtype=bool)
    used[:n_contacts] = True
    used[start], used[end] = True, True
    number = np.cumsum(used) - 1
    return Metal(int(used.sum()), number[start], number[end], conductance)
