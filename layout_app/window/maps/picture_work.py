"""PictureWork: makes the pictures of sheet maps in a thread of its own, in bounded pieces."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from layout_app.model.plates import Face
from layout_app.window.background import Background, HandOver
from layout_app.window.maps import rasters
from layout_app.window.maps.colour_maps import Range, colour_map
from layout_app.window.maps.kinds import Kind
from layout_app.window.maps.scene_map import Picture
from layout_app.window.maps.sheet_work import SheetResult
from layout_app.window.maps.values import Raster, automatic_range, face_scale, raster

N_DETAIL_PX = 3_000_000  # of what is in view, on one face
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Detail:
    """A part of a face that is looked at from so near that the picture of the whole would be coarse."""

    face: Face
    bounds_mm: Bounds
    px_per_mm: float


@dataclass(frozen=True, slots=True)
class Wish:
    """The pictures wanted: values times `scale`, in a range or, without one, in that which follows from them.

    `faces` are those looked at, whose values set a range that follows.
    """

    result: SheetResult
    kind: Kind
    faces: tuple[Face, ...] = ("top", "bottom")
    scale: float = 1.0
    low: float | None = None
    high: float | None = None
    details: tuple[Detail, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """The pictures of a wish, and the range they are in."""

    wish: Wish
    span: Range
    has_below: bool
    has_above: bool
    pictures: dict[Face, tuple[Picture, ...]] = field(default_factory=dict)


class PictureWork(QObject):
    """Makes the pictures asked for last; `made` holds those of before until then."""

    changed = Signal()
    crashed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.made: Pictures | None = None
        self._wish: Wish | None = None
        self._known: tuple[object, dict[Face, Raster]] = (None, {})  # of the background's thread
        self._background = Background(self)
        self._background.delivered.connect(self._take)
        self._background.failed.connect(lambda _ticket, error: self.crashed.emit(error))

    def want(self, wish: Wish | None) -> None:
        """Ask for pictures; None lets go of those there are."""
        if wish == self._wish:
            return
        self._wish = wish
        if wish is None:
            self.made = None
            self._background.cancel()
            self._known = (None, {})
        else:
            self._background.start(lambda hand_over: self._make(wish, hand_over))

    @property
    def is_settled(self) -> bool:
        """Whether the pictures are those asked for."""
        return self._wish is None or (self.made is not None and self.made.wish == self._wish)

    def close(self) -> None:
        """End the work for good."""
        self._background.close()

    def _take(self, _ticket: int, made: Pictures) -> None:
        self.made = made
        self.changed.emit()

    def _make(self, wish: Wish, hand_over: HandOver) -> None:
        whole = self._rasters(wish)
        span = span_of(wish, whole)
        made = {face: [picture_of(each, wish, span)] for face, each in whole.items()}
        result = wish.result
        for detail in wish.details:
            sharp = raster(wish.kind, detail.face, result.segments, result.fields, detail.px_per_mm, detail.bounds_mm)
            if sharp is not None:
                made.setdefault(detail.face, []).insert(0, picture_of(sharp, wish, span))
        shown = [each.values.ravel() for face, each in whole.items() if face in wish.faces]
        values = np.concatenate(shown or [np.zeros(0)]) * wish.scale
        edge = 1e-6 * (span.high - span.low)
        below, above = bool((values < span.low - edge).any()), bool((values > span.high + edge).any())
        hand_over(Pictures(wish, span, below, above, {face: tuple(each) for face, each in made.items()}))

    def _rasters(self, wish: Wish) -> dict[Face, Raster]:
        """Return the whole faces as pixels, kept for other ranges and currents."""
        key = (wish.result, wish.kind)
        if self._known[0] != key:
            self._known = (key, face_rasters(wish, face_scale(wish.result.segments)))
        return self._known[1]


def face_rasters(wish: Wish, px_per_mm: float) -> dict[Face, Raster]:
    """Return both faces as pixels."""
    faces: tuple[Face, ...] = ("top", "bottom")
    made = {face: raster(wish.kind, face, wish.result.segments, wish.result.fields, px_per_mm) for face in faces}
    return {face: each for face, each in made.items() if each is not None}


def span_of(wish: Wish, whole: dict[Face, Raster]) -> Range:
    """Return the range of a wish: its own ends where it has them."""
    shown = [each.values[np.isfinite(each.values)] for face, each in whole.items() if face in wish.faces]
    values = np.concatenate(shown or [np.zeros(0)])
    return fixed(automatic_range(wish.kind, values * wish.scale), wish.low, wish.high)


def fixed(automatic: Range, low: float | None, high: float | None) -> Range:
    """Return a range with the ends that are given; an end that is not stays clear of the other."""
    a = automatic.low if low is None else low
    b = automatic.high if high is None else high
    if b > a:
        return Range(a, b)
    room = automatic.high - automatic.low
    return Range(a, a + room) if high is None else Range(b - room, b)


def picture_of(each: Raster, wish: Wish, span: Range) -> Picture:
    """Return values as colours."""
    pixels = np.ascontiguousarray(colour_map(wish.kind.colours).pixels(each.values * wish.scale, span))
    rows, columns = pixels.shape
    image = QImage(pixels.data, columns, rows, 4 * columns, QImage.Format.Format_ARGB32_Premultiplied)
    return Picture(image.copy(), each.frame)  # a copy owns its pixels


def detail_of(face: Face, bounds_mm: Bounds, px_per_mm: float) -> Detail:
    """Return the detail for what is in view, as sharp as the screen, within bounds."""
    area = (bounds_mm[2] - bounds_mm[0]) * (bounds_mm[3] - bounds_mm[1])
    return Detail(face, bounds_mm, rasters.scale_for(area, N_DETAIL_PX, px_per_mm))
