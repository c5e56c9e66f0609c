"""Stream lines as paths to be drawn: a few of them from far away, all of them near by, heads where there is room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath, QPolygonF

from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.physics.stream_lines import StreamLines

THIN_MM = 0.02  # lines keep to this while points are left out; far below half the clearance to the metal's edge
N_LEVELS = 5  # every 16th line is on the first, every 8th besides on the second, and so on
APART_PX = 12.0  # lines nearer to each other than this are a grey area


@dataclass(frozen=True, slots=True, eq=False)
class SegmentLines:
    """The lines of one segment.

    Attributes
    ----------
    levels : paths in layout millimetres, each with the lines that come in when there is twice the room
    heads_mm, ways_rad : (l, 2) and (l,) arrays: the middle of each line and its direction there, in order of levels
    n_on_levels : how many lines are on each level
    spacing_mm : how far lines lie apart, about, when all are drawn
    """

    levels: tuple[QPainterPath, ...]
    heads_mm: PointArray
    ways_rad: FloatArray
    n_on_levels: tuple[int, ...]
    spacing_mm: float
    bounds_mm: QRectF

    def n_levels(self, px_per_mm: float, ratio: float) -> int:
        """Return how many levels there is room for; none when even the fewest lines would be a grey area."""
        room = self.spacing_mm * px_per_mm / (APART_PX * ratio)
        return int(np.clip(N_LEVELS + np.floor(np.log2(max(room, 1e-9))), 0, N_LEVELS))


def segment_lines(lines: StreamLines, area_mm2: float) -> SegmentLines | None:
    """Return the lines of a segment as paths; None when there are none."""
    import shapely

    if len(lines) == 0:
        return None
    shapes = lines.shapes(THIN_MM)
    lengths = shapely.length(shapes)
    order = _levels(len(lines))
    paths, heads, ways = [], [], []
    for numbers in order:
        path = QPainterPath()
        for k in numbers:
            points = shapely.get_coordinates(shapes[k])
            path.addPolygon(QPolygonF([QPointF(x, y) for x, y in points.tolist()]))
            middle, way = _middle(points)
            heads.append(middle)
            ways.append(way)
        paths.append(path)
    box = QRectF()
    for path in paths:
        box = box.united(path.boundingRect())
    spacing = area_mm2 / max(float(lengths.sum()), 1e-9)
    return SegmentLines(
        tuple(paths), np.array(heads).reshape(-1, 2), np.array(ways), tuple(map(len, order)), spacing, box
    )


def _levels(n: int) -> list[list[int]]:
    """Return the numbers 0…n-1 in levels: every 16th, then what makes it every 8th, and so on."""
    levels, taken = [], set()
    for level in range(N_LEVELS):
        step = 2 ** (N_LEVELS - 1 - level)
        fresh = [k for k in range(step // 2, n, step) if k not in taken] if step < n else []
        fresh = [k for k in range(n) if k not in taken] if step == 1 else fresh
        taken.update(fresh)
        levels.append(fresh)
    return levels


def _middle(points: PointArray) -> tuple[PointArray, float]:
    """Return the middle of a line and its direction there."""
    steps = np.diff(points, axis=0)
    along = np.cumsum(np.hypot(*steps.T))
    k = int(np.searchsorted(along, along[-1] / 2))
    k = min(k, len(steps) - 1)
    return (points[k] + points[k + 1]) / 2, float(np.arctan2(steps[k, 1], steps[k, 0]))
