"""Segment links: a segment as a network of the metal really there.

Nodes are the islands of metal where three or more windows meet, and the places where the border between two windows'
territories runs out at the metal's edge. Links are the webs between two windows, from island to island or edge, and
the strips of metal between a window and the edge. Each land hangs on the nearest node round its window; a terminal on
the foot of its tab. Conductances come from the widths of that metal. How far an island reaches into its webs, and how
wide the metal is where strips meet, no width tells: shares that are set so that plates of round holes and the sheet
model come out right (the tests hold them to that).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.geometry.territories import Territories, territories
from layout_app.model.errors import LayoutError
from layout_app.physics.joints import Lands
from layout_app.physics.land_anchors import Link, Places, along_lines, land_anchors
from layout_app.physics.metal_edge import CHORDS_MM, Edge, metal_edge, root_mm, root_pieces
from layout_app.physics.module import Metal
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

ISLAND_SHARE = 0.26  # of the radius of an island that its webs are shorter
WEDGE_WIDTH = 1.85  # of the metal where two strips meet, over the strips' own
LEAST_SQUARES = 0.02  # of a link between nodes that all but coincide
STEEPEST = 4.0  # what the opening of a web adds per length, at most: it has a pole where web becomes island
GAUSS_X, GAUSS_WEIGHT = np.polynomial.legendre.leggauss(16)


def segment_links(segment: Segment, lands: Lands, tabs: Sequence[Tab]) -> Metal:
    """Return a segment as links; its first nodes are its lands, then its terminal if it has tabs: their ends are
    joined.

    Raises
    ------
    LayoutError : the segment has no metal where its tab should be
    """
    import shapely

    n_windows, n_contacts = len(segment.windows_mm), len(segment.windows_mm) + (len(tabs) > 0)
    solid = shapely.multipolygons([piece.polygon(CHORDS_MM) for piece in segment.pieces])
    shapely.prepare(solid)
    lines = _own_lines(territories(segment.window_centres_mm), n_windows)
    edge = metal_edge(segment, solid, tabs)
    is_island = shapely.contains_xy(solid, *lines.corners_mm.T)
    island = np.where(is_island, n_contacts + np.cumsum(is_island) - 1, -1)
    runs_out = np.flatnonzero(edge.owner != edge.owner[edge.following])
    under = [root_pieces(edge, k) for k in range(len(tabs))]
    ends = np.concatenate([runs_out, *under])
    first_end = n_contacts + int(is_island.sum())
    node = first_end + np.arange(len(ends))
    places = _places(segment, lines, island, edge, runs_out, node[: len(runs_out)])
    hung = land_anchors(segment, lands, lines, places, edge, ends, solid, first_end + len(ends))
    root = hung.next_node
    places = places.joined(hung.places)
    links = [_webs(segment, lines, places, solid), hung.links]
    links.append(_strips(segment, edge, np.append(ends, hung.ends), np.append(node, hung.end_nodes)))
    at = np.split(node[len(runs_out) :], np.cumsum([len(middles) for middles in under]))
    for k, (tab, middles) in enumerate(zip(tabs, under, strict=True)):
        links += _tab_links(segment, tab, edge, n_windows, root + k, middles, at[k])
    start, end, squares = (np.concatenate(column) for column in zip(*links, strict=True))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    real = start != end
    conductance = sheet_s / np.maximum(squares[real], LEAST_SQUARES)
    return _without_loose(root + len(tabs), n_contacts, start[real], end[real], conductance)


def _own_lines(grounds: Territories, n_windows: int) -> Territories:
    own = (grounds.pairs < n_windows).all(axis=1)
    return Territories(grounds.corners_mm, grounds.pairs[own], grounds.ridges[own], grounds.halfway_mm[own])


def _places(
    segment: Segment, lines: Territories, island: IntArray, edge: Edge, ends: IntArray, node: IntArray
) -> Places:
    """Return the nodes on each border line: its islands, and where it runs out at the edge."""
    n, radius = len(segment.windows_mm), segment.windows_mm[:, 2]
    low, high = np.sort(lines.pairs, axis=1).T
    along = along_lines(segment, lines)
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
        parts.append((order[place[known]], at, node[known], np.zeros(int(known.sum()))))
    ridge, points, nodes, trim = (np.concatenate(column) for column in zip(*parts, strict=True))
    x = ((points - lines.halfway_mm[ridge]) * along[ridge]).sum(axis=1)
    order = np.lexsort((x, ridge))
    return Places(ridge[order], x[order], nodes[order], np.maximum(trim[order], 0.0))


def _webs(segment: Segment, lines: Territories, places: Places, solid: BaseGeometry) -> Link:
    """Return a link for every stretch of metal between two windows, from one node on their border line to the next."""
    import shapely

    row = np.flatnonzero(places.ridge[1:] == places.ridge[:-1])
    ridge, from_mm, to_mm = places.ridge[row], places.x_mm[row], places.x_mm[row + 1]
    middle = lines.halfway_mm[ridge] + ((from_mm + to_mm) / 2)[:, None] * along_lines(segment, lines)[ridge]
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


def _strips(segment: Segment, edge: Edge, ends: IntArray, node: IntArray) -> Link:
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
    segment: Segment, tab: Tab, edge: Edge, terminal: int, root: int, middles: IntArray, nodes: IntArray
) -> list[Link]:
    """Return the links from the strips under a tab's root to its root, and from there along the tab to its end."""
    if len(middles) == 0:
        raise LayoutError(
            f"Segment {segment.number} has no metal where its tab should end. Place its terminal elsewhere."
        )
    owner = edge.owner[middles]
    depth = np.hypot(*(edge.points_mm[middles] - segment.window_centres_mm[owner]).T) - segment.windows_mm[owner, 2]
    width = tab.width_mm / len(middles)
    length_mm = tab.to_mm - root_mm(tab)
    _, _, radius = tab.bolt_hole_mm
    hole = np.pi / 2 * (2 * radius / tab.width_mm) ** 2 if tab.is_outside else 0.0  # dipole limit, values.md section 5
    along = np.array([length_mm / tab.width_mm + hole])
    return [
        (nodes, np.full(len(nodes), root), depth / 2 / width),
        (np.array([root]), np.array([terminal]), along),
    ]


def _without_loose(n_nodes: int, n_contacts: int, start: IntArray, end: IntArray, conductance: FloatArray) -> Metal:
    """Return the links less the nodes no link touches."""
    used = np.zeros(n_nodes, dtype=bool)
    used[:n_contacts] = True
    used[start], used[end] = True, True
    number = np.cumsum(used) - 1
    return Metal(int(used.sum()), number[start], number[end], conductance)
