"""Ladders: the closed forms of a row of cells between two rails, and the same row as a layout.

Source: trade.md section 1a, derived there; N cells of resistance R_c, steps r_t and r_b of the two rails,
rho = (r_t + r_b) / R_c.
"""

import math

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model.plates import Terminal
from tests.plates.modules import module

PITCH_MM = 22.5
HALF_MM = 12.0  # from the row to the wall


def same_end(n, rho):
    """Shares of n cells, mean 1, both terminals beside the first."""
    half = math.asinh(math.sqrt(rho) / 2)
    k = np.arange(1, n + 1)
    return n * 2 * math.sinh(half) * np.cosh((n - k + 0.5) * 2 * half) / math.sinh(2 * n * half)


def either_end(n, rho, f):
    """Shares of n cells, mean 1, one terminal at either end, f = r_b / (r_t + r_b)."""
    half = math.asinh(math.sqrt(rho) / 2)
    k = np.arange(1, n + 1)
    near, far = np.cosh((n - k + 0.5) * 2 * half), np.cosh((k - 0.5) * 2 * half)
    return n * 2 * math.sinh(half) / math.sinh(2 * n * half) * ((1 - f) * near + f * far)


def rho_of(n, end_over_end):
    """The rho of a ladder fed at one end whose first cell carries so many times what the last does."""
    from scipy.optimize import brentq

    return brentq(lambda rho: same_end(n, rho)[0] / same_end(n, rho)[-1] - end_over_end, 1e-9, 1.0)


def tab(*places_x_mm):
    """A terminal with narrow tabs at the given places along the row."""
    first, *more = ((x, -HALF_MM) for x in places_x_mm)
    return Terminal(near_mm=first, more_near_mm=tuple(more), width_mm=10.0, bolt="M4")


def row(n, thickness_mm, negative, positive):
    """A group of n cells in a row in a housing just wide enough: its two segments are the rails."""
    x = np.arange(n) * PITCH_MM
    outline = Contour.rectangle((n - 1) * PITCH_MM + 2 * HALF_MM, 2 * HALF_MM).moved(-HALF_MM, -HALF_MM)
    centres = np.column_stack([x, np.zeros(n)])
    return module(centres, np.ones(n, dtype=int), outline, terminals=(negative, positive), thickness_mm=thickness_mm)
