"""Sites: the place of a lattice nearest to a point, and the steps that lead from site to site."""

from __future__ import annotations

import math

import numpy as np

from layout_app.geometry.arrays import PointArray, rotation
from layout_app.model.lattices import Lattice

STRAIGHT_RAD = math.radians(22.5)  # a step is taken for an arrow's direction when it leads off by no more


def nearest_sites_mm(lattice: Lattice, points_mm: PointArray) -> PointArray:
    """Return the (n, 2) sites of an unbounded lattice nearest to (n, 2) points."""
    points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
    along, across = ((points - lattice.origin_mm) @ rotation(lattice.angle_rad)).T
    below = np.floor(across / lattice.row_mm)
    choices = []
    for row in (below, below + 1):
        shift = np.mod(row, 2) / 2 if lattice.is_staggered else 0.0
        choices.append(lattice.points_mm(row, np.round(along / lattice.along_mm - shift)))
    away = [np.hypot(*(choice - points).T) for choice in choices]
    return np.where((away[0] <= away[1])[:, None], choices[0], choices[1])


def site_step_mm(lattice: Lattice, towards_rad: float) -> tuple[float, float]:
    """Return the shortest step from site to site that leads within 22.5° of a direction, the straightest of such.

    In a hexagonal lattice that is the pitch along the rows and two rows across them.
    """
    half = 0.5 if lattice.is_staggered else 0.0
    steps = [
        ((column + half * (row % 2)) * lattice.along_mm, row * lattice.row_mm)
        for row in range(-2, 3)
        for column in range(-2, 3)
        if (row, column) != (0, 0)
    ]
    local = towards_rad - lattice.angle_rad
    best = min(steps, key=lambda step: _merit(step, local))
    dx, dy = (rotation(lattice.angle_rad) @ best).tolist()
    return dx, dy


def _merit(step: tuple[float, float], towards_rad: float) -> tuple[bool, float, float]:
    off = abs(math.remainder(math.atan2(step[1], step[0]) - towards_rad, 2 * math.pi))
    return off > STRAIGHT_RAD + 1e-9, round(math.hypot(*step), 6), off
