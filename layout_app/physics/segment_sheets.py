"""Segment sheets: real segments as meshes, their lands and terminals as contacts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.mesh_rings import Rings
from layout_app.model.errors import LayoutError
from layout_app.physics.contacts import Contact, EdgeContact, PatchContact, contacted_sheet
from layout_app.physics.joints import Lands
from layout_app.physics.sheet import Sheet
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely import LineString

EDGES_PER_PITCH = 4.5  # of the coarse mesh, where nothing asks for more; the fine one has twice as many
FOOT_SHARE = 1.7  # edge length at a foot over the length of that side of it
GROWTH = 1.3  # of the size with distance: feet are many and small, and what flows round them matters little
ACROSS = 0.6  # edges across the strip between foot and window
CHORDS_MM = 0.015  # sagitta of the chords arcs are cut into before meshing
END_DEPTH_MM = 1.5  # how far from the end of a tab its edge may lie: rounded corners, a wall that is not straight


def segment_sheet(segment: Segment, lands: Lands, tab: Tab | None, pitch_mm: float) -> Sheet:
    """Return the coarse mesh of a segment, its contacts the lands and after them the end of its tab.

    Raises
    ------
    LayoutError : a land or the tab's end has no metal under it
    """

    metal = segment.metal(CHORDS_MM)
    contacts: list[Contact] = [PatchContact(feet) for feet in lands.feet]
    if tab is not None:
        contacts.append(EdgeContact(tab_end(segment, tab)))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    try:
        return contacted_sheet(metal, contacts, sheet_s, sizing=lambda rings: _sizes(rings, len(lands.feet), pitch_mm))
    except LayoutError as error:
        raise LayoutError(f"Segment {segment.number}: {error}") from error


def _sizes(rings: Rings, n_lands: int, pitch_mm: float) -> Sizes:
    """Return the sizes wanted: short edges round the feet, growing quickly to a share of the pitch."""
    is_foot = (rings.marks >= 0) & (rings.marks < n_lands)
    wanted = rings.lengths_mm[is_foot] * FOOT_SHARE
    return Sizes(pitch_mm / EDGES_PER_PITCH, rings.vertices_mm[is_foot], wanted, GROWTH, ACROSS)


def tab_end(segment: Segment, tab: Tab) -> LineString:
    """Return the piece of a segment's outline where its tab ends: the edge the terminal's current leaves by."""
    import shapely

    foot, out = np.array(tab.foot_mm), np.array(tab.outward)
    side = np.array([-out[1], out[0]])
    for piece in segment.pieces:
        ring = piece.polygon(CHORDS_MM).exterior
        points = shapely.get_coordinates(ring)
        middle, step = (points[1:] + points[:-1]) / 2 - foot, np.diff(points, axis=0)
        along, across = middle @ out, middle @ side
        faces_out = np.abs(step @ out) < 0.7 * np.hypot(*step.T)
        at_end = faces_out & (np.abs(along - tab.to_mm) < END_DEPTH_MM) & (np.abs(across) < tab.width_mm / 2)
        if at_end.any():
            bits = np.flatnonzero(at_end)
            return shapely.line_merge(shapely.multilinestrings(np.stack([points[bits], points[bits + 1]], axis=1)))
    raise LayoutError(f"Segment {segment.number} has no metal where its tab should end. Place its terminal elsewhere.")
