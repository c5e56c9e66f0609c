"""Labels: places for short words beside points, so that no two of them, nor a word and a point, lie on each other."""

from __future__ import annotations

import numpy as np

from layout_app.geometry.arrays import FloatArray

N_DIRECTIONS, N_RINGS = 16, 6


def label_centres(points: FloatArray, size: tuple[float, float], mark: float, within: FloatArray) -> FloatArray:
    """Return (n, 2) where the centre of each point's label may lie.

    Each label in turn takes the nearest free place that is nearer to its own point than to any other; where there is
    none, the one that does least harm.

    Parameters
    ----------
    points : (n, 2) float array
    size : width and height of every label
    mark : width and height of what is drawn at the points
    within : x, y of the lower left and the upper right corner that labels stay between
    """
    half = np.array(size) / 2
    centres: list[FloatArray] = []
    for point in points:
        tried = np.clip(point + _offsets(half, mark), within[:2] + half, within[2:] - half)
        covered = _covered(tried, half, points, np.full(2, mark / 2))
        if centres:
            covered += _covered(tried, half, np.array(centres), half)
        covered += _strays(tried, point, points) * size[0] * size[1]
        centres.append(tried[int(covered.argmin())])  # the first of equals is the nearest
    return np.array(centres).reshape(-1, 2)


def _offsets(half: FloatArray, mark: float) -> FloatArray:
    """Return places around a point, ring by ring, in each from the upper right around."""
    angle = np.pi / 4 + np.arange(N_DIRECTIONS) * 2 * np.pi / N_DIRECTIONS
    direction = np.column_stack([np.cos(angle), np.sin(angle)])
    to_edge = (half + mark / 2)[None, :] / np.maximum(np.abs(direction), 1e-9)
    reach = to_edge.min(axis=1)[:, None] * 1.02
    return np.vstack([direction * (reach + ring * half.max()) for ring in range(N_RINGS)])


def _covered(centres: FloatArray, half: FloatArray, others: FloatArray, other_half: FloatArray) -> FloatArray:
    """Return (m,) the area each box around `centres` shares with all boxes around `others`."""
    apart = np.abs(centres[:, None, :] - others[None, :, :])
    shared = np.clip(half + other_half - apart, 0, 2 * np.minimum(half, other_half))
    return np.asarray(shared.prod(axis=2).sum(axis=1), dtype=np.float64)


def _strays(centres: FloatArray, point: FloatArray, points: FloatArray) -> FloatArray:
    """Return (m,): 1 for each place that is nearer to another point than to its own, else 0."""
    own = np.hypot(*(centres - point).T)
    nearest = np.hypot(*(centres[:, None, :] - points[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    return np.asarray(nearest < own - 1e-9, dtype=np.float64)
