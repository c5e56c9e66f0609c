"""Directions: the angles at which rows are worth laying, taken from the housing's straight edges."""

import math

import numpy as np

from layout_app.geometry.arrays import FloatArray
from layout_app.planning.footprints import Footprint

FEW_CELLS = 60
SAME_RAD = 1e-6  # over 2 m this is 2 µm: edges that were meant to be parallel


def edge_directions_rad(footprint: Footprint) -> FloatArray:
    """Return the directions, 0 to π, of the straight edges of outline and keep-outs, the longest in total first.

    Keep-outs count only if the outline has no straight edge; without any, the one direction is 0.
    """
    for loops in ((footprint.outline,), footprint.keep_outs):
        edges = [(loop.ends_mm - loop.vertices_mm)[~loop.is_arc] for loop in loops]
        steps = np.vstack([*edges, np.empty((0, 2))])
        if len(steps):
            return _longest(np.arctan2(steps[:, 1], steps[:, 0]), np.hypot(*steps.T))
    return np.zeros(1)


def across_too(angles_rad: FloatArray, period_rad: float) -> FloatArray:
    """Return the directions and those at right angles to them, 0 to π, without repeats modulo the lattice's period."""
    both = np.column_stack([angles_rad, angles_rad + math.pi / 2]).ravel() % math.pi
    return _without_repeats(both, period_rad)


def is_turning_worthwhile(footprint: Footprint, n_cells: float) -> bool:
    """Whether directions other than those of the edges are worth a search.

    Of 95 random polygons and rectangles of 60 cells and more, none took more hexagonal cells in any of 36 other
    directions; of 80 smaller ones one in twenty did, and one in six more square ones. Round housings are all the same.
    """
    loops = (footprint.outline, *footprint.keep_outs)
    circles = [loop.as_circle for loop in loops]
    centres = [circle[:2] for circle in circles if circle is not None]
    if len(centres) == len(loops) and np.ptp(centres, axis=0).max() < footprint.wall_mm * SAME_RAD:
        return False
    straight_mm = footprint.outline.chords_mm[~footprint.outline.is_arc].sum()
    return n_cells < FEW_CELLS or bool(straight_mm < footprint.outline.perimeter_mm / 2)


def _longest(angles_rad: FloatArray, lengths_mm: FloatArray) -> FloatArray:
    angles = _without_repeats(angles_rad % math.pi, math.pi)
    off = np.abs(_turn(angles_rad[:, None] - angles, math.pi))
    totals = np.bincount(off.argmin(axis=1), lengths_mm, len(angles))
    return angles[np.argsort(-totals, kind="stable")]


def _without_repeats(angles_rad: FloatArray, period_rad: float) -> FloatArray:
    kept: list[float] = []
    for angle in angles_rad:
        if not kept or np.abs(_turn(angle - np.array(kept), period_rad)).min() > SAME_RAD:
            kept.append(0.0 if math.pi - angle < SAME_RAD else float(angle))
    return np.array(kept)


def _turn(angle_rad: FloatArray, period_rad: float) -> FloatArray:
    """Return the angle brought to within half a period of zero."""
    return (angle_rad + period_rad / 2) % period_rad - period_rad / 2
