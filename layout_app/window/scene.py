"""Scene: everything the canvas draws, as one value."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from PySide6.QtCore import QT_TRANSLATE_NOOP

from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face
from layout_app.plates.segments import Segment
from layout_app.window.colours import NO_GROUP, TINTS
from layout_app.window.maps.scene_map import SceneMap

Side = Literal["top", "bottom", "through"]
LAYERS = {
    "housing": QT_TRANSLATE_NOOP("layers", "Housing and keep-outs"),
    "sites": QT_TRANSLATE_NOOP("layers", "Empty sites"),
    "cells": QT_TRANSLATE_NOOP("layers", "Cells"),
    "numbers": QT_TRANSLATE_NOOP("layers", "Group and cell numbers"),
    "signs": QT_TRANSLATE_NOOP("layers", "Polarity signs"),
    "metal": QT_TRANSLATE_NOOP("layers", "Metal"),
    "windows": QT_TRANSLATE_NOOP("layers", "Windows"),
    "findings": QT_TRANSLATE_NOOP("layers", "Places of findings"),
    "differences": QT_TRANSLATE_NOOP("layers", "Differences from the reference"),
    "hatching": QT_TRANSLATE_NOOP("layers", "Hatching of groups"),
}
OFF_AT_FIRST = frozenset({"hatching"})
NO_PLACES = np.zeros((0, 2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A layout with what was derived from it and how it is looked at. `is_stale` greys the metal: it is of before.

    `map` colours cells or metal by what the currents do.
    """

    layout: Layout
    segments: tuple[Segment, ...] = ()
    free_sites_mm: PointArray = field(default_factory=lambda: NO_PLACES)
    tints: dict[int, int] = field(default_factory=dict)
    side: Side = "top"
    layers: frozenset[str] = frozenset(LAYERS) - OFF_AT_FIRST
    is_stale: bool = False
    map: SceneMap | None = None

    def is_same(self, other: Scene) -> bool:
        """Whether the two would look alike because they are made of the same objects."""
        parts = ("layout", "segments", "free_sites_mm", "map")
        rest = ("tints", "side", "layers", "is_stale")
        return all(getattr(self, part) is getattr(other, part) for part in parts) and all(
            getattr(self, part) == getattr(other, part) for part in rest
        )

    @property
    def faces(self) -> tuple[Face, ...]:
        """The faces whose metal is shown, the nearer one last."""
        return ("bottom", "top") if self.side == "through" else (self.side,)

    def cell_tints(self) -> IntArray:
        """Return the tint index of each cell."""
        n_groups = self.layout.n_series
        table = np.array(
            [NO_GROUP] + [self.tints.get(k, (k - 1) % len(TINTS)) for k in range(1, n_groups + 1)], dtype=np.int64
        )
        return table[self.layout.cells.groups]

    def cell_looks(self) -> IntArray:
        """Return the tint index of each cell or, under a map, the look that the map gives it."""
        tints = self.cell_tints()
        return tints if self.map is None else self.map.looks(tints)

    def shows_plus(self) -> np.ndarray:
        """Return (n,) which cells turn their positive end to the viewer; through the module the top counts."""
        up = self.layout.positive_up
        if self.side == "bottom" and self.layout.cell_type.has_opposite_contacts:
            return ~up
        return up

    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Return the rectangle around everything drawn, save what arcs of metal bulge beyond their ends."""
        corners = [np.array(self.layout.housing.outline.bounds_mm).reshape(2, 2)]
        corners += [contour.vertices_mm for segment in self.segments for contour in segment.contours()]
        low, high = np.vstack(corners).min(axis=0), np.vstack(corners).max(axis=0)
        return (*low.tolist(), *high.tolist())
