"""Paints a scene with one painter: only what is in view, cells as stamps, metal as paths with true arcs."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPainterPath

from layout_app.geometry.arrays import PointArray
from layout_app.model.cells import Cells
from layout_app.plates.segments import Segment
from layout_app.window.colours import Theme
from layout_app.window.layer_painting import BADGE_PX, NUMBERS_FROM_PX, Layers
from layout_app.window.maps.line_painting import paint_lines
from layout_app.window.metal_paths import MetalPath, MetalPaths, path_of
from layout_app.window.scene import Scene
from layout_app.window.sprites import Sprites
from layout_app.window.view_transform import ViewTransform

CHIP_HEIGHT_PX = 24.0


class ScenePainter:
    """Draws scenes in one theme at one device pixel ratio; keeps paths and stamps between calls."""

    def __init__(
        self,
        theme: Theme,
        ratio: float = 1.0,
        paths: MetalPaths | None = None,
        text_scale: float = 1.0,
        sprites: Sprites | None = None,
    ) -> None:
        self.theme, self.ratio = theme, ratio
        self.text_ratio = ratio * text_scale  # device pixels in a desktop pixel of texts
        self._sprites, self._paths = sprites or Sprites(), paths or MetalPaths()
        self._housing: tuple[object, QPainterPath, QPainterPath] | None = None
        self._middles: tuple[object, list[int], PointArray] | None = None

    @property
    def sprites(self) -> Sprites:
        """The stamps, for what is drawn over the scene."""
        return self._sprites

    def paint(self, painter: QPainter, view: ViewTransform, scene: Scene, area: QRectF) -> None:
        """Paint the part of the scene inside `area`, device pixels."""
        painter.save()
        painter.setClipRect(area)
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(area, self.theme.colour("page"))
        frame = Layers(self, painter, view, scene, area)
        if "housing" in scene.layers:
            frame.housing(*self._housing_paths(scene))
        if "sites" in scene.layers:
            frame.sites()
        if "cells" in scene.layers:
            frame.cells()
        if "metal" in scene.layers:
            frame.metal(self._paths.of(scene.segments))
            if scene.map is not None and scene.map.lines:
                paint_lines(frame)
        if "signs" in scene.layers:
            frame.signs()
        if "cells" in scene.layers:
            frame.locks()
        if "numbers" in scene.layers:
            frame.numbers()
        if "metal" in scene.layers:
            frame.terminals()
        painter.restore()

    def metal(self, scene: Scene, segments: list[Segment]) -> tuple[MetalPath, ...]:
        """Return the paths of some of a scene's segments."""
        wanted = {id(segment) for segment in segments}
        return tuple(path for path in self._paths.of(scene.segments) if id(path.segment) in wanted)

    def chips(self, view: ViewTransform, scene: Scene) -> list[tuple[int, float, float]]:
        """Return group, x, y (device pixels) of the labels of groups; none when cells are numbered themselves.

        Labels that would cover an earlier one are left out; which ones does not depend on the area painted.
        """
        is_large = scene.layout.cell_type.diameter_mm * view.px_per_mm >= NUMBERS_FROM_PX * self.text_ratio
        if is_large or "numbers" not in scene.layers:
            return []
        groups, middles_mm = self.middles(scene)
        places = view.to_screen(middles_mm)
        widths = np.array([chip_width_px(group) for group in groups]) * self.text_ratio
        height, kept = CHIP_HEIGHT_PX * self.text_ratio, []
        for k, place in enumerate(places):
            dx, dy = np.abs(places[kept] - place).T
            if ((dx >= (widths[kept] + widths[k]) / 2) | (dy >= height)).all():
                kept.append(k)
        return [(groups[k], *places[k].tolist()) for k in kept]

    def chip_box(self, x: float, y: float) -> QRectF:
        """Return the room a label takes, device pixels."""
        width, height = chip_width_px(999) * self.text_ratio, CHIP_HEIGHT_PX * self.text_ratio
        return QRectF(x - width / 2, y - height / 2, width, height)

    def chip_boxes(self, view: ViewTransform, scene: Scene) -> set[tuple[int, int, int, int]]:
        """Return the labels' rooms as whole pixels: x, y, width, height."""
        return {self.chip_box(x, y).toAlignedRect().getRect() for _, x, y in self.chips(view, scene)}

    def badges(self, view: ViewTransform, scene: Scene) -> list[tuple[bool, float, float]]:
        """Return whether it is the positive one, x, y (device pixels) of the signs beside the terminals' bolt holes.

        A badge stands on the side away from the module, so it lies outside its segment's bounds.
        """
        if not {"metal", "signs"} <= scene.layers:
            return []
        x0, y0, x1, y1 = scene.layout.housing.outline.bounds_mm
        middle = view.to_screen(np.array([[(x0 + x1) / 2, (y0 + y1) / 2]]))[0]
        found = []
        for segment in scene.segments:
            for x_mm, y_mm, radius_mm in segment.bolt_holes_mm if segment.face in scene.faces else ():
                hole = view.to_screen(np.array([[x_mm, y_mm]]))[0]
                clear = max(radius_mm * view.px_per_mm, 5 * self.ratio) + BADGE_PX * 1.6 * self.text_ratio
                x, y = (hole + (hole - middle) / (np.hypot(*(hole - middle)) or 1.0) * clear).tolist()
                found.append((segment.number == scene.layout.n_segments - 1, x, y))
        return found

    def badge_boxes(self, view: ViewTransform, scene: Scene) -> set[tuple[int, int, int, int]]:
        """Return the badges' rooms as whole pixels: x, y, width, height."""
        reach = (BADGE_PX + 2) * self.text_ratio
        boxes = [QRectF(x - reach, y - reach, 2 * reach, 2 * reach) for _, x, y in self.badges(view, scene)]
        return {box.toAlignedRect().getRect() for box in boxes}

    def label_boxes(self, view: ViewTransform, scene: Scene) -> list[QRectF]:
        """Return the room that labels and badges take, device pixels."""
        return [QRectF(*box) for box in self.chip_boxes(view, scene) | self.badge_boxes(view, scene)]

    def middles(self, scene: Scene) -> tuple[list[int], PointArray]:
        """Return the groups that have cells and, for each, the centre of the cell nearest to its middle."""
        cells = scene.layout.cells
        if self._middles is None or self._middles[0] is not cells:
            groups = [k for k in range(1, scene.layout.n_series + 1) if len(cells.of_group(k))]
            self._middles = (cells, groups, np.array([_middle_mm(cells, k) for k in groups]).reshape(-1, 2))
        return self._middles[1], self._middles[2]

    def _housing_paths(self, scene: Scene) -> tuple[QPainterPath, QPainterPath]:
        housing = scene.layout.housing
        if self._housing is None or self._housing[0] is not housing:
            self._housing = (housing, path_of([housing.outline]), path_of(housing.keep_outs))
        return self._housing[1:]


def chip_width_px(group: int) -> float:
    """Return the width of a group's label with a little room around it, desktop pixels."""
    return 16.0 + 9.0 * len(str(group))


def _middle_mm(cells: Cells, group: int) -> PointArray:
    members = cells.centres_mm[cells.of_group(group)]
    return members[np.hypot(*(members - members.mean(axis=0)).T).argmin()]
