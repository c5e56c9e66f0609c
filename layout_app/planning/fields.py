"""Fields over the cells: how far along the chain and how far across it each cell stands.

A chain that has to follow a bend, a U or the way round a pipe is swept along a field that does: the gentlest one that
the links between cells allow (Laplace's equation on the graph, links weighted by border / distance, which is the
finite-volume form of the equation in the sheet). Bands of such a field cross the channel from wall to wall.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.planning.links import Links

SOFT = 1e-7  # ties the free level of a field down; small beside every link
HARD = 1e6  # holds a cell at a given value; large beside every link
N_TURNS = 12  # of inverse iteration: each damps the next slower mode by their ratio, and a blend of two would do


def longer_side_rad(centres_mm: PointArray) -> float:
    """Return the direction from the middle to the end of the longer side where a chain begins by default.

    The sides are those of the least rectangle around the cells; of its two ends the left one is taken, the lower one
    if the rectangle stands upright.
    """
    import shapely

    box = shapely.oriented_envelope(shapely.multipoints(centres_mm))
    if box.geom_type != "Polygon":
        x, y = centres_mm[-1] - centres_mm[0] if len(centres_mm) > 1 else (1.0, 0.0)
    else:
        sides = np.diff(np.asarray(box.exterior.coords), axis=0)[:2]
        x, y = sides[np.argmax(np.round(np.hypot(*sides.T), 6))]
    angle = math.atan2(y, x) % math.pi  # 0…π; the way back points left or down
    angle = 0.0 if angle > math.pi * (1 - 1e-9) else angle
    return angle + math.pi if angle <= 3 * math.pi / 4 else angle


class Fields:
    """Fields over linked cells; factorised matrices are kept for the next one."""

    def __init__(self, links: Links) -> None:
        self.links = links
        apart = links.centres_mm[links.pairs[:, 1]] - links.centres_mm[links.pairs[:, 0]]
        self._apart_mm = apart
        self._weights = links.borders_mm / np.hypot(apart[:, 0], apart[:, 1])
        self._loose: Any = None

    def straight(self, towards_rad: float) -> tuple[FloatArray, FloatArray]:
        """Return distance from the starting edge and distance across, both in mm, along straight lines."""
        x, y = (self.links.centres_mm - self.links.centres_mm.mean(axis=0)).T
        cos, sin = math.cos(towards_rad), math.sin(towards_rad)
        return -(x * cos + y * sin), x * sin - y * cos

    def between(self, start: BoolArray) -> FloatArray:
        """Return the field that is 0 at the starting cells and 1 at those furthest from them by way of links."""
        from scipy.sparse.csgraph import dijkstra

        lengths = self.links.matrix(np.hypot(self._apart_mm[:, 0], self._apart_mm[:, 1]))
        away = dijkstra(lengths, indices=np.flatnonzero(start), min_only=True)
        finish = away >= away[np.isfinite(away)].max() - 0.75 * self.links.pitch_mm
        held = np.where(start | finish, HARD, SOFT * 1e-3)
        return np.asarray(self._factorised(held).solve(np.where(finish & ~start, HARD, 0.0)), dtype=np.float64)

    def slowest(self, start_rad: float) -> FloatArray:
        """Return the slowest mode of the graph (its Fiedler vector): from one end of the shape to the other.

        It is lowest at the end that lies towards `start_rad`.
        """
        field, _ = self.straight(start_rad)
        for _ in range(N_TURNS):
            field = self._solve_loose(field - field.mean())
            field = field / np.abs(field).max()
        centres = self.links.centres_mm
        low, high = (centres[np.argsort(field * sign)[: max(1, len(field) // 50)]].mean(axis=0) for sign in (1, -1))
        forward = (high - low) @ (math.cos(start_rad), math.sin(start_rad)) <= 0
        return np.asarray(field if forward else -field, dtype=np.float64)

    def across(self, along: FloatArray) -> FloatArray:
        """Return the field whose slope is that of `along` turned a quarter left: distance across the channel."""
        i, j = self.links.pairs.T
        n = self.links.n_cells
        slope = self._slopes(along)
        size = np.maximum(np.hypot(slope[:, 0], slope[:, 1]), 1e-30)
        turned = np.column_stack([-slope[:, 1], slope[:, 0]]) / size[:, None]
        step = self._weights * (((turned[i] + turned[j]) / 2) * self._apart_mm).sum(axis=1)
        return self._solve_loose((np.bincount(j, step, n) - np.bincount(i, step, n)).astype(np.float64))

    def _slopes(self, field: FloatArray) -> FloatArray:
        """Return (n, 2) slopes of a field, fitted to each cell's neighbours by least squares."""
        i, j = self.links.pairs.T
        n = self.links.n_cells
        x, y = self._apart_mm.T
        rise = field[j] - field[i]

        def over_both_ends(values: FloatArray) -> FloatArray:
            return (np.bincount(i, values, n) + np.bincount(j, values, n)).astype(np.float64)

        w = self._weights
        xx, xy, yy = (over_both_ends(w * value) for value in (x * x, x * y, y * y))
        bx, by = over_both_ends(w * rise * x), over_both_ends(w * rise * y)
        stiff = 1e-6 * (xx + yy) + 1e-30  # a cell whose neighbours lie on one line has no slope across it
        xx, yy = xx + stiff, yy + stiff
        return np.column_stack([yy * bx - xy * by, xx * by - xy * bx]) / (xx * yy - xy * xy)[:, None]

    def _solve_loose(self, load: FloatArray) -> FloatArray:
        if self._loose is None:
            self._loose = self._factorised(np.full(self.links.n_cells, SOFT))
        return np.asarray(self._loose.solve(load - load.mean()), dtype=np.float64)

    def _factorised(self, held: FloatArray) -> Any:
        from scipy.sparse import diags_array
        from scipy.sparse.linalg import splu

        weights = self.links.matrix(self._weights)
        laplacian = diags_array(weights.sum(axis=1) + held) - weights
        return splu(laplacian.tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
