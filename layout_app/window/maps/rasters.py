"""Rasters: values over triangles as pixels, in bounded pieces, for maps that are drawn as pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray, PointArray

AT_ONCE = 1_000_000  # pixels tried together: about a hundred megabytes of working room
GROWN_PX = 2  # pixels added round the triangles, which cut arcs short; the metal's true edge cuts off what is too much
NEAR = 1e-9  # of a triangle's area: its edge belongs to it
AROUND = tuple((dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx)


@dataclass(frozen=True, slots=True)
class Frame:
    """Where pixels lie: row 0 at the top, the left edge of column 0 at `x_mm`, the upper edge of row 0 at `y_mm`."""

    x_mm: float
    y_mm: float
    px_per_mm: float
    n_rows: int
    n_columns: int

    @classmethod
    def around(cls, bounds_mm: tuple[float, float, float, float], px_per_mm: float) -> Frame:
        """Return the frame that covers a rectangle (x min, y min, x max, y max) and a little more."""
        x0, y0, x1, y1 = bounds_mm
        edge = (GROWN_PX + 1) / px_per_mm
        columns, rows = (int(np.ceil((length + 2 * edge) * px_per_mm)) for length in (x1 - x0, y1 - y0))
        return cls(x0 - edge, y1 + edge, px_per_mm, rows, columns)

    def pixels(self, points_mm: PointArray) -> PointArray:
        """Return (n, 2) column and row, pixel centres at whole numbers."""
        x, y = (points_mm[:, 0] - self.x_mm) * self.px_per_mm, (self.y_mm - points_mm[:, 1]) * self.px_per_mm
        return np.column_stack([x, y]) - 0.5


def scale_for(area_mm2: float, n_pixels: int, most_px_per_mm: float) -> float:
    """Return how many pixels a millimetre may have so that an area does not take more than `n_pixels`."""
    return float(min(np.sqrt(n_pixels / max(area_mm2, 1e-9)), most_px_per_mm))


def draw(picture: FloatArray, frame: Frame, points_mm: PointArray, triangles: IntArray, corners: FloatArray) -> None:
    """Write values into a picture wherever a pixel's centre lies in a triangle.

    Parameters
    ----------
    picture : (rows, columns) float32 array, changed in place
    corners : (t, 3) values at the triangles' corners, linear between
    """
    places = frame.pixels(points_mm)
    low = np.ceil(places[triangles].min(axis=1) - NEAR).astype(np.int64)
    high = np.floor(places[triangles].max(axis=1) + NEAR).astype(np.int64)
    low = np.maximum(low, 0)
    high = np.minimum(high, (frame.n_columns - 1, frame.n_rows - 1))
    size = np.maximum(high - low + 1, 0)
    n_tried = size.prod(axis=1)
    touched = np.flatnonzero(n_tried)
    pieces = np.cumsum(n_tried[touched]) // AT_ONCE
    for piece in np.split(touched, np.flatnonzero(np.diff(pieces)) + 1) if len(touched) else ():
        _draw_some(picture, places[triangles[piece]], low[piece], size[piece, 0], n_tried[piece], corners[piece])


def _draw_some(
    picture: FloatArray, corner: FloatArray, low: IntArray, width: IntArray, n_tried: IntArray, values: FloatArray
) -> None:
    which = np.repeat(np.arange(len(n_tried)), n_tried)
    within = np.arange(len(which)) - np.repeat(np.cumsum(n_tried) - n_tried, n_tried)
    row, column = np.divmod(within, width[which])
    x, y = low[which, 0] + column, low[which, 1] + row
    (ax, ay), (bx, by), (cx, cy) = (corner[:, k].T for k in range(3))
    area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    area = np.where(area == 0, np.inf, area)
    b = ((x - ax[which]) * (cy - ay)[which] - (cx - ax)[which] * (y - ay[which])) / area[which]
    c = ((bx - ax)[which] * (y - ay[which]) - (x - ax[which]) * (by - ay)[which]) / area[which]
    inside = (b >= -NEAR) & (c >= -NEAR) & (b + c <= 1 + NEAR)
    which, b, c = which[inside], b[inside], c[inside]
    first, second, third = values[which].T
    picture[y[inside], x[inside]] = first + b * (second - first) + c * (third - first)


def grown(picture: FloatArray, n_steps: int = GROWN_PX) -> FloatArray:
    """Return a picture whose pixels that are NaN beside others take the mean of those, so many steps outwards."""
    for _ in range(n_steps):
        padded = np.pad(picture, 1, constant_values=np.nan)
        rows, columns = np.nonzero(np.isnan(picture) & _beside(~np.isnan(padded)))
        beside = np.stack([padded[rows + 1 + dy, columns + 1 + dx] for dy, dx in AROUND])
        picture = picture.copy()
        picture[rows, columns] = np.nanmean(beside, axis=0) if len(rows) else ()
    return picture


def _beside(known: np.ndarray) -> np.ndarray:
    """Return which pixels have a known one beside them, of a padded picture."""
    found = np.zeros((known.shape[0] - 2, known.shape[1] - 2), dtype=bool)
    for dy, dx in AROUND:
        found |= known[1 + dy : known.shape[0] - 1 + dy, 1 + dx : known.shape[1] - 1 + dx]
    return found
