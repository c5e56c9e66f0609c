"""Rounding: every corner of a contour replaced by an arc that touches both its edges."""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.recovery import circle_circle, line_circle

SMOOTH_RAD = 1e-3  # corners that turn less count as smooth already
NOTHING_MM = 1e-9  # an edge shorter than that has no direction
GENTLE_RAD = 0.1  # corners that turn less are those of a curve drawn in pieces: a larger corner's arc may pass them


class CornerTooTightError(Exception):
    """Some corner has no room for its arc."""


def rounded(contour: Contour, radius_mm: float) -> Contour:
    """Return the contour with every corner, inside and outside, rounded to `radius_mm`.

    An edge too short for the arcs at its two ends gives way where the loop turns the same way at both, or hardly at one
    of them: a disc of that radius rolling along the loop does not reach it, and touches the edges before and after it
    at once.

    Raises
    ------
    CornerTooTightError : a short edge cannot give way

    Source: own derivation. The arc's centre is where the two edges, shifted by the radius to the side the loop turns
    to, meet; between straight edges its ends lie radius · tan(turn / 2) from the corner.
    """
    while True:
        turn = contour.turns_rad
        is_corner = np.abs(turn) > SMOOTH_RAD
        if radius_mm <= 0 or not is_corner.any():
            return contour
        ends, centres = _fillets(contour, turn, is_corner, radius_mm)
        tight = np.flatnonzero(~_has_room(contour, is_corner, ends))
        if len(tight) == 0:
            return _assembled(contour, is_corner, turn, ends, centres)
        contour = _without_edge(contour, _gives_way(contour, turn, tight))


def _fillets(contour: Contour, turn: FloatArray, is_corner: BoolArray, radius: float) -> tuple[FloatArray, PointArray]:
    """Return (n, 2, 2) arc ends and (n, 2) centres at every corner; NaN where no arc touches both edges."""
    ends, centres = _straight_fillets(contour, turn, radius)
    for k in np.flatnonzero(is_corner & (contour.is_arc | np.roll(contour.is_arc, 1))):
        ends[k], centres[k] = _curved_fillet(contour, int(k), math.copysign(radius, turn[k]))
    return ends, centres


def _gives_way(contour: Contour, turn: FloatArray, tight: IntArray) -> int:
    """Return the shortest tight edge at whose two ends the loop turns the same way, or hardly at one of them."""
    here, after = turn[tight], turn[(tight + 1) % len(turn)]
    is_one_corner = np.minimum(np.abs(here), np.abs(after)) < GENTLE_RAD
    may = tight[(here * after > 0) | is_one_corner]
    if len(may) == 0 or len(turn) <= 3:
        raise CornerTooTightError
    return int(may[np.argmin(contour.chords_mm[may])])


def _without_edge(contour: Contour, k: int) -> Contour:
    """Return the contour in which the edges before and after edge k are prolonged until they meet."""
    n = len(contour.bulges)
    before, after = (k - 1) % n, (k + 1) % n
    middle = (contour.vertices_mm[k] + contour.vertices_mm[after]) / 2
    turns_hardly = np.abs(contour.turns_rad[[k, after]]).min() < GENTLE_RAD
    meeting = _meeting(_shifted(contour, before, 0.0), _shifted(contour, after, 0.0), middle)
    if meeting is None:
        raise CornerTooTightError
    if turns_hardly and np.hypot(*(meeting - middle)) > contour.chords_mm[k]:
        raise CornerTooTightError  # beside a tight curve the edges meet somewhere else
    if np.hypot(*(contour.vertices_mm[[before, (after + 1) % n]] - meeting).T).min() < NOTHING_MM:
        raise CornerTooTightError  # nothing would be left of an edge
    vertices, bulges = contour.vertices_mm.copy(), contour.bulges.copy()
    vertices[after] = meeting
    for edge, start, end in ((before, vertices[before], meeting), (after, meeting, vertices[(after + 1) % n])):
        if bulges[edge]:
            centre = contour.arc_centres_mm[edge]
            swept = math.atan2(*(end - centre)[::-1]) - math.atan2(*(start - centre)[::-1])
            swept += 2 * math.pi * round((4 * math.atan(bulges[edge]) - swept) / (2 * math.pi))
            bulges[edge] = math.tan(swept / 4)
    return Contour(np.delete(vertices, k, axis=0), np.delete(bulges, k))


def _meeting(one: FloatArray, two: FloatArray, near: PointArray) -> PointArray | None:
    """Return where two lines (two points each) or circles (x, y, radius) meet nearest to a point, if they do."""
    if one.shape == (3,) and two.shape == (3,):
        distance = float(np.hypot(*(two[:2] - one[:2])))
        return circle_circle(one, two, near) if abs(one[2] - two[2]) <= distance <= one[2] + two[2] else None
    if two.shape == (3,):
        one, two = two, one
    along = two[1] - two[0]
    along = along / np.hypot(*along)
    if one.shape == (3,):
        reach = abs(along[0] * (one[1] - two[0][1]) - along[1] * (one[0] - two[0][0]))
        return line_circle(two[0], two[1], one, near) if reach <= one[2] else None
    other = one[1] - one[0]
    cross = along[0] * other[1] - along[1] * other[0]
    if abs(cross) < SMOOTH_RAD * np.hypot(*other):
        return None
    start = one[0] - two[0]
    return np.asarray(two[0] + along * ((start[0] * other[1] - start[1] * other[0]) / cross))


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
    centre = _meeting(_shifted(contour, before, radius), _shifted(contour, k, radius), corner)
    nowhere = np.full((2, 2), np.nan), np.full(2, np.nan)
    if centre is None:
        return nowhere
    ends = np.array([_foot(contour, before, centre), _foot(contour, k, centre)])
    touches = np.abs(np.hypot(*(ends - centre).T) - abs(radius)).max() < 1e-6
    return (ends, centre) if touches else nowhere


def _shifted(contour: Contour, k: int, left_mm: float) -> FloatArray:
    """Return edge k shifted to its left: (3,) x, y, radius of an arc, (2, 2) two points of a straight edge."""
    start, end = contour.vertices_mm[k], contour.ends_mm[k]
    bulge = contour.bulges[k]
    if bulge:
        radius = float(contour.arc_radii_mm[k]) - math.copysign(left_mm, left_mm * bulge)
        return np.array([*contour.arc_centres_mm[k], max(radius, 0.0)])
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


def _has_room(contour: Contour, is_corner: BoolArray, ends: FloatArray) -> BoolArray:
    """Return (n,) whether what is left of each edge between its two arcs still runs forward."""
    start = np.where(is_corner[:, None], ends[:, 1], contour.vertices_mm)
    stop = np.roll(np.where(is_corner[:, None], ends[:, 0], contour.vertices_mm), -1, axis=0)
    chord = contour.ends_mm - contour.vertices_mm
    forward = ((stop - start) * chord).sum(axis=1) > -1e-9  # False for NaN, where there is no arc to end at
    for k in np.flatnonzero(contour.is_arc):
        forward[k] = bool(np.isfinite(start[k] + stop[k]).all()) and _runs_forward(contour, int(k), start[k], stop[k])
    return np.asarray(forward)


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
