"""ViewTransform: where a point of the layout is on the screen, and back."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from PySide6.QtGui import QTransform

from layout_app.geometry.arrays import PointArray

LEAST_PX_PER_MM, MOST_PX_PER_MM = 0.005, 400.0


@dataclass(frozen=True, slots=True)
class ViewTransform:
    """Layout millimetres (y up) to device pixels (y down); mirrored about a vertical line when seen from below."""

    width_px: int = 800
    height_px: int = 600
    px_per_mm: float = 1.0
    x_mm: float = 0.0  # what lies in the middle of the screen
    y_mm: float = 0.0
    is_mirrored: bool = False

    @property
    def _x_scale(self) -> float:
        return -self.px_per_mm if self.is_mirrored else self.px_per_mm

    def to_screen(self, points_mm: PointArray) -> PointArray:
        """Return (n, 2) device pixels of (n, 2) layout points."""
        offset = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) - (self.x_mm, self.y_mm)
        return offset * (self._x_scale, -self.px_per_mm) + (self.width_px / 2, self.height_px / 2)

    def to_layout(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Return the layout point, mm, under a device pixel."""
        return (
            self.x_mm + (x_px - self.width_px / 2) / self._x_scale,
            self.y_mm - (y_px - self.height_px / 2) / self.px_per_mm,
        )

    def q_transform(self) -> QTransform:
        """Return the transform that draws layout paths."""
        x, y = self.to_screen(np.zeros((1, 2)))[0].tolist()
        return QTransform(self._x_scale, 0, 0, -self.px_per_mm, x, y)

    def panned(self, dx_px: float, dy_px: float) -> ViewTransform:
        """Return the view with the content moved by that many pixels."""
        return replace(self, x_mm=self.x_mm - dx_px / self._x_scale, y_mm=self.y_mm + dy_px / self.px_per_mm)

    def zoomed(self, factor: float, x_px: float, y_px: float) -> ViewTransform:
        """Return the view enlarged by `factor`, the point under the given pixel staying where it is."""
        scale = min(max(self.px_per_mm * factor, LEAST_PX_PER_MM), MOST_PX_PER_MM)
        x_mm, y_mm = self.to_layout(x_px, y_px)
        fresh = replace(self, px_per_mm=scale, x_mm=x_mm, y_mm=y_mm)
        return fresh.panned(x_px - self.width_px / 2, y_px - self.height_px / 2)

    def resized(self, width_px: int, height_px: int) -> ViewTransform:
        """Return the view of a screen of another size, with the same middle and scale."""
        return replace(self, width_px=max(width_px, 1), height_px=max(height_px, 1))

    def mirrored(self, is_mirrored: bool) -> ViewTransform:
        """Return the view from above or from below, with the same middle."""
        return replace(self, is_mirrored=is_mirrored)

    def fitted(
        self, bounds_mm: tuple[float, float, float, float], margin_px: float = 48.0, top_left_px: float = 0.0
    ) -> ViewTransform:
        """Return the view that shows the whole of a rectangle, keeping `top_left_px` free for rulers."""
        x0, y0, x1, y1 = bounds_mm
        free_x = max(self.width_px - top_left_px - 2 * margin_px, 20)
        free_y = max(self.height_px - top_left_px - 2 * margin_px, 20)
        scale = min(free_x / max(x1 - x0, 1e-6), free_y / max(y1 - y0, 1e-6))
        scale = min(max(scale, LEAST_PX_PER_MM), MOST_PX_PER_MM)
        centred = replace(self, px_per_mm=scale, x_mm=(x0 + x1) / 2, y_mm=(y0 + y1) / 2)
        return centred.panned(top_left_px / 2, top_left_px / 2)

    def visible_mm(self, margin_px: float = 0.0) -> tuple[float, float, float, float]:
        """Return x min, y min, x max, y max of what is on the screen, mm."""
        xs, ys = zip(
            self.to_layout(-margin_px, -margin_px),
            self.to_layout(self.width_px + margin_px, self.height_px + margin_px),
            strict=True,
        )
        return min(xs), min(ys), max(xs), max(ys)
