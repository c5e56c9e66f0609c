"""Layers: each layer of a scene painted into one area; only what is in view, cells as stamps, metal as paths."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QImage, QPaintEngine, QPainter, QPainterPath, QPen

from layout_app.model.plates import Face
from layout_app.window.colours import NO_GROUP, TINTS, ink_on
from layout_app.window.maps.scene_map import FADED
from layout_app.window.metal_paths import MetalPath
from layout_app.window.scene import Scene
from layout_app.window.sprites import (
    LARGEST_PX,
    Draw,
    can_drawer,
    disc_drawer,
    hatched,
    in_view,
    lock_drawer,
    sign_drawer,
    site_drawer,
    text_drawer,
)  # fmt: skip
from layout_app.window.view_transform import ViewTransform

if TYPE_CHECKING:
    from layout_app.window.painting import ScenePainter

SIGNS_FROM_PX, NUMBERS_FROM_PX, CELL_NUMBERS_FROM_PX = 13.0, 42.0, 96.0  # can diameters on the screen
SITES_FROM_PX = 12.0
LOCKS_FROM_PX, LEAST_LOCK_PX = 16.0, 9.0  # can diameter from which locks are drawn; what a lock can be told at
WINDOWS_FROM_PX = 11.0  # can diameter: smaller ones make a pattern that hides the groups
WINDOWS_CUT_FROM_PX = 70.0  # smaller windows are stamped: cutting thousands of them takes ten times as long
EDGE_PX = 4.0  # lines and rounded positions reach so far beyond what they belong to
BADGE_PX = 9.0  # radius
VECTOR_PIXELS = 2.0  # of a map in a vector drawing for each of its units
FAR_MAP = 0.35  # how strongly the map of the far face shows through


def is_vector(painter: QPainter) -> bool:
    """Whether a painter draws into a file of lines, not of pixels."""
    return painter.paintEngine().type() in (QPaintEngine.Type.SVG, QPaintEngine.Type.Pdf)


class Layers:
    """One painting: what every layer needs, worked out once."""

    def __init__(self, owner: ScenePainter, painter: QPainter, view: ViewTransform, scene: Scene, area: QRectF) -> None:
        self.owner = owner
        self.painter, self.view, self.scene, self.area = painter, view, scene, area
        self.theme, self.ratio, self.sprites = owner.theme, owner.ratio, owner.sprites
        self.diameter_px = scene.layout.cell_type.diameter_mm * view.px_per_mm
        (x0, y0), (x1, y1) = (
            view.to_layout(area.left() - EDGE_PX, area.top() - EDGE_PX),
            view.to_layout(area.right() + EDGE_PX, area.bottom() + EDGE_PX),
        )
        self.bounds_mm = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        self.seen = in_view(scene.layout.cells.centres_mm, self.bounds_mm, scene.layout.cell_type.diameter_mm / 2)
        self.seen_px = view.to_screen(scene.layout.cells.centres_mm[self.seen])

    def px(self, points: float) -> float:
        """Device pixels of a length in desktop pixels."""
        return points * self.ratio

    def text_px(self, points: float) -> float:
        """Device pixels of a length in desktop pixels that grows with the system's font."""
        return points * self.owner.text_ratio

    def pen(self, colour: QColor, width: float = 1.0, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
        pen = QPen(colour, self.px(width), style)
        pen.setCosmetic(True)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        return pen

    # -- layers -------------------------------------------------------------------------------------------------

    def housing(self, outline: QPainterPath, keep_outs: QPainterPath) -> None:
        painter, to_screen = self.painter, self.view.q_transform()
        painter.setPen(self.pen(self.theme.colour("wall"), 2))
        painter.setBrush(self.theme.colour("floor"))
        painter.drawPath(to_screen.map(outline))
        painter.setBrush(self.theme.colour("page"))
        loops = to_screen.map(keep_outs)
        painter.drawPath(loops)
        painter.setBrush(QBrush(self.theme.colour("faint", 0.55), Qt.BrushStyle.BDiagPattern))
        painter.setPen(self.pen(self.theme.colour("wall"), 1.4))
        painter.drawPath(loops)

    def sites(self) -> None:
        places = self.scene.free_sites_mm
        if self.diameter_px < self.px(SITES_FROM_PX) or not len(places):
            return
        seen = places[in_view(places, self.bounds_mm, self.scene.layout.cell_type.diameter_mm / 2)]
        draw = site_drawer(self.theme.colour("faint"))
        self.sprites.stamp(self.painter, self.view.to_screen(seen), self.diameter_px, "site", draw)

    def cells(self) -> None:
        looks = self.scene.cell_looks()[self.seen]
        for look in np.unique(looks).tolist():
            colour = self.colour(look)
            draw, is_hatched = self.hatching(can_drawer(self.theme, colour, look != NO_GROUP), look)
            stamp = ("can", colour.rgba(), look == NO_GROUP, is_hatched)
            self.sprites.stamp(self.painter, self.seen_px[looks == look], self.diameter_px, stamp, draw)

    def colour(self, look: int) -> QColor:
        """Return the colour of cells of a look: a group's tint, or what the map says."""
        return self.theme.tint(look) if self.scene.map is None else self.scene.map.colour(look, self.theme)

    def hatching(self, draw: Draw, tint: int) -> tuple[Draw, bool]:
        """Return what draws a disc, hatched where that is wanted, and whether it is."""
        if "hatching" not in self.scene.layers or not NO_GROUP < tint < len(TINTS):
            return draw, False
        return hatched(draw, QColor(21, 25, 29, 150), tint), True

    def metal(self, paths: tuple[MetalPath, ...]) -> None:
        to_screen, near = self.view.q_transform(), self.scene.faces[-1]
        for face in self.scene.faces:
            for path in paths:
                if path.segment.face == face and to_screen.mapRect(path.bounds_mm).intersects(self.area):
                    self._sheet(path, is_far=face != near)
        if len(self.scene.faces) > 1 and self.scene.map is not None and self.scene.map.is_of_sheet:
            self._far_outlines([path for path in paths if path.segment.face != near])

    def _far_outlines(self, paths: list[MetalPath]) -> None:
        """The far face's metal over the near face's map, which lets nothing shine through that would falsify it."""
        for path in paths:
            if self.view.q_transform().mapRect(path.bounds_mm).intersects(self.area):
                self._outline(path.solid, self.theme.colour("ink", 0.7), Qt.PenStyle.DashLine)
        self.painter.resetTransform()

    def _sheet(self, path: MetalPath, is_far: bool) -> None:
        colour = self.theme.metal(path.segment.material.id)
        if self.scene.is_stale:
            colour = QColor.fromHslF(colour.hslHueF(), 0.0, colour.lightnessF())
        edge = colour.lighter(150) if self.theme.is_dark else colour.darker(175)
        circles = path.segment.windows_mm
        radius_px = float(circles[:, 2].mean()) * self.view.px_per_mm if len(circles) else 0.0
        shows_windows = "windows" in self.scene.layers and self.diameter_px >= self.px(WINDOWS_FROM_PX)
        is_large = 2 * radius_px >= self.px(WINDOWS_CUT_FROM_PX) or self.diameter_px > LARGEST_PX
        is_cut = shows_windows and (is_large or "cells" not in self.scene.layers or self.scene.side == "through")
        wash = QColor(colour)
        wash.setAlphaF(0.25 if is_far else 0.62 if self.diameter_px >= self.px(WINDOWS_FROM_PX) else 0.35)
        shape = path.cut if is_cut else path.solid
        self.painter.setWorldTransform(self.view.q_transform())
        if self.scene.map is None or self.scene.map.kind is None:
            self._fill(shape, wash)
        elif self.scene.map.is_of_sheet:
            self._fill_by_map(shape, path.segment.face, is_far)
        self._outline(shape, edge, Qt.PenStyle.DashLine if is_far else Qt.PenStyle.SolidLine)
        self.painter.resetTransform()
        if shows_windows and not is_cut and not self._shows_map_of_cells:
            self._stamped_windows(path, edge)

    @property
    def _shows_map_of_cells(self) -> bool:
        """Whether cells carry a map, which metal must not tint."""
        return self.scene.map is not None and self.scene.map.is_of_cells

    def _fill_by_map(self, shape: QPainterPath, face: Face, is_far: bool) -> None:
        x0, y0, x1, y1 = self.bounds_mm
        seen_mm = shape.boundingRect().intersected(QRectF(x0, y0, x1 - x0, y1 - y0))
        picture = self.scene.map.picture(face, seen_mm)
        if picture is None:
            return
        if is_vector(self.painter):
            self._cut_out(shape, seen_mm.intersected(picture.bounds_mm), picture.brush(), is_far)
            return
        self.painter.save()
        self.painter.setOpacity((FAR_MAP if is_far else 1.0) * (FADED if self.scene.map.is_before else 1.0))
        if not picture.bounds_mm.contains(seen_mm):  # metal that a map of before did not know; a brush would repeat
            self.painter.setClipRect(picture.bounds_mm, Qt.ClipOperation.IntersectClip)
        self._fill(shape, picture.brush())
        self.painter.restore()

    def _cut_out(self, shape: QPainterPath, seen_mm: QRectF, brush: QBrush, is_far: bool) -> None:
        """Put a map into a vector drawing as a picture cut along the metal: patterns are not kept there."""
        box = self.view.q_transform().mapRect(seen_mm).intersected(self.area)
        if box.isEmpty():
            return
        image = QImage((box.size() * VECTOR_PIXELS).toSize() + QSize(1, 1), QImage.Format.Format_ARGB32_Premultiplied)
        image.fill(Qt.GlobalColor.transparent)
        painter = QPainter(image)
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
        painter.scale(VECTOR_PIXELS, VECTOR_PIXELS)
        painter.translate(-box.topLeft())
        painter.setTransform(self.view.q_transform(), True)
        painter.setOpacity((FAR_MAP if is_far else 1.0) * (FADED if self.scene.map.is_before else 1.0))
        painter.fillPath(shape, brush)
        painter.end()
        self.painter.resetTransform()
        self.painter.setBrush(Qt.GlobalColor.black)  # PDF draws pictures as strongly as the brush in use
        self.painter.drawImage(QRectF(box.topLeft(), QSizeF(image.size()) / VECTOR_PIXELS), image)
        self.painter.setWorldTransform(self.view.q_transform())

    def _fill(self, shape: QPainterPath, colour: QColor | QBrush) -> None:
        """Fill without smoothing: seven times as quick with many windows, and the outline hides the steps."""
        self.painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        self.painter.fillPath(shape, colour)
        self.painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

    def _outline(self, shape: QPainterPath, colour: QColor, style: Qt.PenStyle) -> None:
        """Draw a smooth line of one device pixel, ten times as quick as wider ones; twice on fine screens."""
        pen = QPen(colour, 1, style)
        pen.setCosmetic(True)
        self.painter.setPen(pen)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        for shift in (0.0,) if self.ratio < 1.5 else (-0.4, 0.4):
            self.painter.setWorldTransform(self.view.panned(shift, shift).q_transform())
            self.painter.drawPath(shape)

    def _stamped_windows(self, path: MetalPath, edge: QColor) -> None:
        """Windows from far away: a disc in the cell's own tint over the metal."""
        circles = path.segment.windows_mm
        seen = in_view(circles[:, :2], self.bounds_mm, float(circles[:, 2].max(initial=0.0)))
        tints = self.scene.cell_looks()
        if not len(tints):  # all cells are gone, and the metal is that of before
            return
        cells = np.minimum(path.segment.window_cells[seen], len(tints) - 1)  # metal of before may name cells now gone
        for radius in np.unique(np.round(circles[seen, 2], 3)).tolist():
            for tint in np.unique(tints[cells]).tolist():
                chosen = seen[(np.abs(circles[seen, 2] - radius) < 1e-3) & (tints[cells] == tint)]
                size_px = 2 * radius * self.view.px_per_mm
                draw, is_hatched = self.hatching(disc_drawer(self.colour(tint), edge), tint)
                look = ("window", self.colour(tint).rgba(), edge.rgba(), is_hatched)
                self.sprites.stamp(self.painter, self.view.to_screen(circles[chosen, :2]), size_px, look, draw)

    def signs(self) -> None:
        if self.diameter_px < self.px(SIGNS_FROM_PX):
            return
        has_number = "numbers" in self.scene.layers and self.diameter_px >= self.text_px(NUMBERS_FROM_PX)
        size_px = self.diameter_px * (0.3 if has_number else 0.4)
        lift = np.array([0.0, self.diameter_px * 0.14 if has_number else 0.0])  # clear of the number: not a dagger
        plus, tints = self.scene.shows_plus()[self.seen], self.scene.cell_looks()[self.seen]
        for tint in np.unique(tints).tolist():
            ink = ink_on(self.colour(tint))
            for is_plus in (True, False):
                here = self.seen_px[(plus == is_plus) & (tints == tint)] - lift
                look = ("sign", is_plus, ink.rgba())
                self.sprites.stamp(self.painter, here, size_px, look, sign_drawer(ink, is_plus))

    def locks(self) -> None:
        """A lock at the lower right of each locked can, inside its rim, clear of sign and number."""
        locked = self.scene.layout.cells.locked[self.seen]
        if self.diameter_px < self.px(LOCKS_FROM_PX) or not locked.any():
            return
        size_px = min(max(self.diameter_px * 0.26, self.px(LEAST_LOCK_PX)), self.px(30))
        away = (self.diameter_px - size_px) / 2 * np.sqrt(0.5)
        ink, patch = self.theme.colour("ink"), self.theme.colour("floor")
        look = ("lock", ink.rgba(), patch.rgba())
        self.sprites.stamp(self.painter, self.seen_px[locked] + away, size_px, look, lock_drawer(ink, patch))

    def numbers(self) -> None:
        if self.diameter_px < self.text_px(NUMBERS_FROM_PX):
            self.group_chips()
            return
        groups, tints = self.scene.layout.cells.groups[self.seen], self.scene.cell_looks()[self.seen]
        size = min(max(self.diameter_px * 0.19, self.text_px(7.5)), self.text_px(26))
        drop = np.array([0.0, self.diameter_px * (0.19 if "signs" in self.scene.layers else 0.0)])
        for tint, group in np.unique(np.column_stack([tints, groups]), axis=0).tolist():
            ink, here = ink_on(self.colour(tint)), (tints == tint) & (groups == group)
            draw = text_drawer(str(group) if group else "–", self.font(size, is_bold=True), ink)
            look = ("group", group, ink.rgba(), self.painter.font().family())
            self.sprites.stamp(self.painter, self.seen_px[here] + drop, 2.4 * size, look, draw)
        if self.diameter_px >= self.text_px(CELL_NUMBERS_FROM_PX):
            self._cell_numbers(size * 0.6)

    def _cell_numbers(self, size_px: float) -> None:
        """On a light or dark patch of their own, because they stand across metal and window."""
        font = self.font(size_px)
        metrics = QFontMetricsF(font)
        self.painter.setFont(font)
        for (x, y), cell in zip(self.seen_px.tolist(), self.seen.tolist(), strict=True):
            text = f"#{cell + 1}"
            box = QRectF(0, 0, metrics.horizontalAdvance(text) + size_px * 0.8, metrics.height())
            box.moveCenter(QPointF(x, y - self.diameter_px * 0.4))
            self.painter.setPen(Qt.PenStyle.NoPen)
            self.painter.setBrush(self.theme.colour("floor", 0.78))
            self.painter.drawRoundedRect(box, size_px * 0.35, size_px * 0.35)
            self.painter.setPen(self.theme.colour("ink"))
            self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def group_chips(self) -> None:
        """One label a group, on the cell nearest to its middle: legible when cells are too small for numbers."""
        for group, x, y in self.owner.chips(self.view, self.scene):
            if self.area.intersects(self.owner.chip_box(x, y)):
                tint = self.scene.tints.get(group, (group - 1) % len(TINTS))
                is_mapped = self.scene.map is not None and self.scene.map.kind is not None
                fill = self.theme.colour("ruler") if is_mapped else self.theme.tint(tint)
                self.chip(x, y, str(group), fill, ink_on(fill))

    def terminals(self) -> None:
        for segment in self.scene.segments:
            for x_mm, y_mm, radius_mm in segment.bolt_holes_mm if segment.face in self.scene.faces else ():
                x, y = self.view.to_screen(np.array([[x_mm, y_mm]]))[0].tolist()
                radius = radius_mm * self.view.px_per_mm
                self.painter.setPen(self.pen(self.theme.colour("wall"), 1.4))
                self.painter.setBrush(self.theme.colour("page"))
                self.painter.drawEllipse(QPointF(x, y), radius, radius)
        for is_plus, x, y in self.owner.badges(self.view, self.scene):
            self._badge(x, y, is_plus)

    def _badge(self, x: float, y: float, is_plus: bool) -> None:
        """A round badge with a sign in it; the sign says it, not the colour."""
        size = self.text_px(BADGE_PX)
        self.painter.setPen(self.pen(self.theme.colour("floor"), 1.5))
        self.painter.setBrush(QColor("#a33a2c" if is_plus else "#3a4854"))
        self.painter.drawEllipse(QPointF(x, y), size, size)
        sign_drawer(QColor("white"), is_plus)(self.painter, x, y, size * 1.5)

    # -- text ---------------------------------------------------------------------------------------------------

    def font(self, size_px: float, is_bold: bool = False) -> QFont:
        font = QFont(self.painter.font())
        font.setPixelSize(max(round(size_px), 1))
        font.setBold(is_bold)
        return font

    def chip(self, x: float, y: float, text: str, fill: QColor, ink: QColor) -> None:
        """A small rounded label, centred."""
        font = self.font(self.text_px(13), is_bold=True)
        width = max(QFontMetricsF(font).horizontalAdvance(text) + self.text_px(10), self.text_px(20))
        box = QRectF(x - width / 2, y - self.text_px(10), width, self.text_px(20))
        self.painter.setPen(self.pen(self.theme.colour("rim"), 1))
        self.painter.setBrush(fill)
        self.painter.drawRoundedRect(box, self.px(6), self.px(6))
        self.painter.setFont(font)
        self.painter.setPen(ink)
        self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
