"""What lies where: cells near a point, metal under it."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF

from layout_app.geometry.arrays import FloatArray
from layout_app.window.metal_paths import MetalPath


def segment_at(paths: tuple[MetalPath, ...], x_mm: float, y_mm: float) -> int | None:
    """Return the number of the first segment whose metal or windows lie under a point, or None."""
    for path in paths:
        if path.bounds_mm.contains(x_mm, y_mm) and path.solid.contains(QPointF(x_mm, y_mm)):
            return path.segment.number
    return None


def indices_near(centres_mm: FloatArray, x_mm: float, y_mm: float, reach_mm: float) -> list[int]:
    """Return the cells whose centre is within reach of a point, nearest first."""
    if not len(centres_mm):
        return []
    distance = np.hypot(centres_mm[:, 0] - x_mm, centres_mm[:, 1] - y_mm)
    near = np.flatnonzero(distance <= reach_mm)
    return near[np.argsort(distance[near], kind="stable")].tolist()
