"""Writing: a layout as the JSON text of its saved file.

The order of fields is that of the dataclasses, cells last; one field, one vertex or one cell stands on a line. Numbers
read back as exactly the number they were. Coordinates are written with six decimals, a nanometre, when that is exact,
so that columns line up and a tidy drawing stays tidy; otherwise, and for all other numbers, with the fewest digits that
are exact.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import fields
from typing import Any, get_type_hints

from layout_app.geometry.contours import Contour
from layout_app.model.cells import Cells
from layout_app.model.layouts import Layout

STEP = "  "
LOCKED = ', "locked": true'
# Younger than the first files of version 1: what lacks them reads everywhere
WRITTEN_WHEN_USED = {"overrides", "more_near_mm"}


def layout_text(layout: Layout, head: dict[str, str | int]) -> str:
    """Return a layout as JSON text, the fields of `head` first."""
    lines = [f"{STEP}{json.dumps(key)}: {json.dumps(value)}" for key, value in head.items()]
    return "{\n" + ",\n".join(lines + _fields(layout, STEP)) + "\n}\n"


def _fields(record: Any, pad: str) -> list[str]:
    kinds = get_type_hints(type(record))
    used = [f for f in fields(record) if f.name not in WRITTEN_WHEN_USED or getattr(record, f.name)]
    ordered = sorted(used, key=lambda field: field.name == "cells")
    return [f'{pad}"{f.name}": {_value(getattr(record, f.name), pad, is_count=kinds[f.name] is int)}' for f in ordered]


def _value(value: Any, pad: str, is_count: bool = False) -> str:
    if value is None or isinstance(value, bool | str) or is_count:
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, float | int):
        return repr(float(value))  # a length of 20 is 20.0 after reading, so it is written so at once
    if isinstance(value, Cells):
        return _block("[", _cell_rows(value, pad + STEP), pad, "]")
    if isinstance(value, Contour):
        return _block("[", _vertex_rows(value, pad + STEP), pad, "]")
    if not isinstance(value, tuple):
        return _block("{", _fields(value, pad + STEP), pad, "}")
    if all(isinstance(item, int | float) for item in value):
        return "[" + ", ".join(_value(item, pad) for item in value) + "]"
    return _block("[", (f"{pad}{STEP}{_value(item, pad + STEP)}" for item in value), pad, "]")


def _block(left: str, lines: Iterable[str], pad: str, right: str) -> str:
    body = ",\n".join(lines)
    return f"{left}\n{body}\n{pad}{right}" if body else left + right


def _cell_rows(cells: Cells, pad: str) -> list[str]:
    """A lock is written where there is one: files without stay as they were before there were locks."""
    rows = zip(cells.centres_mm.tolist(), cells.groups.tolist(), cells.locked.tolist(), strict=True)
    return [
        f'{pad}{{"x_mm": {_coordinate(x)}, "y_mm": {_coordinate(y)}, "group": {group}{LOCKED if is_locked else ""}}}'
        for (x, y), group, is_locked in rows
    ]


def _vertex_rows(contour: Contour, pad: str) -> list[str]:
    rows = zip(contour.vertices_mm.tolist(), contour.bulges.tolist(), strict=True)
    return [
        f'{pad}{{"x_mm": {_coordinate(x)}, "y_mm": {_coordinate(y)}, "bulge": {bulge!r}}}' for (x, y), bulge in rows
    ]


def _coordinate(value_mm: float) -> str:
    text = f"{value_mm:.6f}"
    return text if float(text) == value_mm else repr(value_mm)
