"""Drawn curves as straight edges and arcs in the plane of the housing, whatever transformed them on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.biarcs import edges_along
from layout_app.geometry.edges import Edges
from layout_app.geometry.joining import EXACT_MM
from layout_app.geometry.splines import Spline
from layout_app.model.validation import MAX_LENGTH_MM

if TYPE_CHECKING:
    from ezdxf.math import Matrix44

CURVE_TOLERANCE_MM = 0.002  # ellipses and splines become arcs this near; a drawing may be off by 0.005
FARTHEST_MM = 1e3 * MAX_LENGTH_MM  # 100 km: what positions in a layout may be
SPANS_AT_ONCE = 4  # knot spans looked at together: each is then compared at four points or more
FULL_TURN = 2 * math.pi
_SKIPPED_VERTEX = 16  # POLYLINE vertex flag: control frame of a fitted curve, not on the curve


class NotUsableError(Exception):
    """A curve is left out; the message is the reason, as the summary gives it."""


class OutOfReachError(Exception):
    """A coordinate is no finite number or further away than any housing; `value_mm` is the worst one."""

    def __init__(self, value_mm: float) -> None:
        super().__init__(f"coordinate {value_mm:g} mm")
        self.value_mm = value_mm


def require_in_reach(*numbers_mm: FloatArray) -> None:
    """Raise OutOfReachError unless every number is finite and at most FARTHEST_MM."""
    for numbers in numbers_mm:
        worst = float(np.abs(numbers).max(initial=0.0))
        if not worst <= FARTHEST_MM:  # written so that NaN fails too
            raise OutOfReachError(worst)


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane an entity is drawn in, seen from above: (x, y) lies at origin + x across + y up."""

    origin: FloatArray
    across: FloatArray
    up: FloatArray

    @classmethod
    def of(cls, matrix: Matrix44, height: float = 0.0) -> Plane:
        """Return the plane z = height of the coordinates a matrix leads out of."""
        rows = np.array(list(matrix.rows()), dtype=np.float64)[:, :2]
        return cls(rows[3] + height * rows[2], rows[0], rows[1])

    @property
    def handedness(self) -> float:
        """1 if circles stay circles, -1 if they do and are mirrored, 0 if they become ellipses."""
        a, b = self.across, self.up
        size = max(float(a @ a), float(b @ b))
        if abs(a @ b) > 1e-9 * size or abs(a @ a - b @ b) > 1e-9 * size:
            return 0.0
        return float(np.sign(a[0] * b[1] - a[1] * b[0]))

    def points(self, flat: PointArray) -> PointArray:
        """Return (n, 2) points of the plane, seen from above."""
        return np.asarray(self.origin + flat[:, :1] * self.across + flat[:, 1:2] * self.up, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Strand:
    """Connected edges of one drawn entity."""

    kind: str
    layer: str
    edges: Edges
    closed: bool


def curve_edges(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    """Return the edges of one curve entity after a transformation, and whether they close.

    Raises
    ------
    NotUsableError : the curve has no length, is seen edge-on, or is a surface
    OutOfReachError : a coordinate no housing can have
    """
    with np.errstate(all="ignore"):  # numbers out of reach are looked for in the result
        edges, closed = _READERS[entity.dxftype()](entity, matrix)
        require_in_reach(edges.starts_mm, edges.ends_mm)
        require_in_reach(edges.bulges * edges.chords_mm / 2)  # how far arcs rise
    if not np.isfinite(edges.bulges).all():
        raise OutOfReachError(np.nan)
    return edges, closed


def _own_plane(entity: Any, matrix: Matrix44, height: float) -> Plane:
    """Return the plane of an entity that is stored in its own tilted coordinates (extrusion)."""
    from ezdxf.math import Matrix44

    ocs = entity.ocs()
    if ocs.transform:
        matrix = Matrix44.ucs(ocs.ux, ocs.uy, ocs.uz) * matrix
    return Plane.of(matrix, height)


def _line(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    start, end = matrix.transform_vertices([entity.dxf.start, entity.dxf.end])
    return Edges(np.array([[start.x, start.y]]), np.array([[end.x, end.y]]), np.zeros(1)), False


def _circle(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    return _round(entity, matrix, 0.0, FULL_TURN)


def _arc(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    return _round(entity, matrix, start, start + _turn(start, end))


def _turn(start: float, end: float) -> float:
    """Return the counter-clockwise turn between two angles; equal ones mean a full turn."""
    turn = (end - start) % FULL_TURN
    return turn if 1e-9 < turn < FULL_TURN - 1e-9 else FULL_TURN


def _round(entity: Any, matrix: Matrix44, start: float, end: float) -> tuple[Edges, bool]:
    centre, radius = entity.dxf.center, float(entity.dxf.radius)
    plane = _own_plane(entity, matrix, centre.z)
    middle = plane.points(np.array([[centre.x, centre.y]]))[0]
    return conic(middle, radius * plane.across, radius * plane.up, start, end)


def _ellipse(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    dxf = entity.dxf
    middle = matrix.transform(dxf.center)
    major, minor = (matrix.transform_direction(axis) for axis in (dxf.major_axis, entity.minor_axis))
    turn = _turn(dxf.start_param, dxf.end_param)
    return conic(
        np.array([middle.x, middle.y]),
        np.array([major.x, major.y]),
        np.array([minor.x, minor.y]),
        dxf.start_param,
        dxf.start_param + turn,
    )


def conic(middle: FloatArray, u: FloatArray, v: FloatArray, start: float, end: float) -> tuple[Edges, bool]:
    """Return the arc middle + u cos t + v sin t for t from `start` to `end`; u and v need not be at right angles."""
    size = max(float(u @ u), float(v @ v))
    area = float(u[0] * v[1] - u[1] * v[0])
    if not size > 0:
        raise NotUsableError("no size")
    if abs(area) < 1e-9 * size:
        raise NotUsableError("seen edge-on")
    closed = end - start > FULL_TURN - 1e-9

    def place(t: FloatArray) -> tuple[PointArray, PointArray]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return middle + u * cos + v * sin, v * cos - u * sin

    if abs(u @ v) <= 1e-9 * size and abs(u @ u - v @ v) <= 1e-9 * size:
        n_parts = 2 if end - start > math.pi + 1e-9 else 1  # bulges of wide arcs are large and lose digits
        points = (
            np.array([middle + u, middle - u, middle + u]) if closed else place(np.linspace(start, end, n_parts + 1))[0]
        )
        bulge = math.copysign(1.0 if closed else math.tan((end - start) / n_parts / 4), area)
        edges = Edges(points[:-1], points[1:], np.full(n_parts, bulge))
    else:
        # Cut where the curve is flattest and tightest, so that the arcs come out as symmetrical as the ellipse.
        first = math.atan2(2 * float(u @ v), float(u @ u - v @ v)) / 2
        quarter = math.pi / 2
        cuts = first + quarter * np.arange(
            math.floor((start - first) / quarter), math.ceil((end - first) / quarter) + 1
        )
        outlying = place(np.linspace(start, end, 9))[0]
        require_in_reach(outlying)
        inside = cuts[(cuts > start + 1e-9) & (cuts < end - 1e-9)]
        edges = edges_along(place, np.concatenate([[start], inside, [end]]), _tolerance_mm(outlying))
    return (_closing_exactly(edges) if closed else edges), closed


def _tolerance_mm(points: PointArray) -> float:
    """Return how far arcs may be from a curve; more for what is larger than any housing, to bound their number."""
    return max(CURVE_TOLERANCE_MM, 1e-7 * float(np.ptp(points, axis=0).max()))


def _closing_exactly(edges: Edges) -> Edges:
    return Edges(edges.starts_mm, np.roll(edges.starts_mm, -1, axis=0), edges.bulges)


def _lwpolyline(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    rows = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
    plane = _own_plane(entity, matrix, float(entity.dxf.elevation))
    return _bulged(rows[:, :2], rows[:, 2], entity.closed, plane)


def _polyline(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise NotUsableError("a surface")
    vertices = [v for v in entity.vertices if not v.dxf.flags & _SKIPPED_VERTEX]
    if entity.is_3d_polyline:
        places = matrix.transform_vertices([v.dxf.location for v in vertices])
        flat = np.array([(p.x, p.y) for p in places], dtype=np.float64).reshape(-1, 2)
        unmoved = Plane(np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 1.0]))
        return _bulged(flat, np.zeros(len(flat)), entity.is_closed, unmoved)
    rows = np.array([(*v.dxf.location.vec2, v.dxf.get("bulge", 0.0)) for v in vertices], dtype=np.float64).reshape(
        -1, 3
    )
    elevation = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
    return _bulged(rows[:, :2], rows[:, 2], entity.is_closed, _own_plane(entity, matrix, elevation))


def _bulged(flat: PointArray, bulges: FloatArray, closed: bool, plane: Plane) -> tuple[Edges, bool]:
    """Return the edges of a polyline; the last vertex' bulge counts only when it is closed."""
    if len(flat) < 2:
        raise NotUsableError("a single point")
    points = plane.points(flat)
    ends = np.roll(points, -1, axis=0)
    hand = plane.handedness
    edges = Edges(points, ends, bulges * (hand or 1.0))
    if not closed:
        edges = edges.taken(np.arange(len(flat) - 1))
    if hand == 0 and edges.bulges.any():
        edges = _squeezed(Edges(flat, np.roll(flat, -1, axis=0), bulges), edges, plane)
    edges = edges.taken(edges.chords_mm > 0)
    if len(edges) == 0:
        raise NotUsableError("no length")
    runs_back = bool((edges.ends_mm[-1] == edges.starts_mm[0]).all())
    return edges, runs_back and (len(edges) > 2 or bool(edges.bulges.any()))


def _squeezed(flat: Edges, straight: Edges, plane: Plane) -> Edges:
    """Return a polyline's edges where its plane is seen squeezed: arcs become parts of ellipses."""
    parts = []
    for k in range(len(straight)):
        if abs(straight.bulges[k]) * straight.chords_mm[k] < EXACT_MM:
            parts.append(straight.taken(np.array([k])))
            continue
        one = flat.taken(np.array([k]))
        centre, radius = one.centres_mm[0], float(one.radii_mm[0])
        dx, dy = one.starts_mm[0] - centre
        start, turn = math.atan2(dy, dx), 4 * math.atan(float(one.bulges[0]))
        begin, end = sorted((start, start + turn))
        arc, _ = conic(plane.points(centre[None])[0], radius * plane.across, radius * plane.up, begin, end)
        if turn < 0:
            arc = arc.reversed().taken(np.arange(len(arc))[::-1])
        arc.starts_mm[0], arc.ends_mm[-1] = straight.starts_mm[k], straight.ends_mm[k]
        parts.append(arc)
    return Edges.together(parts)


def _spline(entity: Any, matrix: Matrix44) -> tuple[Edges, bool]:
    tool = entity.construction_tool()
    poles_mm = np.array([(p.x, p.y) for p in matrix.transform_vertices(tool.control_points)], dtype=np.float64)
    require_in_reach(poles_mm)
    weights = np.array(tool.weights() or [1.0] * len(poles_mm), dtype=np.float64)
    spline = Spline(tool.order - 1, np.array(tool.knots(), dtype=np.float64), poles_mm, weights)
    edges = edges_along(spline.points_and_tangents, _breaks(spline), _tolerance_mm(poles_mm))
    closed = bool(np.hypot(*(edges.ends_mm[-1] - edges.starts_mm[0])) <= EXACT_MM)
    return (_closing_exactly(edges) if closed else edges), closed


def _breaks(spline: Spline) -> FloatArray:
    """Return the parameters of start, end, every kink, and of some knots between."""
    inside = np.unique(spline.knots[(spline.knots > spline.begin) & (spline.knots < spline.end)])
    some = inside[SPANS_AT_ONCE - 1 :: SPANS_AT_ONCE]
    return np.unique(np.concatenate([[spline.begin], some, spline.kinks(), [spline.end]]))


_READERS = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
CURVE_KINDS = frozenset(_READERS)
