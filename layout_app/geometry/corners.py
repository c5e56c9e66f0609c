"""Corners: vertices put into a loop and taken out of it, arcs kept exact."""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.geometry.edges import Edges

SAME = 1e-9  # of the size of a loop: centres and radii that differ by less are those of one arc


def edges_of(contour: Contour) -> Edges:
    """Return the edges of a loop, in order."""
    return Edges(contour.vertices_mm, contour.ends_mm, contour.bulges)


def nearest_edge(contour: Contour, place_mm: tuple[float, float]) -> tuple[int, float, float]:
    """Return the edge a point is nearest to, the fraction 0…1 of its length where, and how far away that is, mm.

    >>> nearest_edge(Contour.rectangle(4.0, 3.0), (1.0, -2.0))
    (0, 0.25, 2.0)
    """
    edges, place = edges_of(contour), np.asarray(place_mm, dtype=np.float64)
    fractions = edges.nearest_fractions(np.broadcast_to(place, (len(edges), 2)))
    away_mm = np.hypot(*(edges.points_at(fractions) - place).T)
    edge = int(away_mm.argmin())
    return edge, float(fractions[edge]), float(away_mm[edge])


def with_corner(
    contour: Contour, edge: int, fraction: float = 0.5, to_mm: tuple[float, float] | None = None
) -> Contour:
    """Return a loop with one more vertex, on an edge at a fraction of its length; it becomes vertex `edge` + 1.

    The shape stays: an arc becomes two arcs of the same circle. With `to_mm` the new vertex is pulled to a point, and
    the two arcs keep their included angles.

    >>> with_corner(Contour.rectangle(4.0, 3.0), 0, 0.25).vertices_mm[:3].tolist()
    [[0.0, 0.0], [1.0, 0.0], [4.0, 0.0]]
    """
    halves = edges_of(contour).taken(np.array([edge, edge])).part(np.array([0.0, fraction]), np.array([fraction, 1.0]))
    corner = halves.ends_mm[0] if to_mm is None else np.asarray(to_mm, dtype=np.float64)
    vertices = np.insert(contour.vertices_mm, edge + 1, corner, axis=0)
    bulges = np.insert(contour.bulges, edge + 1, halves.bulges[1])
    bulges[edge] = halves.bulges[0]
    return Contour(vertices, bulges)


def without_corner(contour: Contour, corner: int) -> Contour:
    """Return a loop without one of its vertices; the loop must have more than two.

    Two arcs of one circle become one arc; any other two edges become one straight edge.
    """
    before = (corner - 1) % len(contour.bulges)
    bulges = contour.bulges.copy()
    bulges[before] = _joined_bulge(contour, before, corner)
    return Contour(np.delete(contour.vertices_mm, corner, axis=0), np.delete(bulges, corner))


def _joined_bulge(contour: Contour, one: int, other: int) -> float:
    """Return the bulge of the edge in place of two that follow one another."""
    size = SAME * max(1.0, float(np.abs(contour.vertices_mm).max()))
    b, c = contour.bulges[[one, other]].tolist()
    if b * c <= 0:
        return 0.0
    centres, radii = contour.arc_centres_mm, contour.arc_radii_mm
    is_one_circle = math.dist(centres[one], centres[other]) <= size and abs(radii[one] - radii[other]) <= size
    return math.tan(math.atan(b) + math.atan(c)) if is_one_circle else 0.0
