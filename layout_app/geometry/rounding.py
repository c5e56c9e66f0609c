"""Rounding: every corner of a contour replaced by an arc that touches both its edges."""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.recovery import circle_circle, line_circle

SMOOTH_RAD = 1e-3  # corners that turn less count as smooth already


class CornerTooTightError(Exception):
    """Some corner has no room for its arc."""


def rounded(contour: Contour, radius_mm: float) -> Contour:
    """Return the contour with every corner, inside and outside, rounded to `radius_mm`.

    Raises
    ------
    CornerTooTightError : an edge is too short for the arcs at its two ends

    Source: own derivation. The arc's centre is where the two edges, shifted by the radius to the side the loop turns
    to, meet; between straight edges its ends lie radius · tan(turn / 2) from the corner.
    """
    turn = turns_rad(contour)
    is_corner = np.abs(turn) > SMOOTH_RAD
    if radius_mm <= 0 or not is_corner.any():
        return contour
    ends, centres = _straight_fillets(contour, turn, radius_mm)
    for k in np.flatnonzero(is_corner & (contour.is_arc | np.roll(contour.is_arc, 1))):
        ends[k], centres[k] = _curved_fillet(contour, int(k), math.copysign(radius_mm, turn[k]))
    _require_room(contour, is_corner, ends)
    return _assembled(contour, is_corner, turn, ends, centres)


def turns_rad(contour: Contour) -> FloatArray:
    """Return (n,) how far the loop turns at each vertex, rad, positive to the left."""
    chord = contour.ends_mm - contour.vertices_mm
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    half = 2 * np.arctan(contour.bulges)  # an arc starts half its included angle to the right of its chord
    arriving = np.roll(heading + half, 1)
    turn = np.mod((heading - half) - arriving + np.pi, 2 * np.pi) - np.pi
    return np.asarray(turn, dtype=np.float64)


def _straight_fillets(contour: Contour, turn: FloatArray, radius: float) -> tuple[FloatArray, PointArray]:
    """Return (n, 2, 2) arc ends and (n, 2) centres as if all edges were straight."""
    ahead = (contour.ends_mm - contour.vertices_mm) / contour.chords_mm[:, None]
    behind = np.roll(ahead, 1, axis=0)
    tangent = radius * np.abs(np.tan(turn / 2))[:, None]
    ends = np.stack([contour.vertices_mm - tangent * behind, contour.vertices_mm + tangent * ahead], axis=1)
    normal = np.sign(turn)[:, None] * np.column_stack([-behind[:, 1], behind[:, 0]])
    return ends, ends[:, 0] + radius * normal


def _curved_fillet(contour: Contour, k: int, radius: float) -> tuple[FloatArray, PointArray]:
    """Return arc ends and centre at vertex k, where at least one edge is an arc; `radius` is negative to the right."""
    before, corner = (k - 1) % len(contour.bulges), contour.vertices_mm[k]
    one, two = _shifted(contour, before, radius), _shifted(contour, k, radius)
    if one.shape == (3,) and two.shape == (3,):
        centre = circle_circle(one, two, corner)
    elif one.shape == (3,):
        centre = line_circle(two[0], two[1], one, corner)
    else:
        centre = line_circle(one[0], one[1], two, corner)
    ends = np.array([_foot(contour, before, centre), _foot(contour, k, centre)])
    if np.abs(np.hypot(*(ends - centre).T) - abs(radius)).max() > 1e-6:
        raise CornerTooTightError
    return ends, centre


def _shifted(contour: Contour, k: int, left_mm: float) -> FloatArray:
    """Return edge k shifted to its left: (3,) x, y, radius of an arc, (2, 2) two points of a straight edge."""
    start, end = contour.vertices_mm[k], contour.ends_mm[k]
    bulge = contour.bulges[k]
    if bulge:
        radius = float(contour.arc_radii_mm[k]) - math.copysign(left_mm, left_mm * bulge)
        if radius <= 0:
            raise CornerTooTightError
        return np.array([*contour.arc_centres_mm[k], radius])
    along = (end - start) / np.hypot(*(end - start))
    return np.array([start, end]) + left_mm * np.array([-along[1], along[0]])


