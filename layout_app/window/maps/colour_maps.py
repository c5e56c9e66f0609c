"""Colour maps: the colour of a value, from files in resources/colour_maps; how they came about is told there."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from PySide6.QtGui import QColor

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.model.resources import resource

BELOW, ABOVE, UNKNOWN = -1, -2, -3  # levels of values outside the range, and of those there are none of
BY_ROUNDING = 1e-9  # of the range: further out is outside


@dataclass(frozen=True, slots=True)
class Range:
    """The values the two ends of a colour map stand for; `high` is above `low`."""

    low: float
    high: float

    def shares(self, values: FloatArray) -> FloatArray:
        """Return where values lie in the range: 0 at its low end, 1 at its high one."""
        with np.errstate(over="ignore"):  # a range next to nothing: all else lies infinitely far out
            return (np.asarray(values, dtype=np.float64) - self.low) / (self.high - self.low)


@dataclass(frozen=True, eq=False)
class ColourMap:
    """Colours in even steps. `codes` are #rrggbb; `below` and `above` mark values outside the range."""

    codes: tuple[str, ...]
    below: str
    above: str

    @property
    def n_levels(self) -> int:
        """How many steps there are."""
        return len(self.codes)

    def levels(self, values: FloatArray, span: Range) -> IntArray:
        """Return the step of each value, or BELOW, ABOVE or UNKNOWN."""
        share = span.shares(values)
        known = ~np.isnan(share)
        within = np.clip(np.where(known, share, 0.0), 0.0, 1.0)
        level = np.minimum((within * self.n_levels).astype(np.int64), self.n_levels - 1)
        level[share < -BY_ROUNDING] = BELOW
        level[share > 1 + BY_ROUNDING] = ABOVE
        return np.where(known, level, UNKNOWN)

    def colour(self, level: int) -> QColor:
        """Return the colour of a step, or of a mark."""
        return QColor({BELOW: self.below, ABOVE: self.above, UNKNOWN: "#808080"}.get(level) or self.codes[level])

    def pixels(self, values: FloatArray, span: Range) -> np.ndarray:
        """Return the uint32 0xaarrggbb of each value; what is not known is transparent."""
        return self._table[self.levels(values, span)]

    @cached_property
    def _table(self) -> np.ndarray:
        """Levels from 0 up, then UNKNOWN, ABOVE, BELOW, so that these three count from the end."""
        solid = [0xFF000000 | int(code[1:], 16) for code in (*self.codes, "#000000", self.above, self.below)]
        table = np.array(solid, dtype=np.uint32)
        table[UNKNOWN] = 0
        return table


@cache
def colour_map(name: str) -> ColourMap:
    """Return one of our colour maps: "sequential" or "diverging"."""
    told = json.loads(resource(f"colour_maps/{name}.json").read_text(encoding="utf-8"))
    return ColourMap(tuple(told["steps"]), told["below"], told["above"])
