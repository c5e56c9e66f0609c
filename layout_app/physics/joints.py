"""Joints: the resistance between a cell's terminal and the metal, and the land where the metal takes the current.

A bond's foot sits on the metal beside the window, on the side where there is most metal round it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.model.joints import JointSettings
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from shapely import MultiPolygon

FOOT_LENGTHS = 3.0  # foot length in wire diameters: 2.5 to 4, common practice (values.md section 9, from memory)
FOOT_WIDTHS = 1.4  # foot width in wire diameters: 1.2 to 1.6, the same
HEEL_DIAMETERS = 2.0  # foot to the window's edge: at least one diameter, the same
WIRE_SPACING = 4.0  # side by side, in wire diameters: room for the tool; common practice, no source
TONGUE_DEPTH_MM = 1.0  # how far the root of a welded tongue reaches into the sheet
ROUND_SHARE = 0.29  # exact: 0.295 for a square, 0.291 at 1 : 2 (computed), 0.25 for a thin strip
DIRECTIONS = 12
SIDE_SHARE = 0.3  # of a wide tongue: how far from its middle either of its two sources sits
SAME_MM = 0.05  # differences in room below this do not turn a bond round
OUTLINE_STEP_MM = 0.5


def joint_ohm(joints: JointSettings) -> float:
    """Return the resistance of one joint: wires side by side, each with two feet; or the weld's.

    >>> f"{joint_ohm(JointSettings(n_wires=1, foot_ohm=0.0)):.4e}"  # 0.3749 Ω/m (values.md section 9) over 9 mm
    '3.3741e-03'
    """
    if joints.weld_ohm is not None:
        return joints.weld_ohm
    area_mm2 = math.pi / 4 * joints.wire_diameter_mm**2
    wire_ohm = joints.wire_metal.resistivity_ohm_m * joints.wire_length_mm / (area_mm2 * 1e-3)
    return (wire_ohm + 2 * joints.foot_ohm) / joints.n_wires


@dataclass(frozen=True, slots=True, eq=False)
class Lands:
    """Where the joints of a segment sit on its metal.

    Attributes
    ----------
    centres_mm : (w, 2) float array: the middle of each window's land
    outward : (w, 2) float array: unit vectors from the cell to its land
    feet : (w,) tuple of the metal each land takes, one rectangle for each wire; a tongue's reaches into its window
    sources_mm : (w, f, 2) float array: where current leaves each land, as seen from further off
    source_radius_mm : of the round source that each of them equals, beside a straight edge that mirrors it
    half_width_mm : from the middle of a land to its side
    """

    centres_mm: PointArray
    outward: PointArray
    feet: tuple[MultiPolygon, ...]
    sources_mm: FloatArray
    source_radius_mm: float
    half_width_mm: float


def lands(segment: Segment, joints: JointSettings, lattice_rad: float = 0.0) -> Lands:
    """Return the lands of a segment's windows; for no metal, no room or no window they lie where they would.

    Of twelve directions, a twelfth of a turn apart from the lattice's, each land takes the one with most metal round
    it; among equals the first.
    """
    length, _, _ = _foot(joints)
    angle = lattice_rad + np.pi / 6 + np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
    ways = np.column_stack([np.cos(angle), np.sin(angle)])
    reach = segment.windows_mm[:, 2] + _heel_mm(joints) + length / 2
    tries = segment.window_centres_mm[:, None, :] + reach[:, None, None] * ways[None]
    room = _room_mm(segment, tries)
    best = np.argmax(room >= room.max(axis=1, keepdims=True, initial=-np.inf) - SAME_MM, axis=1)
    rows = np.arange(len(reach))
    centres, outward = tries[rows, best], ways[best]
    across = np.column_stack([-outward[:, 1], outward[:, 0]])
    aside, radius = _sources(joints)
    return Lands(
        centres_mm=centres,
        outward=outward,
        feet=_feet(centres, outward, joints, segment.windows_mm[:, 2]),
        sources_mm=centres[:, None, :] + aside[None, :, None] * across[:, None, :],
        source_radius_mm=radius,
        half_width_mm=float(_foot(joints)[2].max() + _foot(joints)[1] / 2),
    )


def _foot(joints: JointSettings) -> tuple[float, float, FloatArray]:
    """Return length and width of a foot, and how far to the side of the land's middle each one sits."""
    if joints.weld_ohm is not None:
        return TONGUE_DEPTH_MM, joints.weld_width_mm, np.zeros(1)
    d = joints.wire_diameter_mm
    side = np.asarray((np.arange(joints.n_wires) - (joints.n_wires - 1) / 2) * WIRE_SPACING * d, dtype=np.float64)
    return FOOT_LENGTHS * d, FOOT_WIDTHS * d, side


