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

ISLAND_SHARE = 0.17  # of an island's radius that its webs are shorter: fits plates perforated in hexagons and squares
EDGE_SHARE = 0.5  # of the metal between window and edge that a web is shorter where it meets the strip along the edge
STEP_MM = 0.7  # how closely the edge is sampled
CHORDS_MM = 0.05
LEAST_SQUARES = 0.02  # of a link between nodes that all but coincide
STEEPEST = 4.0  # what the opening of a web adds per length, at most: it has a pole where web becomes island
GAUSS_X, GAUSS_WEIGHT = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """Samples along the edge of the metal, ring by ring.

    Attributes
    ----------
    points_mm : (s, 2) float array
    following : (s,) int array, the sample after each one on its ring
    owner : (s,) int array, the nearest window
    in_tab : (s,) bool array
    """

    points_mm: PointArray
    following: IntArray
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
    first_edge_node = n_contacts + int(is_island.sum())
    ends = np.flatnonzero((edge.owner != edge.owner[edge.following]) | (edge.in_tab != edge.in_tab[edge.following]))
    at_root = edge.in_tab[ends] | edge.in_tab[edge.following[ends]]
    node = np.where(at_root, 0, first_edge_node + np.cumsum(~at_root) - 1)
    root = first_edge_node + int((~at_root).sum())
    node[at_root] = root
    places = _places(segment, lines, island, edge, ends, node)
    links = [_webs(segment, lines, places, solid), _strips(segment, edge, ends, node)]
    if tab is not None:
        links.append(_tab_link(segment, tab, n_windows, root, at_root))
    links.append(_land_links(segment, lands, lines, places, edge, ends, node))
    start, end, squares = (np.concatenate(column) for column in zip(*links, strict=True))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    real = start != end
    conductance = sheet_s / np.maximum(squares[real], LEAST_SQUARES)
    return _without_loose(root + 1, n_contacts, start[real], end[real], conductance)


_Link = tuple[IntArray, IntArray, FloatArray]  # from, to, squares


def _own_lines(grounds: Territories, n_windows: int) -> Territories:
    own = (grounds.pairs < n_windows).all(axis=1)
    return Territories(grounds.corners_mm, grounds.pairs[own], grounds.ridges[own], grounds.halfway_mm[own])


def _edge(segment: Segment, solid: BaseGeometry, tab: Tab | None) -> _Edge:
    import shapely
    from scipy.spatial import cKDTree

    rings = shapely.get_rings(shapely.segmentize(shapely.get_parts(solid), STEP_MM))
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
        begins = tab.from_mm + ROOTED_MM / 2 if tab.is_outside else tab.to_mm - 2 * ROOTED_MM
        in_tab = (along > begins) & (np.abs(across) < tab.width_mm / 2 + 1e-3)
    return _Edge(points, following, owner, in_tab)


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
    return np.column_stack([-across[:, 1], across[:, 0]]) / np.hypot(*across.T)[:, None]


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
        with np.errstate(invalid="ignore"):
            opening += np.where(lean > 1e-6, np.minimum(np.tan(lean) / lean, STEEPEST), 1.0) / 2
    width = np.maximum(width, 1e-3 * apart)
    return np.asarray((opening / width * GAUSS_WEIGHT[None]).sum(axis=1) * half[:, 0])


def _strips(segment: Segment, edge: _Edge, ends: IntArray, node: IntArray) -> _Link:
    """Return a link for every strip between a window and the edge, from one edge node to the next on the same ring.

    Source: derived. Round a window of radius r, metal out to R conducts ln(R / r) per angle, for current that runs
    round; the angles' resistances add up.
    """
    centres, radius = segment.window_centres_mm[edge.owner], segment.windows_mm[edge.owner, 2]
    here, there = edge.points_mm - centres, edge.points_mm[edge.following] - centres
    angle = np.abs(np.arctan2(here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0], (here * there).sum(axis=1)))
    reach = (np.hypot(*here.T) + np.hypot(*there.T)) / 2
    squares = angle / np.log(np.maximum(reach / radius, 1.02))
    total = np.concatenate([[0.0], np.cumsum(squares)])
    if len(ends) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0)
    last = np.flatnonzero(edge.following <= np.arange(len(edge.following)))
    ring = np.searchsorted(last, ends)
    first = edge.following[last]
    is_final = np.append(np.diff(ring) != 0, True)
    opening = np.flatnonzero(np.append(True, np.diff(ring) != 0))
    after = np.arange(1, len(ends) + 1)
    after[is_final] = opening
    squares_between = total[ends[after] + 1] - total[ends + 1]
    whole = total[last + 1] - total[first]
    squares_between = np.where(is_final, squares_between + whole[ring], squares_between)
    outside_tab = ~edge.in_tab[edge.following[ends]]
    return node[outside_tab], node[after][outside_tab], squares_between[outside_tab]


def _tab_link(segment: Segment, tab: Tab, terminal: int, root: int, at_root: BoolArray) -> _Link:
    """Return the link from the foot of a tab to its end: a strip."""
    if not at_root.any():
        raise LayoutError(f"Segment {segment.number} has no metal where its tab should end. Place its terminal elsewhere.")
    length_mm = tab.to_mm - tab.from_mm - ROOTED_MM if tab.is_outside else 0.0
    return np.array([root]), np.array([terminal]), np.array([length_mm / tab.width_mm])


def _land_links(
    segment: Segment, lands: Lands, lines: Territories, places: _Places, edge: _Edge, ends: IntArray, node: IntArray
) -> _Link:
    """Return a link from each land to the nearest node round its window: the current spreading out from the feet."""
    along = _along(segment, lines)
    where = lines.halfway_mm[places.ridge] + places.x_mm[:, None] * along[places.ridge]
    at_end = edge.points_mm[ends]
    window = np.concatenate([*lines.pairs[places.ridge].T, edge.owner[ends], edge.owner[edge.following[ends]]])
    nodes = np.concatenate([places.node, places.node, node, node])
    spots = np.vstack([where, where, at_end, at_end])
    far = np.hypot(*(spots - lands.centres_mm[window]).T)
    order = np.lexsort((far, window))
    _, first = np.unique(window[order], return_index=True)
    best = order[first]
    spread = np.log(np.maximum(far[best] / lands.radius_mm, 1.5)) / (2 * np.pi)
    return window[best], nodes[best], spread


def _without_loose(n_nodes: int, n_contacts: int, start: IntArray, end: IntArray, conductance: FloatArray) -> Metal:
    """Return the links less the nodes no link touches."""
    used = np.zeros(n_nodes, dtype=bool)
    used[:n_contacts] = True
    used[start], used[end] = True, True
    number = np.cumsum(used) - 1
    return Metal(int(used.sum()), number[start], number[end], conductance)
