"""Segment sheets: real segments as meshes, their lands and terminals as contacts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.mesh_rings import Rings
from layout_app.model.errors import LayoutError
from layout_app.physics.contact_marks import ContactError
from layout_app.physics.contacts import Contact, EdgeContact, PatchContact, TooFineError, contacted_sheet
from layout_app.physics.joints import Lands
from layout_app.physics.metal_edge import tab_end
from layout_app.physics.sheet import Sheet
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab

if TYPE_CHECKING:
    from shapely import LineString, MultiLineString

EDGES_PER_PITCH = 5.5  # of the coarse mesh, where nothing asks for more; the fine one has twice as many
LEAST_PITCH = 0.5  # of the side of a square of metal for each window: cells stand no closer, whatever the lattice says
FOOT_SHARE = 1.0  # edge length at a foot over the length of that side of it
END_MM = 0.03  # edge length at the ends of the terminal, where the current density has no bound
GROWTH = 1.0  # of the size with distance: feet are many and small, and what flows round them matters little
ACROSS = 1.2  # edges across the strip between foot and window
CHORDS_MM = 0.015  # sagitta of the chords arcs are cut into before meshing


def segment_sheet(segment: Segment, lands: Lands, tabs: Sequence[Tab], pitch_mm: float) -> Sheet:
    """Return the coarse mesh of a segment, its contacts the lands and after them the ends of its tabs, joined.

    Raises
    ------
    LayoutError : a land or the tab's end has no metal under it
    """
    metal = segment.metal(CHORDS_MM)
    contacts: list[Contact] = [PatchContact(feet) for feet in lands.feet]
    if tabs:
        contacts.append(EdgeContact(_joined([tab_end(segment, tab, CHORDS_MM) for tab in tabs])))
    sheet_s = segment.thickness_mm * 1e-3 / segment.material.resistivity_ohm_m
    apart_mm = max(pitch_mm, LEAST_PITCH * (metal.area / max(len(lands.feet), 1)) ** 0.5)
    try:
        return contacted_sheet(metal, contacts, sheet_s, sizing=lambda rings: _sizes(rings, len(lands.feet), apart_mm))
    except ContactError as error:
        raise LayoutError(f"Segment {segment.number}: {_told(segment, error)}") from error
    except TooFineError as error:
        raise LayoutError(
            f"Segment {segment.number}: its webs are too thin to be solved, for windows and edges all but touch. "
            "Make windows smaller, or the least web wider."
        ) from error


def _joined(ends: Sequence[LineString | MultiLineString]) -> LineString | MultiLineString:
    import shapely

    return ends[0] if len(ends) == 1 else shapely.multilinestrings(shapely.get_parts(list(ends)))


def _told(segment: Segment, error: ContactError) -> str:
    """Return in words which lands, by the numbers of their cells, or which terminal is in trouble."""
    cells = segment.window_cells.tolist()
    names = [f"cell {cells[k] + 1}" if k < len(cells) else "the terminal" for k in error.contacts]
    if names == ["the terminal"]:
        return "the end of its tab has no metal, or windows cut into it. Place the terminal elsewhere."
    if len(names) == 1:
        return f"the joint of {names[0]} has no metal under it. Leave wider webs, or make its window smaller."
    if len(names) > 2:
        return "its joints cover all of its metal. Make them narrower, or windows smaller."
    return f"the joints of {names[0]} and {names[1]} sit on the same spot. Make them narrower, or the pitch wider."


def _sizes(rings: Rings, n_lands: int, pitch_mm: float) -> Sizes:
    """Return the sizes wanted: short edges round the feet and at both ends of the terminal, growing to a share of the
    pitch."""
    is_foot = (rings.marks >= 0) & (rings.marks < n_lands)
    is_terminal = rings.marks == n_lands
    before = np.roll(is_terminal, 1)
    before[rings.is_first] = before[rings.is_last]
    is_end = (is_terminal != before) & ~rings.is_last
    places = np.vstack([rings.vertices_mm[is_foot], rings.vertices_mm[is_end]])
    wanted = np.append(rings.lengths_mm[is_foot] * FOOT_SHARE, np.full(int(is_end.sum()), END_MM))
    return Sizes(pitch_mm / EDGES_PER_PITCH, places, wanted, GROWTH, ACROSS)