def _foot(contour: Contour, k: int, point: PointArray) -> PointArray:
    """Return the point of edge k's line or circle nearest to `point`."""
    if contour.bulges[k]:
        centre = contour.arc_centres_mm[k]
        spoke = point - centre
        return np.asarray(centre + spoke * (contour.arc_radii_mm[k] / np.hypot(*spoke)))
    start, end = contour.vertices_mm[k], contour.ends_mm[k]
    along = (end - start) / np.hypot(*(end - start))
    return np.asarray(start + along * ((point - start) @ along))


def _require_room(contour: Contour, is_corner: BoolArray, ends: FloatArray) -> None:
    """Raise unless what is left of every edge between its two arcs still runs forward."""
    start = np.where(is_corner[:, None], ends[:, 1], contour.vertices_mm)
    stop = np.roll(np.where(is_corner[:, None], ends[:, 0], contour.vertices_mm), -1, axis=0)
    chord = contour.ends_mm - contour.vertices_mm
    forward = ((stop - start) * chord).sum(axis=1) > -1e-9
    arcs = np.flatnonzero(contour.is_arc)
    forward[arcs] = [_runs_forward(contour, int(k), start[k], stop[k]) for k in arcs]
    if not forward.all():
        raise CornerTooTightError


def _runs_forward(contour: Contour, k: int, start: PointArray, stop: PointArray) -> bool:
    """Whether trimming arc k to start and stop leaves a part of it."""
    sense = math.copysign(1.0, contour.bulges[k])
    whole = 4 * math.atan(abs(contour.bulges[k]))
    return _swept(contour, k, start, sense) <= _swept(contour, k, stop, sense, whole) + 1e-12


def _swept(contour: Contour, k: int, point: PointArray, sense: float, near: float = 0.0) -> float:
    """Return the angle from arc k's start to `point`, the turn nearest to `near`, rad."""
    centre = contour.arc_centres_mm[k]
    first, spoke = contour.vertices_mm[k] - centre, point - centre
    angle = sense * (math.atan2(spoke[1], spoke[0]) - math.atan2(first[1], first[0]))
    return angle + 2 * math.pi * round((near - angle) / (2 * math.pi))


def _assembled(
    contour: Contour, is_corner: BoolArray, turn: FloatArray, ends: FloatArray, centres: PointArray
) -> Contour:
    """Return the contour with the arcs put in and the edges between them trimmed."""
    n = len(contour.bulges)
    first = np.where(is_corner[:, None], ends[:, 0], contour.vertices_mm)
    second = np.where(is_corner[:, None], ends[:, 1], contour.vertices_mm)
    bulges = np.empty((n, 2))
    bulges[:, 0] = np.where(is_corner, _arc_bulges(first, second, centres, turn), 0.0)
    bulges[:, 1] = contour.bulges
    for k in np.flatnonzero(contour.is_arc):
        sense = math.copysign(1.0, contour.bulges[k])
        whole = 4 * math.atan(abs(contour.bulges[k]))
        left = _swept(contour, int(k), first[(k + 1) % n], sense, whole) - _swept(contour, int(k), second[k], sense)
        bulges[k, 1] = sense * math.tan(max(left, 0.0) / 4)
    keep = np.column_stack([is_corner, np.ones(n, dtype=bool)]).ravel()
    vertices = np.stack([first, second], axis=1).reshape(-1, 2)
    return Contour(vertices[keep], bulges.ravel()[keep]).without_null_edges(1e-7)


def _arc_bulges(first: PointArray, second: PointArray, centres: PointArray, turn: FloatArray) -> FloatArray:
    """Return tan(included angle / 4) of the arcs from first to second about their centres."""
    one, two = first - centres, second - centres
    cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    included = np.abs(np.arctan2(cross, (one * two).sum(axis=1)))
    return np.asarray(np.sign(turn) * np.tan(included / 4), dtype=np.float64)
