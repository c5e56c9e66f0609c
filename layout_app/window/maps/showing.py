"""Showing: what is chosen and what there is of it, as a map for the scene."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.window.maps.colour_maps import ABOVE, BELOW, Range, colour_map
from layout_app.window.maps.kinds import Kind, translate
from layout_app.window.maps.picture_work import fixed
from layout_app.window.maps.readings import number_words
from layout_app.window.maps.scene_lines import SegmentLines
from layout_app.window.maps.scene_map import SceneMap
from layout_app.window.maps.values import automatic_range, cell_values, scale

if TYPE_CHECKING:
    from layout_app.window.maps.desk import MapDesk

LOOKS = ("kind", "span", "is_before", "title", "has_below", "has_above", "pictures", "lines", "flows_back")


def scene_map_of(desk: MapDesk) -> SceneMap | None:
    """Return the map of a desk; None where nothing is chosen or no current can flow."""
    kind, lines = desk.choice.kind, _lines(desk)
    if desk.network is None or (kind is None and not lines):
        return None
    if kind is None:
        return SceneMap(lines=lines, is_before=not desk.is_current, flows_back=desk.factor < 0)
    scene_map = _of_cells(desk, kind) if kind.is_of_cells else _of_sheet(desk, kind)
    return None if scene_map is None else replace(scene_map, lines=lines, flows_back=desk.factor < 0)


def kept(shown: SceneMap | None, wanted: SceneMap | None) -> SceneMap | None:
    """Return the map shown when the one wanted would look the same: then nothing is painted anew."""
    if shown is None or wanted is None or any(getattr(shown, name) != getattr(wanted, name) for name in LOOKS):
        return wanted
    a, b = shown.cell_levels, wanted.cell_levels
    is_same = a is b or (a is not None and b is not None and np.array_equal(a, b))
    return shown if is_same else wanted


def _of_cells(desk: MapDesk, kind: Kind) -> SceneMap | None:
    found, choice = desk.found, desk.choice
    layout = desk.result.layout if desk.is_by_sheet else desk.document.currents_of
    if found is None or layout is None:
        return None
    values = cell_values(kind, layout, found) * scale(kind, found, choice.current_a)
    span = fixed(automatic_range(kind, values), choice.low, choice.high)
    levels = colour_map(kind.colours).levels(values, span)
    is_before = desk.is_by_sheet and not desk.is_current
    return SceneMap(
        kind=kind, span=span, is_before=is_before, title=_title(desk, kind, is_before),
        has_below=bool((levels == BELOW).any()), has_above=bool((levels == ABOVE).any()), cell_levels=levels,
    )  # fmt: skip


def _of_sheet(desk: MapDesk, kind: Kind) -> SceneMap:
    made, choice = desk.pictures.made, desk.choice
    if made is None or made.wish.kind is not kind:
        empty = Range(0.0, 1.0) if kind.middle is None else Range(kind.middle - 1, kind.middle + 1)
        title = _title(desk, kind, is_before=not desk.is_current)
        return SceneMap(kind=kind, span=fixed(empty, choice.low, choice.high), title=title, is_before=True)
    is_before = not desk.is_current or made.wish.result is not desk.result
    return SceneMap(
        kind=kind, span=made.span, is_before=is_before, title=_title(desk, kind, is_before),
        has_below=made.has_below, has_above=made.has_above, pictures=made.pictures,
    )  # fmt: skip


def _lines(desk: MapDesk) -> dict[int, SegmentLines]:
    traced = desk.sheet.lines
    is_shown = desk.choice.shows_lines and traced is not None and traced.of is desk.result
    return traced.paths if is_shown else {}


def _title(desk: MapDesk, kind: Kind, is_before: bool) -> str:
    by_sheet = desk.is_by_sheet or not kind.is_of_cells
    model = translate("Maps", "by the sheet model") if by_sheet else translate("Maps", "by the network")
    parts = [kind.words, translate("Maps", "at {current} A").format(current=number_words(desk.current_a)), model]
    if by_sheet and desk.result is None:
        is_working = desk.sheet.is_working
        parts.insert(0, translate("Maps", "Being worked out") if is_working else translate("Maps", "Not worked out"))
    elif is_before:  # first, for it must not be what a short bar leaves out
        parts.insert(0, translate("Maps", "Of before the last edits"))
    return " · ".join(parts)
