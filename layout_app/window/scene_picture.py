"""ScenePicture: the scene as painted last, in device pixels, brought up to date with as little painting as will do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPoint, QPointF, QRect, QRectF
from PySide6.QtGui import QFont, QPainter, QPixmap, QRegion

from layout_app.window.painting import ScenePainter
from layout_app.window.scene import Scene
from layout_app.window.view_transform import ViewTransform

MOST_PIECES = 6  # more small pieces cost more than the one rectangle around them
MOST_BOXES = 100  # cells told apart when finding out what to paint
LINE_PX = 3  # lines reach so far beyond what they belong to


class ScenePicture:
    """Panning shifts the picture and paints the strips that come into view; a new scene repaints what differs."""

    def __init__(self) -> None:
        self._pixmap: QPixmap | None = None
        self._view = ViewTransform()  # of the picture as it is
        self._dirty = QRegion()

    def forget(self) -> None:
        """Paint everything the next time."""
        self._pixmap = None

    def scene_changed(self, painter: ScenePainter, old: Scene, new: Scene) -> None:
        """Note where two scenes differ."""
        if self._pixmap is None or not _differ_in_parts(old, new):
            self.forget()
        else:
            self._dirty += _changed_region(painter, self._view, old, new)

    def up_to_date(self, scene_painter: ScenePainter, view: ViewTransform, scene: Scene, font: QFont) -> QPixmap:
        """Return the picture of a scene in a view, with the device pixel ratio of the screen set."""
        shift = None if self._pixmap is None else _whole_pixel_shift(self._view, view)
        if shift is None:
            self._pixmap = QPixmap(view.width_px, view.height_px)
            self._dirty = QRegion(self._pixmap.rect())
        self._pixmap.setDevicePixelRatio(1.0)  # shifted and painted in device pixels
        if shift:
            exposed = QRegion()
            self._pixmap.scroll(shift.x(), shift.y(), self._pixmap.rect(), exposed)
            self._dirty.translate(shift)
            self._dirty += exposed
        self._view = view
        self._paint_dirty(scene_painter, scene, font)
        self._pixmap.setDevicePixelRatio(scene_painter.ratio)
        return self._pixmap

    def _paint_dirty(self, scene_painter: ScenePainter, scene: Scene, font: QFont) -> None:
        dirty, self._dirty = self._dirty & self._pixmap.rect(), QRegion()
        if dirty.isEmpty():
            return
        if dirty.rectCount() > MOST_PIECES:
            dirty = QRegion(dirty.boundingRect())
        painter = QPainter(self._pixmap)
        try:
            painter.setFont(font)
            for rect in dirty:
                scene_painter.paint(painter, self._view, scene, QRectF(rect))
        finally:
            painter.end()


def _whole_pixel_shift(old: ViewTransform, new: ViewTransform) -> QPoint | None:
    """How far a picture must be moved to fit another view, or None when moving does not do it."""
    if replace(old, x_mm=new.x_mm, y_mm=new.y_mm) != new:
        return None
    dx, dy = (new.to_screen(np.array([[old.x_mm, old.y_mm]]))[0] - (new.width_px / 2, new.height_px / 2)).tolist()
    if max(abs(dx - round(dx)), abs(dy - round(dy))) > 1e-3:
        return None
    return QPoint(round(dx), round(dy))


def _differ_in_parts(old: Scene, new: Scene) -> bool:
    """Whether the two scenes can differ only in groups and segments, so that most of the picture still holds."""
    a, b = old.layout, new.layout
    same_view = (old.side, old.layers, old.is_stale) == (new.side, new.layers, new.is_stale)
    same_sites = old.free_sites_mm is new.free_sites_mm or np.array_equal(old.free_sites_mm, new.free_sites_mm)
    same_tints = all(new.tints.get(group) == tint for group, tint in old.tints.items()) and bool(old.tints)
    same_ground = a.housing is b.housing and a.cell_type is b.cell_type and a.n_series == b.n_series
    same_up = a.first_group_up == b.first_group_up
    places = a.cells.centres_mm is b.cells.centres_mm or np.array_equal(a.cells.centres_mm, b.cells.centres_mm)
    return old.map is new.map and same_view and same_sites and same_tints and same_ground and same_up and places


def _changed_region(painter: ScenePainter, view: ViewTransform, old: Scene, new: Scene) -> QRegion:
    """Where two scenes differ that have the same cells on the same places, device pixels."""
    known = {id(segment) for segment in old.segments} & {id(segment) for segment in new.segments}
    boxes = []
    for scene in (old, new):
        fresh = [segment for segment in scene.segments if id(segment) not in known]
        boxes += [path.bounds_mm.getCoords() for path in painter.metal(scene, fresh)]
    radius = new.layout.cell_type.diameter_mm / 2
    was, now = old.layout.cells, new.layout.cells
    changed = np.flatnonzero((was.groups != now.groups) | (was.locked != now.locked))
    places_mm = now.centres_mm[changed]
    corners = np.column_stack([places_mm - radius, places_mm + radius])
    if len(corners) > MOST_BOXES:  # they would be painted as the one rectangle around them anyway
        corners = np.concatenate([corners[:, :2].min(axis=0), corners[:, 2:].max(axis=0)])[None]
    boxes += corners.tolist()
    region = QRegion()
    for x0, y0, x1, y1 in boxes:
        (ax, ay), (bx, by) = view.to_screen(np.array([(x0, y0), (x1, y1)])).tolist()
        box = QRectF(QPointF(ax, ay), QPointF(bx, by)).normalized().toAlignedRect()
        region += box.adjusted(-LINE_PX, -LINE_PX, LINE_PX, LINE_PX)
    for boxes_of in (painter.chip_boxes, painter.badge_boxes):
        for box in boxes_of(view, old) ^ boxes_of(view, new):
            region += QRect(*box)
    return region