def _heel_mm(joints: JointSettings) -> float:
    return 0.0 if joints.weld_ohm is not None else HEEL_DIAMETERS * joints.wire_diameter_mm


def _sources(joints: JointSettings) -> tuple[FloatArray, float]:
    """Return how far to the side of a land's middle its sources sit, and the radius each is equal to.

    Source: derived, two-dimensional potential theory. A rectangle spreads current as a disc does of `ROUND_SHARE` of
    its two sides together. A disc of radius ρ whose middle is h from a straight edge is one of two cylinders with
    arcosh(h/ρ) / 2π between edge and each; point and mirror alone have ln(2h/ρ') / 2π: so ρ' is told. A tongue
    and its mirror are one rectangle, for which sources side by side stand, all distances between them and their mirrors
    having its radius as their geometric mean.
    """
    length, width, aside = _foot(joints)
    h = _heel_mm(joints) + length / 2
    if joints.weld_ohm is None:
        slant = h / (ROUND_SHARE * (length + width))
        return aside, 2 * h / (slant + math.sqrt(slant**2 - 1))
    aside = np.array([0.0] if width < 2 * length else [-SIDE_SHARE * width, SIDE_SHARE * width])
    n = len(aside)
    apart = np.abs(aside[:, None] - aside[None, :])
    pairs = np.log(apart + np.eye(n)).sum() + np.log(np.hypot(apart, 2 * h)).sum()
    return aside, math.exp(2 * n * math.log(ROUND_SHARE * (width + 2 * length)) - pairs / n)


def _feet(
    centres: PointArray, outward: PointArray, joints: JointSettings, window_radius_mm: FloatArray
) -> tuple[MultiPolygon, ...]:
    import shapely

    length, width, aside = _foot(joints)
    across = np.column_stack([-outward[:, 1], outward[:, 0]])
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) / 2 * (length, width)
    corners = np.repeat(corners[None, None], len(centres), axis=0)
    if joints.weld_ohm is not None:  # a tongue comes out of its window: no sliver of metal between its root and there
        corners[:, 0, [0, 3], 0] -= np.minimum(width / 2, window_radius_mm)[:, None]
    middle = centres[:, None, :] + aside[None, :, None] * across[:, None, :]
    ring = (
        middle[:, :, None, :]
        + corners[..., :1] * outward[:, None, None, :]
        + corners[..., 1:] * across[:, None, None, :]
    )
    rectangles = shapely.polygons(ring.reshape(-1, 4, 2))
    return tuple(shapely.multipolygons(rectangles, indices=np.repeat(np.arange(len(ring)), len(aside))).tolist())


def _room_mm(segment: Segment, tries: FloatArray) -> FloatArray:
    """Return (w, d) how far the d points tried for each window are from the metal's edge, their own window apart.

    Less than 0 outside. `tries` is (w, d, 2). Where the edge is further than all other windows it is not asked for.
    """
    import shapely
    from scipy.spatial import cKDTree

    outlines = [piece.polygon(0.05) for piece in segment.pieces]
    if not outlines or tries.size == 0:
        return np.zeros(tries.shape[:2])
    holes, centres = segment.circles_mm, segment.window_centres_mm
    distance, hole = cKDTree(holes[:, :2]).query(tries, k=np.arange(min(3, len(holes))) + 1)
    own = np.arange(len(tries))[:, None, None]
    room = np.where(hole == own, np.inf, distance - holes[hole, 2]).min(axis=2)
    points = shapely.get_coordinates(shapely.segmentize(outlines, OUTLINE_STEP_MM))
    edge = cKDTree(points, compact_nodes=False, balanced_tree=False)  # three times as quick to make, for few questions
    reach = np.hypot(*(tries[:, 0] - centres).T)
    near = edge.query(centres)[0] <= reach + room.max(axis=1)
    to_edge = np.asarray(edge.query(tries[near])[0])
    whole = shapely.union_all(outlines)
    shapely.prepare(whole)
    inside = shapely.contains_xy(whole, tries[near, :, 0], tries[near, :, 1])
    room[near] = np.where(inside, np.minimum(to_edge, room[near]), -to_edge)
    return np.asarray(room)
