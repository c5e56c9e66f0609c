"""Thumbnails: small pictures of layouts and housings, painted like the canvas paints."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPixmap

from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment
from layout_app.window.colours import Theme
from layout_app.window.painting import ScenePainter
from layout_app.window.scene import Scene
from layout_app.window.view_transform import ViewTransform

LAYERS = frozenset({"housing", "cells", "metal"})


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
    picture = QPixmap(view.width_px, view.height_px)
    painter = QPainter(picture)
    ScenePainter(theme, ratio).paint(painter, view, scene, QRectF(picture.rect()))
    painter.end()
    picture.setDevicePixelRatio(ratio)
    return picture
