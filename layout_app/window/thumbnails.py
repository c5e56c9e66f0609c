"""Thumbnails: small pictures of layouts and housings, painted like the canvas paints."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPixmap

from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment
from layout_app.window.colours import Theme
from layout_app.window.painting import ScenePainter
from layout_app.window.scene import Scene
from layout_app.window.view_transform import ViewTransform

LAYERS = frozenset({"housing", "cells", "metal"})
LEAST_CELL_PX = 5.0  # smaller ones are all rim and no tint: painted larger, then made smaller
MOST_FINER = 6


def thumbnail(
    layout: Layout,
    segments: Sequence[Segment],
    theme: Theme,
    width: int,
    height: int,
    ratio: float = 1.0,
    *,
    margin: float = 8,
) -> QPixmap:
    """Return a picture of the top face, `width` x `height` desktop pixels."""
    scene = Scene(layout=layout, segments=tuple(segments), layers=LAYERS)
    view = ViewTransform().resized(round(width * ratio), round(height * ratio))
    view = view.fitted(scene.bounds_mm(), margin_px=margin * ratio)
    cell_px = layout.cell_type.diameter_mm * view.px_per_mm / ratio
    finer = min(max(1, math.ceil(LEAST_CELL_PX / cell_px)), MOST_FINER)
    fine = replace(view, px_per_mm=view.px_per_mm * finer).resized(view.width_px * finer, view.height_px * finer)
    picture = QPixmap(fine.width_px, fine.height_px)
    painter = QPainter(picture)
    ScenePainter(theme, ratio * finer).paint(painter, fine, scene, QRectF(picture.rect()))
    painter.end()
    if finer > 1:
        size = QSize(view.width_px, view.height_px)
        smooth = Qt.TransformationMode.SmoothTransformation
        picture = picture.scaled(size, Qt.AspectRatioMode.IgnoreAspectRatio, smooth)
    picture.setDevicePixelRatio(ratio)
    return picture
