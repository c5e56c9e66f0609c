"""Paints stream lines over metal: as many as there is room for, with heads that tell the direction of the current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QPen, QPolygonF

from layout_app.window.maps.scene_map import FADED
from layout_app.window.sprites import in_view

if TYPE_CHECKING:
    from layout_app.window.layer_painting import Layers
    from layout_app.window.maps.scene_lines import SegmentLines

HEAD_PX = 7.0
HEADS_FROM_MM_PX = 2.0  # pixels a millimetre has from which heads have room
DARK, LIGHT = QColor("#0a2a3c"), QColor(255, 255, 255, 225)
UNDER_LIGHT = QColor(10, 20, 30, 130)  # light lines on a map that begins dark and ends light
MOST_HALOED = 400  # lines in one segment; a second pass over more would cost a frame


def paint_lines(frame: Layers) -> None:
    """Paint the lines of all segments in view, those of the far face last and thin."""
    scene = frame.scene
    frame.painter.setOpacity(FADED if scene.map.is_before else 1.0)
    to_screen = frame.view.q_transform()
    for segment in scene.segments:
        lines = scene.map.lines.get(segment.number)
        if lines is None or segment.face not in scene.faces:
            continue
        if to_screen.mapRect(lines.bounds_mm).intersects(frame.area):
            _segment(frame, lines, is_far=segment.face != scene.faces[-1])
    frame.painter.setOpacity(1.0)


def _segment(frame: Layers, lines: SegmentLines, is_far: bool) -> None:
    n_levels = lines.n_levels(frame.view.px_per_mm, frame.ratio)
    n_lines = sum(lines.n_on_levels[:n_levels])
    frame.painter.setWorldTransform(frame.view.q_transform())
    frame.painter.setBrush(QColor(0, 0, 0, 0))
    pens = [_pen(_ink(frame), 1.0 if is_far else 1.2, frame.ratio)]
    if _ink(frame) == LIGHT and n_lines <= MOST_HALOED and not is_far:
        pens.insert(0, _pen(UNDER_LIGHT, 2.6, frame.ratio))
    for pen in pens:
        frame.painter.setPen(pen)
        for path in lines.levels[:n_levels]:
            frame.painter.drawPath(path)
    frame.painter.resetTransform()
    if not is_far and frame.view.px_per_mm / frame.ratio >= HEADS_FROM_MM_PX:
        _heads(frame, lines, n_lines)


def _ink(frame: Layers) -> QColor:
    """Return the colour that reads on the map: light on the one that begins dark, and on dark floors."""
    kind = frame.scene.map.kind
    is_dark = frame.theme.is_dark if kind is None else kind.colours == "sequential" and not kind.is_of_cells
    return LIGHT if is_dark else DARK


def _pen(colour: QColor, width: float, ratio: float) -> QPen:
    pen = QPen(colour, width * ratio)
    pen.setCosmetic(True)
    return pen


def _heads(frame: Layers, lines: SegmentLines, n_lines: int) -> None:
    places_mm = lines.heads_mm[:n_lines]
    seen = in_view(places_mm, frame.bounds_mm, HEAD_PX * frame.ratio / frame.view.px_per_mm)
    ways = lines.ways_rad[seen]
    across = -1.0 if frame.view.is_mirrored else 1.0
    length = HEAD_PX * frame.ratio * (-1.0 if frame.scene.map.flows_back else 1.0)
    forward = np.column_stack([across * np.cos(ways), -np.sin(ways)]) * length
    aside = np.column_stack([-forward[:, 1], forward[:, 0]]) * 0.42
    tips = frame.view.to_screen(places_mm[seen]) + forward / 2
    frame.painter.setPen(_pen(UNDER_LIGHT if _ink(frame) == LIGHT else LIGHT, 1.0, frame.ratio))
    frame.painter.setBrush(_ink(frame))
    for tip, back, side in zip(tips, forward, aside, strict=True):
        corners = (tip, tip - back + side, tip - back - side)
        frame.painter.drawPolygon(QPolygonF([QPointF(*corner.tolist()) for corner in corners]))
