"""Contact sizes: how fine a mesh must be where contacts end and metal turns inward, so that its error is told truly."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.mesh_rings import UNMARKED, Rings

SHARP_RAD = 0.6  # inside corners and ends of contacts draw the current together: the mesh is finer towards them
FINEST_SHARE = 1 / 128  # of the largest size, or of the distance to the next such place, at such a place
LEAST_SHARE = 1e-5  # of the largest size: no detail is followed below it
ROUND_EDGES = 24  # mesh edges round a small hole or along a short contact
GROWTH, MOST_GROWTH = 0.2, 0.5  # of the size with distance from such places; more where there are many of them
FEW = 16  # places, whose meshes add little to the rest


def sizes_at_contacts(rings: Rings, size_mm: float) -> Sizes:
    """Return the sizes wanted: small at inside corners and at the ends of contacts, and along short contacts and bows.

    At a corner or an end the density has no bound; what linear triangles lose there is a matter of their size beside
    what lies near: the other end of a short contact, the other side of a notch or bridge.
    """
    from scipy.spatial import cKDTree

    before = np.roll(rings.marks, 1)
    before[rings.is_first] = np.roll(rings.marks, 1)[rings.is_last]
    ends = (before != rings.marks) & ~rings.is_last
    is_contact = (rings.marks != UNMARKED) & (before != UNMARKED)
    opening = np.where(is_contact, -rings.turns_rad, np.where(ends, np.pi / 2 - rings.turns_rad, -rings.turns_rad))
    places = np.unique(rings.vertices_mm[(opening > SHARP_RAD) & ~rings.is_last], axis=0)
    apart = np.full(len(places), np.inf)
    if len(places) > 1:
        apart = np.asarray(cKDTree(places).query(places, k=2)[0])[:, 1]
    finest = np.maximum(np.minimum(size_mm, apart) * FINEST_SHARE, size_mm * LEAST_SHARE)
    round_places, round_sizes, n_rings = _small_rounds(rings, size_mm)
    n_places = len(places) + n_rings
    growth = min(MOST_GROWTH, GROWTH * max(1.0, np.sqrt(n_places / FEW)))  # triangles go with its square
    return Sizes(
        size_mm,
        np.vstack([places, round_places]),
        np.concatenate([finest, round_sizes]),
        growth,
        least_share=FINEST_SHARE,
    )


def _small_rounds(rings: Rings, size_mm: float) -> tuple[PointArray, FloatArray, int]:
    """Return places along short contacts and tight bows, the size wanted there, a share of length or radius, and on how
    many rings they lie."""
    marks = np.maximum(rings.marks, 0)
    along = np.bincount(marks, weights=np.where(rings.marks >= 0, rings.lengths_mm, 0.0))
    of_contact = np.where(rings.marks >= 0, along[marks], np.inf)
    longer = np.maximum(rings.lengths_mm, np.roll(rings.lengths_mm, 1))
    turn = np.abs(rings.turns_rad)
    radius = np.where((turn > 0) & (turn < SHARP_RAD), longer / np.maximum(turn, 1e-9), np.inf)
    around = np.minimum(rings.perimeters_mm[rings.ring_of], 2 * np.pi * radius)
    wanted = np.maximum(np.minimum(of_contact, around) / ROUND_EDGES, size_mm * LEAST_SHARE)
    short = (wanted < size_mm) & ~rings.is_last
    return rings.vertices_mm[short], wanted[short], len(np.unique(rings.ring_of[short]))
