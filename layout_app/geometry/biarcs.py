"""Biarcs: any smooth curve as few circular arcs, tangent to one another, within a tolerance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.edges import Edges

MAX_HALVINGS = 24  # 2^24 pieces of a curve are finer than any tolerance; a cusp ends here
N_SAMPLES = 17  # compared points of a piece
ARC_AS_DRAWN_MM = 1e-7  # nearer than this the curve is a circle written in another way

CurveFunction = Callable[[FloatArray], tuple[PointArray, PointArray]]


def edges_along(curve: CurveFunction, breaks: FloatArray, tolerance_mm: float) -> Edges:
    """Return straight edges and arcs along a curve, none further from it than `tolerance_mm`.

    Parameters
    ----------
    curve : function of (n,) parameters returning (n, 2) points in mm and (n, 2) tangents of any length
    breaks : (k,) ascending parameters, k >= 2: start, every kink, end; a kink's sides are looked at separately
    tolerance_mm : mm

    Source: Bolton, "Biarc curves", Computer-Aided Design 7 (1975), from memory; the joint of equal tangent lengths.
    """
    pieces: list[Edges] = []
    for begin, end in zip(breaks[:-1].tolist(), breaks[1:].tolist(), strict=True):
        pieces += _pieces(curve, begin, end, tolerance_mm, MAX_HALVINGS)
    return Edges.together(pieces)


def _pieces(curve: CurveFunction, begin: float, end: float, tolerance_mm: float, halvings: int) -> list[Edges]:
    inset = (end - begin) * 1e-9  # at a kink the tangent is that of this side
    at = np.linspace(begin, end, N_SAMPLES)
    points, _ = curve(at)
    _, tangents = curve(np.array([begin + inset, end - inset]))
    for candidate, limit in (
        (_line(points), tolerance_mm / 100),
        (_arc(points), ARC_AS_DRAWN_MM),
        (_biarc(points, tangents), tolerance_mm),
    ):
        if candidate is not None and (halvings == 0 or _deviation_mm(candidate, points) <= limit):
            return [candidate]
    if halvings == 0:
        return [_line(points)]
    middle = (begin + end) / 2
    return _pieces(curve, begin, middle, tolerance_mm, halvings - 1) + _pieces(
        curve, middle, end, tolerance_mm, halvings - 1
    )


def _line(points: PointArray) -> Edges:
    return Edges(points[:1], points[-1:], np.zeros(1))


def _arc(points: PointArray) -> Edges | None:
    """Return the arc through the first, middle and last point, None if it turns more than half way."""
    start, middle, end = points[0], points[len(points) // 2], points[-1]
    chord, to_middle = end - start, middle - start
    to_end = end - middle
    turn = np.arctan2(to_middle[0] * to_end[1] - to_middle[1] * to_end[0], to_middle @ to_end)  # half the angle
    if not np.any(chord) or abs(turn) > np.pi / 2:
        return None
    return Edges(start[None], end[None], np.tan([turn / 2]))


def _biarc(points: PointArray, tangents: PointArray) -> Edges | None:
    """Return two arcs that leave and arrive in the directions given and meet smoothly; None if there are none."""
    lengths = np.hypot(*tangents.T)
    start, end = points[0], points[-1]
    chord = end - start
    if not lengths.all() or not np.any(chord):
        return None
    leaving, arriving = tangents / lengths[:, None]
    spread = 2 * (1 - leaving @ arriving)
    forward = float(chord @ (leaving + arriving))
    # The tangent length d satisfies spread d² + 2 forward d - chord² = 0; this form of the root keeps its digits.
    root = forward + np.sqrt(forward**2 + spread * (chord @ chord))
    if not root > 0:
        return None
    reach = (chord @ chord) / root
    joint = (start + end + reach * (leaving - arriving)) / 2
    turns = np.array([_angle(leaving, joint - start), _angle(end - joint, arriving)])
    if np.abs(turns).max() > np.pi / 2:
        return None
    return Edges(np.array([start, joint]), np.array([joint, end]), np.tan(turns / 2))


def _angle(one: PointArray, other: PointArray) -> float:
    """Return the angle from one direction to another, -π…π."""
    return float(np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other))


def _deviation_mm(edges: Edges, points: PointArray) -> float:
    """Return the largest distance from the points to the nearest edge."""
    distances = []
    for k in range(len(edges)):
        one = edges.taken(np.full(len(points), k))
        distances.append(np.hypot(*(one.points_at(one.nearest_fractions(points)) - points).T))
    return float(np.min(distances, axis=0).max())
