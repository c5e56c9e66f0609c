"""Choices: everything a layout is made of but its cells, as a flat list of names and values."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from layout_app.geometry.contours import Contour
from layout_app.model.layouts import Layout

APART_FIELDS = {"cells", "name", "notes"}  # no setting of the module
ENDS = ("negative", "positive")


def choices(layout: Layout) -> Iterator[tuple[str, Any]]:
    """Yield every choice of a layout with the way to it in the saved file, e.g. ("plates.gap_mm", 1.5).

    Cells, name and notes are left out. A loop comes as a Loop, which tells its size.
    """
    for name, value in _fields(layout):
        if name not in APART_FIELDS:
            yield from _flattened(name, value)


def _fields(record: Any) -> Iterator[tuple[str, Any]]:
    return ((field.name, getattr(record, field.name)) for field in fields(record))


def _flattened(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Contour):
        yield name, Loop(value)
    elif is_dataclass(value):
        for field, inner in _fields(value):
            yield from _flattened(f"{name}.{field}", inner)
    elif isinstance(value, tuple) and any(is_dataclass(item) or isinstance(item, Contour) for item in value):
        names: Callable[[int], str] = (lambda k: ENDS[k]) if name == "terminals" else (lambda k: str(k + 1))
        for k, item in enumerate(value):
            yield from _flattened(f"{name}.{names(k)}", item)
    else:
        yield name, value


@dataclass(frozen=True)
class Loop:
    """A closed loop as a setting: compared by shape, told by size."""

    contour: Contour

    def __str__(self) -> str:
        x0, y0, x1, y1 = self.contour.bounds_mm
        return f"{x1 - x0:.6g} × {y1 - y0:.6g} mm at ({x0:.6g}, {y0:.6g}), {self.contour.area_mm2:.6g} mm²"
