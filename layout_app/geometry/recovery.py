"""Recovery: arcs found again in polygons whose chords came from circles we know.

Boolean work is done on chords. Since every circle that went in is known, chords that lie on one are told apart from
straight edges for certain, and leave as exact arcs whose ends are computed afresh.
"""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray
from layout_app.geometry.contours import CHORD_TOLERANCE_MM, Contour

SHORTEST_EDGE_MM = 1e-5  # 10 nm: shorter edges are rounding noise
TOUCH_MM = 2 * CHORD_TOLERANCE_MM  # circles known from chords may miss or overlap this much where they touch
SLIVER_MM = 0.1  # about as long as two curves of ordinary radius stay within TOUCH_MM of one another
TURNED_BACK_RAD = 0.3
ALIKE_MM = CHORD_TOLERANCE_MM / 2  # circles that fit a chord this nearly as well as the best come into question too
MAY_MOVE = 0.4  # of the shorter edge at a vertex: with less than half, edges keep their order and direction
STRAIGHT_RAD = 1e-7  # edges that turn less are one edge


def with_arcs(vertices_mm: PointArray, circles_mm: FloatArray, tolerance_mm: float = 2 * CHORD_TOLERANCE_MM) -> Contour:
    """Return the contour of a polygon ring, chords of known circles replaced by arcs.

    Parameters
    ----------
    vertices_mm : (n, 2) float array, the ring, first vertex not repeated
    circles_mm : (m, 3) float array, x, y, radius of every circle chords may come from
    tolerance_mm : how far a chord's ends and middle may be off its circle
    """
    vertices = _without_straight_vertices(vertices_mm)
    circle = _circle_of_edges(vertices, circles_mm, tolerance_mm)
    if (circle < 0).all():
        return Contour(vertices)
    if (circle == circle[0]).all():
        return _whole_circle(vertices, circles_mm[circle[0]])
    starts = np.flatnonzero((circle < 0) | (circle != np.roll(circle, 1)))
    while True:
        contour = _joined(vertices, starts, circle[starts], circles_mm)
        slivers = _slivers(contour)
        if not slivers.any() or slivers.all():
            return contour.without_null_edges(1e-6)
        starts = starts[~slivers]


def _joined(vertices: PointArray, starts: IntArray, owner: IntArray, circles: FloatArray) -> Contour:
    """Return the contour whose edges start at some of a ring's vertices and lie on their owners' circles."""
    rough = vertices[starts]
    ahead = np.hypot(*(np.roll(rough, -1, axis=0) - rough).T)
    reach = MAY_MOVE * np.minimum(ahead, np.roll(ahead, 1))
    points = rough.copy()
    for k in np.flatnonzero((owner >= 0) | (np.roll(owner, 1) >= 0)):
        exact = _meeting_point(rough, int(k), owner, circles)
        beside = circles[[c for c in (owner[k - 1], owner[k]) if c >= 0]]
        is_near = np.hypot(*(exact - rough[k])) <= reach[k] and _off_mm(exact[None], beside).max() < TOUCH_MM
        points[k] = exact if is_near else _between(rough[k], beside)
    return Contour(points, _bulges(vertices, starts, owner, points, circles))


def _between(point: PointArray, circles: FloatArray) -> PointArray:
    """Return the middle of a point's nearest points on one or two circles that run all but alike there."""
    spokes = [point - circle[:2] for circle in circles]
    feet = [c[:2] + spoke * (c[2] / np.hypot(*spoke)) for c, spoke in zip(circles, spokes, strict=True)]
    return np.asarray(np.mean(feet, axis=0))


def _slivers(contour: Contour) -> BoolArray:
    """Return (n,) which edges are slivers: short, and the loop turns back at one of their ends.

    Where two curves touch, chords beside the place lie on both, and a sliver of the one may seem to come before the
    other. Left out, the edges before and after it meet without its help.
    """
    turns_back = np.abs(contour.turns_rad) > math.pi - TURNED_BACK_RAD
    return (contour.chords_mm < SLIVER_MM) & (turns_back | np.roll(turns_back, -1))


