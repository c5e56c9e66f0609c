"""Drawing: a widget that shows a document's layout, what is chosen of it, and what is drawn over it.

The scene is kept as a picture (see scene_picture); what moves with the pointer is drawn over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QEvent, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from layout_app.edits.choosing import after_edit
from layout_app.plates.segments import Segment
from layout_app.window import overlays
from layout_app.window.colours import theme_of
from layout_app.window.document import Document
from layout_app.window.lengths import Unit
from layout_app.window.maps.scene_map import SceneMap
from layout_app.window.metal_paths import MetalPath
from layout_app.window.painting import ScenePainter
from layout_app.window.picking import indices_near, segment_at
from layout_app.window.scene import LAYERS, Scene, Side
from layout_app.window.scene_picture import ScenePicture
from layout_app.window.sizes import text_scale
from layout_app.window.sprites import Sprites
from layout_app.window.view_transform import ViewTransform

LEAST_MARGIN_PX = 36
FIT_MARGIN_PX = 58  # room for the banner above and the terminals' signs beside
FLASH_MS, FLASH_FRAME_MS = 1800, 30


class Drawing(QWidget):
    """Draws one document. `unit` is the window's, not the layout's."""

    view_changed = Signal()
    choice_changed = Signal()

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.view = ViewTransform()
        self.scene = Scene(layout=document.layout)
        self.chosen_cells: frozenset[int] = frozenset()
        self.chosen_segment: int | None = None
        self.unit: Unit = "mm"
        self.overlays: list[Callable[[QPainter, Drawing], None]] = []  # drawn over the scene, under the tool
        self.map_words: Callable[[tuple[float, float]], list[str]] = lambda _spot_mm: []  # what a map tells of a spot
        self._has_told_crash = False
        self._is_fitted = False
        self._has_been_shown = False
        self._painter = self._new_painter()
        self.picture = ScenePicture()
        self._flash_places: list[tuple[float, float]] = []
        self._flash_left_ms = 0
        self._flash_timer = QTimer(self, interval=FLASH_FRAME_MS)
        self._flash_timer.timeout.connect(self._flash_on)
        self._set_up()

    def _set_up(self) -> None:
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(240, 200)
        for signal in (
            self.document.layout_changed,
            self.document.derived_changed,
            self.document.stale_changed,
        ):
            signal.connect(self.refresh)

    # -- what is shown ------------------------------------------------------------------------------------------

    @property
    def theme(self):
        """The colours in use."""
        return self._painter.theme

    @property
    def sprites(self) -> Sprites:
        """Stamps of cells and rings in the colours in use."""
        return self._painter.sprites

    @property
    def ratio(self) -> float:
        """Device pixels in a desktop pixel."""
        return self.devicePixelRatioF()

    @property
    def text_ratio(self) -> float:
        """Device pixels in a desktop pixel of texts, and of what holds them: grows with the system's font too."""
        return self.ratio * text_scale(self.font())

    @property
    def is_fitted(self) -> bool:
        """Whether the view shows the whole module and goes on doing so when the widget changes its size."""
        return self._is_fitted

    def refresh(self) -> None:
        """Show the document as it is now."""
        document, before = self.document, self.scene.layout
        is_first_metal = bool(document.segments) and not self.scene.segments
        self._show(
            replace(
                self.scene,
                layout=document.layout,
                segments=document.segments,
                free_sites_mm=document.free_sites_mm,
                tints=document.tints,
                is_stale=document.is_stale,
            )
        )
        if is_first_metal and self._is_fitted:
            self.fit()  # now that the tabs are known
        self.update()  # marks of findings and necks are no part of the scene, and may be new
        kept = after_edit(self.chosen_cells, before, document.layout)
        if kept != self.chosen_cells:
            self.choose(kept, self.chosen_segment)
        elif before is not document.layout and (kept or self.chosen_segment is not None):
            self.choice_changed.emit()

    def set_side(self, side: Side) -> None:
        """Look from above, from below, or through."""
        self.view = self.view.mirrored(side == "bottom")
        self._show(replace(self.scene, side=side))
        self.view_changed.emit()

    def set_layers(self, layers: frozenset[str]) -> None:
        """Show these layers of LAYERS."""
        self._show(replace(self.scene, layers=layers & LAYERS.keys()))

    def set_map(self, scene_map: SceneMap | None) -> None:
        """Colour cells or metal by what the currents do; None shows groups again."""
        self._show(replace(self.scene, map=scene_map))

    def choose(self, cells: frozenset[int] = frozenset(), segment: int | None = None) -> None:
        """Mark cells or a segment as chosen."""
        self.chosen_cells, self.chosen_segment = cells, segment
        self.choice_changed.emit()
        self.update()

    def set_unit(self, unit: Unit) -> None:
        """Show lengths in millimetres or inches."""
        self.unit = unit
        self.update()

    def _show(self, scene: Scene) -> None:
        if scene.is_same(self.scene):
            return
        self.picture.scene_changed(self._painter, self.scene, scene)
        self.scene = scene
        self.update()

    # -- view ---------------------------------------------------------------------------------------------------

    def set_view(self, view: ViewTransform) -> None:
        """Look at another part."""
        if view != self.view:
            self.view = view
            self.update()
            self.view_changed.emit()

    def fit(self) -> None:
        """Show the whole module."""
        self._is_fitted = True
        share = 0.12 * min(self.view.width_px, self.view.height_px) / self.ratio
        margin = min(max(share, LEAST_MARGIN_PX), FIT_MARGIN_PX * self.text_ratio / self.ratio) * self.ratio
        self.set_view(self.view.fitted(self.scene.bounds_mm(), margin, overlays.ruler_px(self)))

    def zoom_by(self, factor: float) -> None:
        """Enlarge about the middle."""
        self._is_fitted = False
        self.set_view(self.view.zoomed(factor, self.view.width_px / 2, self.view.height_px / 2))

    def pan_by(self, dx_px: int, dy_px: int) -> None:
        """Move the content by whole device pixels."""
        self._is_fitted = False
        self.set_view(self.view.panned(dx_px, dy_px))

    def go_to(self, places_mm: list[tuple[float, float]]) -> None:
        """Bring places into view, near enough to see them, and make them pulse."""
        points = np.array(places_mm).reshape(-1, 2)
        if not len(points):
            return
        room = 3.5 * self.scene.layout.lattice.pitch_mm
        low, high = points.min(axis=0) - room, points.max(axis=0) + room
        self.set_view(self.view.fitted((*low.tolist(), *high.tolist()), 20 * self.ratio, overlays.ruler_px(self)))
        self._flash_places, self._flash_left_ms = [tuple(p) for p in points.tolist()], FLASH_MS
        self._flash_timer.start()

    def _flash_on(self) -> None:
        self._flash_left_ms -= FLASH_FRAME_MS
        if self._flash_left_ms <= 0:
            self._flash_timer.stop()
            self._flash_places = []
        self.update()

    # -- what is where ------------------------------------------------------------------------------------------

    def cell_at(self, x_mm: float, y_mm: float) -> int | None:
        """Return the cell under a point, or None."""
        layout = self.scene.layout
        near = indices_near(layout.cells.centres_mm, x_mm, y_mm, layout.cell_type.diameter_mm / 2)
        return near[0] if near else None

    def segments_at(self, x_mm: float, y_mm: float) -> list[int]:
        """Return the segments under a point, the nearer face first."""
        found = []
        for face in reversed(self.scene.faces):
            on_face = [segment for segment in self.scene.segments if segment.face == face]
            number = segment_at(self.metal_paths(on_face), x_mm, y_mm)
            found += [] if number is None else [number]
        return found

    def metal_paths(self, segments: list[Segment]) -> tuple[MetalPath, ...]:
        """Return the paths of some of the scene's segments, layout millimetres."""
        return self._painter.metal(self.scene, segments)

    def label_boxes(self) -> list[QRectF]:
        """Return the room of groups' labels and terminals' signs, device pixels, for what has to keep clear of them."""
        return self._painter.label_boxes(self.view, self.scene)

    # -- painting -----------------------------------------------------------------------------------------------

    def paintEvent(self, event) -> None:
        painter = QPainter(self)
        try:
            if self._has_been_shown or not self.isVisible():
                self._paint(painter)
            else:
                self._paint_nothing_yet(painter)
        except Exception as error:  # let out of a paint event, PySide 6.11 brings the whole process down with it
            self._tell_crash(error)
        finally:
            painter.end()

    def _paint_nothing_yet(self, painter: QPainter) -> None:
        """Leave the scene to the next turn: all of the window is laid out and drawn for the first time in this one."""
        self._has_been_shown = True
        painter.fillRect(self.rect(), self.theme.colour("page"))
        QTimer.singleShot(0, self, self.update)

    def _paint(self, painter: QPainter) -> None:
        picture = self.picture.up_to_date(self._painter, self.view, self.scene, self.font())
        painter.drawPixmap(0, 0, picture)
        painter.scale(1 / self.ratio, 1 / self.ratio)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        overlays.paint_choice(painter, self)
        if "metal" in self.scene.layers:
            overlays.paint_overrides(painter, self)
        if "findings" in self.scene.layers:
            overlays.paint_findings(painter, self)
        for paint in self.overlays:
            paint(painter, self)
        overlays.paint_flash(painter, self, self._flash_places, self._flash_left_ms / FLASH_MS)
        self.paint_gesture(painter)
        overlays.paint_rulers(painter, self)
        overlays.paint_banner(painter, self)

    def paint_gesture(self, painter: QPainter) -> None:
        """Draw what moves with the pointer."""

    def _tell_crash(self, error: Exception) -> None:
        """Hand a mistake of ours to the crash dialog, once: every repaint would make it again."""
        if not self._has_told_crash:
            self._has_told_crash = True
            QTimer.singleShot(0, self, lambda: self.document.crashed.emit(error))

    # -- the widget ---------------------------------------------------------------------------------------------

    def resizeEvent(self, event) -> None:
        self._adapt_to_screen()
        super().resizeEvent(event)

    def _adapt_to_screen(self) -> None:
        width, height = round(self.width() * self.ratio), round(self.height() * self.ratio)
        if self._painter.ratio != self.ratio:
            self._start_afresh()
        self.view = self.view.resized(width, height)
        if self._is_fitted:
            self.fit()
        self.update()

    def changeEvent(self, event) -> None:
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange):
            self._start_afresh()
            self.update()
        super().changeEvent(event)

    def badges(self) -> list[tuple[bool, float, float]]:
        """Return the signs beside the terminals' bolt holes, one for each, as `ScenePainter.badges`; none if hidden."""
        return self._painter.badges(self.view, self.scene)

    def _start_afresh(self) -> None:
        self._painter = self._new_painter()
        self.picture.forget()

    def _new_painter(self) -> ScenePainter:
        theme, paths = theme_of(self.palette()), self.document.metal_paths
        return ScenePainter(theme, self.ratio, paths, text_scale(self.font()))

    def event(self, event) -> bool:
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self._adapt_to_screen()
        return super().event(event)
