"""Segment links: a segment as a network of the metal really there.

The metal is cut across its narrowest places into islands. Nodes are lands, terminal and cuts; the links of an island
are what its metal does between those of them that are on it. Some cuts are taken out again, which changes nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.physics.island_walks import shapes_and_contacts, walks
from layout_app.physics.islands import Shape, known_links
from layout_app.physics.joints import Lands
from layout_app.physics.metal_cuts import metal_cuts
from layout_app.physics.metal_edge import metal_edge
from layout_app.physics.module import Metal
from layout_app.physics.star_mesh import without_stars
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

Link = tuple[IntArray, IntArray, FloatArray]  # from, to, squares⁻¹


def segment_links(segment: Segment, lands: Lands, tabs: Sequence[Tab]) -> Metal:
    """Return a segment as links; its first nodes are its lands, then its terminal if it has tabs: their ends are
    joined.

    Raises
    ------
    LayoutError : the segment has no metal where a tab of its should end
    """
    edge = metal_edge(segment, tabs)
    is_out = np.array([tab.is_outside for tab in tabs], dtype=bool)
    bolts_mm = np.reshape(segment.bolt_holes_mm, (-1, 3))
    holes_mm, cuts = metal_cuts(segment.windows_mm, bolts_mm[~is_out], lands, edge, tabs)
    walked = walks(cuts, edge)
    shapes, contacts = shapes_and_contacts(walked, holes_mm, lands, cuts, edge, bolts_mm[is_out])
    alike: dict[Shape, list[IntArray]] = {}
    for shape, nodes in zip(shapes, contacts, strict=True):
        alike.setdefault(shape, []).append(nodes)
    links = [_links(np.array(nodes), *known_links(*s, lands.source_radius_mm)) for s, nodes in alike.items()]
    start, end, squares = (np.concatenate(column) for column in zip(*links, strict=True))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    n_lands = len(segment.windows_mm)
    n_contacts = n_lands + (len(tabs) > 0)
    return without_stars(_compact(n_lands, n_contacts, start, end, sheet_s * squares), n_contacts)


def _links(nodes: IntArray, one: IntArray, other: IntArray, squares: FloatArray) -> Link:
    """Return the links of islands alike, (i, c) contacts of each, from those between their contacts."""
    return nodes[:, one].ravel(), nodes[:, other].ravel(), np.tile(squares, len(nodes))


def _compact(n_lands: int, n_kept: int, start: IntArray, end: IntArray, conductance_s: FloatArray) -> Metal:
    """Return the links with nodes numbered anew: contacts first, then those that links touch."""
    used = np.zeros(max(n_lands + 1, int(start.max(initial=0)) + 1, int(end.max(initial=0)) + 1), dtype=bool)
    used[start], used[end], used[:n_kept] = True, True, True
    number = np.cumsum(used) - 1
    return Metal(int(used.sum()), number[start], number[end], conductance_s)