def _without_straight_vertices(vertices: PointArray) -> PointArray:
    """Drop repeated vertices and those at which a straight edge merely goes on."""
    ahead = np.roll(vertices, -1, axis=0) - vertices
    vertices = vertices[np.hypot(*ahead.T) > SHORTEST_EDGE_MM]
    ahead = np.roll(vertices, -1, axis=0) - vertices
    behind = np.roll(ahead, 1, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    dot = (behind * ahead).sum(axis=1)
    return np.asarray(vertices[np.abs(np.arctan2(cross, dot)) > STRAIGHT_RAD])


def _circle_of_edges(vertices: PointArray, circles: FloatArray, tolerance: float) -> IntArray:
    """Return (n,) the circle each edge is a chord of, or -1.

    Curves drawn in pieces have arcs that hardly differ, and a chord may fit several. Those that fit it about as well as
    the best come into question, and of these the one that goes on longest.
    """
    if len(circles) == 0:
        return np.full(len(vertices), -1)
    ends = np.roll(vertices, -1, axis=0)
    off = _off_mm(vertices, circles)
    off = np.maximum(np.maximum(off, np.roll(off, -1, axis=0)), _off_mm((vertices + ends) / 2, circles))
    may = (off < tolerance) & (off <= off.min(axis=1)[:, None] + ALIKE_MM)
    return _longest_runs(may, off)


def _longest_runs(may: BoolArray, off: FloatArray) -> IntArray:
    """Return (n,) the owner of each edge, or -1: as few runs of edges as can be, each with the owner that fits best."""
    edges, owners = np.nonzero(may)
    first = np.searchsorted(edges, np.arange(len(may) + 1))
    runs: list[tuple[int, int, set[int]]] = []  # start, stop, and who fits all between
    for k in np.unique(edges).tolist():
        these = set(owners[first[k] : first[k + 1]].tolist())
        if runs and runs[-1][1] == k and runs[-1][2] & these:
            runs[-1] = runs[-1][0], k + 1, runs[-1][2] & these
        else:
            runs.append((k, k + 1, these))
    owner = np.full(len(may), -1)
    for start, stop, common in runs:
        fit = sorted(common)
        owner[start:stop] = fit[int(off[start:stop, fit].max(axis=0).argmin())]
    return owner


def _off_mm(points: PointArray, circles: FloatArray) -> FloatArray:
    """Return (n, m): how far points are off circles."""
    distance = np.hypot(points[:, None, 0] - circles[None, :, 0], points[:, None, 1] - circles[None, :, 1])
    return np.abs(distance - circles[:, 2])


def _whole_circle(vertices: PointArray, circle: FloatArray) -> Contour:
    x, y, radius = (float(value) for value in circle)
    whole = Contour.circle(x, y, radius)
    return whole if Contour(vertices).area_mm2 > 0 else whole.reversed()


def _meeting_point(points: PointArray, k: int, owner: IntArray, circles: FloatArray) -> PointArray:
    """Return where the edge before and the edge from vertex k meet exactly, near where their chords met."""
    near, before, here = points[k], int(owner[k - 1]), int(owner[k])
    if before >= 0 and here >= 0:
        return circle_circle(circles[before], circles[here], near)
    other = points[k - 1] if before < 0 else points[(k + 1) % len(points)]
    return line_circle(near, other, circles[max(before, here)], near)


def line_circle(a_mm: PointArray, b_mm: PointArray, circle_mm: FloatArray, near_mm: PointArray) -> PointArray:
    """Return the point nearest to `near_mm` where the line through a and b meets the circle; where they only touch, to
    within TOUCH_MM, the line's closest point to the centre."""
    direction = (b_mm - a_mm) / np.hypot(*(b_mm - a_mm))
    foot = a_mm + direction * ((circle_mm[:2] - a_mm) @ direction)
    away = float(np.hypot(*(foot - circle_mm[:2])))
    half = 0.0 if circle_mm[2] - away < TOUCH_MM else math.sqrt(circle_mm[2] ** 2 - away**2)
    ahead, behind = foot + half * direction, foot - half * direction
    return np.asarray(ahead if np.hypot(*(ahead - near_mm)) <= np.hypot(*(behind - near_mm)) else behind)


def circle_circle(one_mm: FloatArray, two_mm: FloatArray, near_mm: PointArray) -> PointArray:
    """Return the point nearest to `near_mm` where two circles meet; where they only touch, to within TOUCH_MM, the
    point on the line through their centres."""
    span = two_mm[:2] - one_mm[:2]
    distance = float(np.hypot(*span))
    if distance < 1e-9:  # concentric: nothing better than the point itself
        return near_mm
    unit = span / distance
    along = (distance**2 + one_mm[2] ** 2 - two_mm[2] ** 2) / (2 * distance)
    crossing = min(one_mm[2] + two_mm[2] - distance, distance - abs(one_mm[2] - two_mm[2]))
    half = 0.0 if crossing < TOUCH_MM else math.sqrt(max(0.0, one_mm[2] ** 2 - along**2))
    foot, normal = one_mm[:2] + along * unit, half * np.array([-unit[1], unit[0]])
    left, right = foot + normal, foot - normal
    return np.asarray(left if np.hypot(*(left - near_mm)) <= np.hypot(*(right - near_mm)) else right)


def _bulges(
    vertices: PointArray, starts: IntArray, owner: IntArray, points: PointArray, circles: FloatArray
) -> FloatArray:
    """Return each merged edge's bulge: how far the spoke turned, told by the chords and trued by the new ends."""
    bulges = np.zeros(len(starts))
    stops = np.roll(starts, -1)
    for k in np.flatnonzero(owner >= 0):
        run = np.arange(starts[k], stops[k] + (len(vertices) if stops[k] <= starts[k] else 0) + 1) % len(vertices)
        centre = circles[owner[k], :2]
        spokes = np.unwrap(np.arctan2(*(vertices[run] - centre)[:, ::-1].T))
        turned = spokes[-1] - spokes[0]
        first, last = points[k] - centre, points[(k + 1) % len(points)] - centre
        exact = math.atan2(last[1], last[0]) - math.atan2(first[1], first[0])
        exact += 2 * math.pi * round((turned - exact) / (2 * math.pi))
        bulges[k] = math.tan(exact / 4)
    return bulges
