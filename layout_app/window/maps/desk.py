"""MapDesk: joins what is chosen in the panel with currents, sheet work and pictures, and hands maps to the canvas."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QPainter

from layout_app.model.layouts import Layout
from layout_app.physics.currents import Currents
from layout_app.window.canvas import Canvas
from layout_app.window.document import Document
from layout_app.window.drawing import Drawing
from layout_app.window.maps.choice import Choice
from layout_app.window.maps.colour_bar import ColourBar
from layout_app.window.maps.cut_work import CutWork
from layout_app.window.maps.marks import MarkPainter, Marks
from layout_app.window.maps.picture_work import Detail, PictureWork, Wish, detail_of
from layout_app.window.maps.readings import cell_words, sheet_words
from layout_app.window.maps.sheet_work import RENEWED_UP_TO, SheetResult, SheetWork
from layout_app.window.maps.showing import kept, scene_map_of
from layout_app.window.maps.values import scale

RENEW_AFTER_MS = 400  # after the last edit
DETAIL_AFTER_MS = 250  # after the view came to rest
# fields of a layout, its cells apart, that the currents follow from
OF_CURRENTS = (
    "housing", "cell_type", "lattice", "n_series", "plates", "terminals", "first_group_up", "design_current_a",
    "joints", "overrides",
)  # fmt: skip
COARSE = 0.8  # pictures of fewer pixels than this share of the screen's are made anew for what is in view


class MapDesk(QObject):
    """Holds what is chosen and keeps the canvas's map up to date."""

    changed = Signal()  # choice, map, or the state of the work

    def __init__(self, document: Document, canvas: Canvas, bar: ColourBar) -> None:
        super().__init__(canvas)
        self.document, self.canvas, self.bar = document, canvas, bar
        self.choice = Choice()
        self.sheet, self.pictures, self.cuts = SheetWork(self), PictureWork(self), CutWork(self)
        self._asked_for: Layout | None = None  # the sheet of this layout is wanted, whatever its size
        self._given_up_for: Layout | None = None
        self._details: tuple[Detail, ...] = ()
        self._renewing = QTimer(self, singleShot=True, interval=RENEW_AFTER_MS)
        self._renewing.timeout.connect(self._renew)
        self._resting = QTimer(self, singleShot=True, interval=DETAIL_AFTER_MS)
        self._resting.timeout.connect(self._look_closer)
        for signal in (document.layout_changed, document.derived_changed, document.stale_changed):
            signal.connect(self._layout_changed)
        for work in (self.sheet, self.pictures, self.cuts):
            work.changed.connect(self.refresh)
            work.crashed.connect(document.crashed)
        canvas.view_changed.connect(self._resting.start)
        canvas.view_changed.connect(self._want_pictures)  # another face may be looked at
        canvas.map_words = self.words_at
        canvas.overlays.append(self._paint_marks)

    # -- choosing -----------------------------------------------------------------------------------------------

    def choose(self, **changes: Any) -> None:
        """Change what is chosen; what it takes is begun at once."""
        before = self.choice
        if "map" in changes and changes["map"] != before.map:
            changes = {"low": None, "high": None} | changes  # a range is one of its map
        self.choice = replace(before, **changes)
        if self.choice.wants_sheet and (not before.wants_sheet or self.sheet.result is None):
            self.work_out()
        self._resting.start()
        self.refresh()

    def work_out(self) -> None:
        """Work the sheet out for the layout shown."""
        self._asked_for, self._given_up_for = self.document.current, None
        self._renew()
        self.refresh()

    def stop(self) -> None:
        """Give up working the sheet out; it stays of before."""
        self._asked_for, self._given_up_for = None, self.document.current
        self._renewing.stop()
        self.sheet.stop()

    def close(self) -> None:
        """End the work beside the window."""
        self._renewing.stop()
        self._resting.stop()
        for work in (self.sheet, self.pictures, self.cuts):
            work.close()

    # -- what there is ------------------------------------------------------------------------------------------

    @property
    def network(self) -> Currents | None:
        """The live currents, those of a layout before while newer ones are worked out; None where none can flow."""
        return self.document.currents

    @property
    def result(self) -> SheetResult | None:
        """What the sheet model told last, of the layout shown or of one before."""
        return self.sheet.result

    @property
    def is_current(self) -> bool:
        """Whether the sheet's result is of what is shown."""
        return self.result is not None and is_same_conductor(self.result.layout, self.document.layout)

    @property
    def is_by_sheet(self) -> bool:
        """Whether what is shown comes from the sheet model."""
        is_of_metal = self.choice.kind is not None and not self.choice.kind.is_of_cells
        return self.result is not None and (is_of_metal or self.choice.model == "sheet")

    @property
    def found(self) -> Currents | None:
        """The currents of the model that is shown, None where none can flow."""
        if self.network is None:
            return None
        return self.result.found if self.is_by_sheet and self.result is not None else self.network

    @property
    def factor(self) -> float:
        """The current looked at over that solved for."""
        found = self.found
        if found is None or self.choice.current_a is None or not found.solved.current_a:
            return 1.0
        return self.choice.current_a / found.solved.current_a

    @property
    def current_a(self) -> float:
        """The current looked at."""
        return 0.0 if self.found is None else self.found.solved.current_a * self.factor

    @property
    def is_settled(self) -> bool:
        """Whether nothing of what is chosen is still being worked out."""
        is_waiting = self._renewing.isActive() or self.sheet.is_working
        return not is_waiting and self.pictures.is_settled

    # -- keeping up to date -------------------------------------------------------------------------------------

    def _layout_changed(self) -> None:
        if self.sheet.is_working and self.document.layout is not self.sheet.layout:
            self.sheet.stop()
        if self._is_wanted and not self.is_current and self.document.currents_of is self.document.current:
            now = self.document.current
            is_small = len(now.cells) <= RENEWED_UP_TO
            is_open = now is not self._given_up_for and now is not self.sheet.refused_layout
            if (is_small and is_open) or self._asked_for is now:
                self._renewing.start()
        self.refresh()

    @property
    def _is_wanted(self) -> bool:
        """Whether the sheet is to be known: for what is shown, or because it was asked for by name."""
        return self.choice.wants_sheet or self._asked_for is self.document.current

    def _renew(self) -> None:
        document, plates = self.document, self.document.plates
        is_ready = document.currents_of is document.layout is document.current and document.currents is not None
        if is_ready and plates is not None and self._is_wanted and not self.is_current:
            self.sheet.start(document.current, document.segments, plates)
        elif self.is_current:
            self._trace()

    def _trace(self) -> None:
        if (self.choice.shows_lines or self.choice.shows_ways) and self.is_current:
            self.sheet.start_lines()

    def refresh(self) -> None:
        """Bring the canvas and the bar up to date with what there is."""
        self._trace()
        self._want_pictures()
        self._want_cuts()
        scene_map = kept(self.canvas.scene.map, scene_map_of(self))
        self.canvas.set_map(scene_map)
        self.bar.show_map(scene_map)
        self.canvas.update()
        self.changed.emit()

    def _want_cuts(self) -> None:
        document = self.document
        is_ready = document.plates is not None and document.currents_of is document.layout
        if self.choice.shows_necks and is_ready and document.currents is not None and not document.is_stale:
            self.cuts.want(document.plates, document.currents)

    def _want_pictures(self) -> None:
        kind, result = self.choice.kind, self.result
        if kind is None or kind.is_of_cells or result is None or self.network is None:
            self.pictures.want(None)
            return
        by = scale(kind, result.found, self.choice.current_a)
        faces = self.canvas.scene.faces
        self.pictures.want(Wish(result, kind, faces, by, self.choice.low, self.choice.high, self._details))

    def _look_closer(self) -> None:
        """Ask for sharper pictures of what is in view, where those of the whole are too coarse for it."""
        details: tuple[Detail, ...] = ()
        made, view = self.pictures.made, self.canvas.view
        if made is not None and made.pictures:
            whole = min(each[-1].frame.px_per_mm for each in made.pictures.values())
            if whole < COARSE * view.px_per_mm:
                details = tuple(detail_of(f, view.visible_mm(), view.px_per_mm) for f in self.canvas.scene.faces)
        if details != self._details:
            self._details = details
            self._want_pictures()

    # -- on the canvas ------------------------------------------------------------------------------------------

    @property
    def marks(self) -> Marks:
        """What is marked over the drawing."""
        traced = self.sheet.lines
        has_ways = self.choice.shows_ways and traced is not None and traced.of is self.result and self.is_current
        has_cuts = self.choice.shows_necks and self.cuts.of is self.document.currents is not None
        return Marks(self.cuts.cuts if has_cuts else (), traced.ways if has_ways else (), self._factor_of_network)

    @property
    def _factor_of_network(self) -> float:
        network = self.network
        if network is None or self.choice.current_a is None or not network.solved.current_a:
            return 1.0
        return self.choice.current_a / network.solved.current_a

    def _paint_marks(self, painter: QPainter, drawing: Drawing) -> None:
        marks = self.marks
        if marks.cuts or marks.ways:
            view, taken = drawing.view, drawing.label_boxes()
            MarkPainter(painter, drawing, view, drawing.theme, drawing.ratio, taken).paint(marks)

    def words_at(self, spot_mm: tuple[float, float]) -> list[str]:
        """Return what the map tells of a point of the layout."""
        if self.choice.kind is None or self.network is None:
            return []
        words, canvas, result = [], self.canvas, self.result if self.is_current else None
        if not self.choice.kind.is_of_cells and result is not None:
            numbers, is_mirrored = canvas.segments_at(*spot_mm), canvas.view.is_mirrored
            words = sheet_words(result, numbers, spot_mm, self.factor, is_mirrored=is_mirrored)
        cell, layout = canvas.cell_at(*spot_mm), self.document.layout
        if not words and cell is not None and self.document.currents_of is layout:
            found = self.network if self.choice.model == "network" or result is None else result.found
            words = cell_words(layout, found, cell, self.factor)
        return words


def is_same_conductor(was: Layout, now: Layout) -> bool:
    """Whether the same currents flow in two layouts: only names, locks, limits and the like differ."""
    if was is now:
        return True
    one, other = was.cells, now.cells
    same_cells = np.array_equal(one.groups, other.groups) and np.array_equal(one.centres_mm, other.centres_mm)
    parts = [(getattr(was, name), getattr(now, name)) for name in OF_CURRENTS]
    return same_cells and all(a is b or a == b for a, b in parts)
