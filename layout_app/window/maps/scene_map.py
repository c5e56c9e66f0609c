"""SceneMap: a map as the scene painter needs it: a colour for each cell, a picture for each face."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QBrush, QColor, QImage, QTransform

from layout_app.geometry.arrays import IntArray
from layout_app.model.plates import Face
from layout_app.window.colours import NO_GROUP, Theme
from layout_app.window.maps.colour_maps import UNKNOWN, ColourMap, Range, colour_map
from layout_app.window.maps.kinds import Kind
from layout_app.window.maps.rasters import Frame
from layout_app.window.maps.scene_lines import SegmentLines

BAND = 4  # levels that cells of one stamp share: sixty-odd colours are as many as are told apart side by side
# looks of cells: FIRST_LOOK and a level, which is negative for marks; PLAIN is a cell the map says nothing of
FIRST_LOOK, PLAIN = 1000, 900
NO_RANGE = Range(0.0, 1.0)
FADED = 0.4  # how strongly a map of before is drawn


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Part of a face as coloured pixels."""

    image: QImage
    frame: Frame

    @property
    def bounds_mm(self) -> QRectF:
        """What it covers, layout coordinates."""
        frame = self.frame
        width, height = frame.n_columns / frame.px_per_mm, frame.n_rows / frame.px_per_mm
        return QRectF(frame.x_mm, frame.y_mm - height, width, height)

    def brush(self) -> QBrush:
        """Return the brush that puts every pixel where it belongs in layout coordinates."""
        brush = QBrush(self.image)
        per_px = 1 / self.frame.px_per_mm
        brush.setTransform(QTransform(per_px, 0, 0, -per_px, self.frame.x_mm, self.frame.y_mm))
        return brush


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SceneMap:
    """A map in its range; of `kind` None there are only lines.

    Attributes
    ----------
    is_before : it is of a layout of before
    title : what it shows, by which model, at which current
    has_below, has_above : whether values lie outside the range
    cell_levels : (n,) the step of each cell's colour, on maps of cells
    pictures : for each face its pictures, the sharpest first, on maps of sheet
    lines : stream lines of segments, by number
    flows_back : the current looked at runs against their direction
    """

    kind: Kind | None = None
    span: Range = NO_RANGE
    is_before: bool = False
    title: str = ""
    has_below: bool = False
    has_above: bool = False
    cell_levels: IntArray | None = None
    pictures: dict[Face, tuple[Picture, ...]] = field(default_factory=dict)
    lines: dict[int, SegmentLines] = field(default_factory=dict)
    flows_back: bool = False

    @property
    def colours(self) -> ColourMap:
        """The colour map in use."""
        return colour_map(self.kind.colours if self.kind is not None else "sequential")

    @property
    def is_of_cells(self) -> bool:
        """Whether cells carry it."""
        return self.kind is not None and self.kind.is_of_cells

    @property
    def is_of_sheet(self) -> bool:
        """Whether metal carries it."""
        return self.kind is not None and not self.kind.is_of_cells

    def looks(self, tints: IntArray) -> IntArray:
        """Return the look of each cell in place of its tint."""
        if self.kind is None:
            return tints
        levels = self.cell_levels
        if levels is None or len(levels) != len(tints):
            return np.full(len(tints), PLAIN)
        banded = np.minimum(levels // BAND * BAND + BAND // 2, self.colours.n_levels - 1)
        known = FIRST_LOOK + np.where(levels >= 0, banded, levels)
        return np.where(levels == UNKNOWN, NO_GROUP, known)

    def colour(self, look: int, theme: Theme) -> QColor:
        """Return the colour of a look."""
        if look <= PLAIN:
            return theme.tint(NO_GROUP if look == PLAIN else look)
        colour = self.colours.colour(look - FIRST_LOOK)
        return faded(colour, theme) if self.is_before else colour

    def picture(self, face: Face, within_mm: QRectF) -> Picture | None:
        """Return the picture for what is painted inside a rectangle: the sharpest that covers it, or that of all."""
        covering = [each for each in self.pictures.get(face, ()) if each.bounds_mm.contains(within_mm)]
        shown = covering or self.pictures.get(face, ())[-1:]
        return shown[0] if shown else None


def faded(colour: QColor, theme: Theme) -> QColor:
    """Return a colour as it looks on a map of before: mostly the floor's."""
    floor = theme.colour("floor")
    mixed = [FADED * a + (1 - FADED) * b for a, b in zip(colour.getRgbF()[:3], floor.getRgbF()[:3], strict=True)]
    return QColor.fromRgbF(*mixed)
