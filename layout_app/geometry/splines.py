"""B-splines, plain and rational: points and tangents at any parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, PointArray

MAX_DEGREE = 25  # drawings hold 1 to 5; more than this is a damaged number


@dataclass(frozen=True, slots=True, eq=False)
class Spline:
    """A B-spline curve in the plane.

    Attributes
    ----------
    degree : 1 or more
    knots : (n + degree + 1,) never falling
    poles_mm : (n, 2) control points
    weights : (n,) positive; all equal for a plain B-spline
    """

    degree: int
    knots: FloatArray
    poles_mm: PointArray
    weights: FloatArray

    def __post_init__(self) -> None:
        n = len(self.poles_mm)
        numbers = (self.knots, self.poles_mm, self.weights)
        if not 1 <= self.degree <= MAX_DEGREE or n <= self.degree or len(self.knots) != n + self.degree + 1:
            raise ValueError("degree, knots and control points do not fit together")
        if not all(np.isfinite(values).all() for values in numbers) or (np.diff(self.knots) < 0).any():
            raise ValueError("knots and control points must be finite, knots never falling")
        if len(self.weights) != n or not (self.weights > 0).all() or not self.begin < self.end:
            raise ValueError("weights must be positive, one for each control point, and the curve must have a length")

    @property
    def begin(self) -> float:
        """Parameter at the start."""
        return float(self.knots[self.degree])

    @property
    def end(self) -> float:
        """Parameter at the end."""
        return float(self.knots[len(self.poles_mm)])

    def kinks(self) -> FloatArray:
        """Return the inner parameters at which the curve may turn sharply: knots repeated `degree` times."""
        inside = self.knots[(self.knots > self.begin) & (self.knots < self.end)]
        values, counts = np.unique(inside, return_counts=True)
        return np.asarray(values[counts >= self.degree], dtype=np.float64)

    def points_and_tangents(self, t: FloatArray) -> tuple[PointArray, PointArray]:
        """Return (m, 2) points and (m, 2) derivatives by the parameter.

        Source: the derivative of a rational curve by the quotient rule; that of a B-spline by differences of its
        control points (Piegl and Tiller, The NURBS Book, 2nd ed. 1997, sections 3.3 and 4.3, from memory).
        """
        p = self.degree
        homogeneous = np.column_stack([self.poles_mm * self.weights[:, None], self.weights])
        width = (self.knots[p + 1 : -1] - self.knots[1 : -p - 1])[:, None]
        steps = np.where(width > 0, p * np.diff(homogeneous, axis=0) / np.where(width > 0, width, 1.0), 0.0)
        at = _de_boor(self.knots, homogeneous, p, t, self.end)
        slope = _de_boor(self.knots[1:-1], steps, p - 1, t, self.end)
        points = at[:, :2] / at[:, 2:]
        return points, (slope[:, :2] - points * slope[:, 2:]) / at[:, 2:]


def _de_boor(knots: FloatArray, poles: FloatArray, degree: int, t: FloatArray, end: float) -> FloatArray:
    """Return (m, k) values of a B-spline at m parameters: de Boor's algorithm (same book, section 2)."""
    last = int(np.searchsorted(knots, end, side="left")) - 1
    span = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, last)
    values = poles[span[:, None] + np.arange(-degree, 1)]
    for level in range(1, degree + 1):
        for j in range(degree, level - 1, -1):
            low = knots[span - degree + j]
            share = ((t - low) / (knots[span + j - level + 1] - low))[:, None]
            values[:, j] = (1 - share) * values[:, j - 1] + share * values[:, j]
    return np.asarray(values[:, degree], dtype=np.float64)
