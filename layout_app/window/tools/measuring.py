"""Measuring: from anything to anything, cells, windows, walls, keep-outs, metal, points; nothing is changed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QCoreApplication, QLineF, QPointF, Qt
from PySide6.QtGui import QPainter, QPen

from layout_app.geometry.contours import Contour
from layout_app.window.lengths import length_text, number_text
from layout_app.window.metal_paths import path_of
from layout_app.window.snapping import nearest_on, snapped_point
from layout_app.window.tools.base import Tool
from layout_app.window.tools.ghosts import paint_note

if TYPE_CHECKING:
    from layout_app.window.canvas import Canvas
    from layout_app.window.lengths import Unit

translate = QCoreApplication.translate

REACH_PX = 6  # desktop pixels: an edge is meant when the pointer is so near
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Mark:
    """One end of a measurement. A round thing has a radius, an edge a loop, a point neither."""

    name: str
    kind: str  # cell, window, wall, metal, point
    at_mm: Place
    radius_mm: float = 0.0
    loop: Contour | None = None
    owner: int | None = None  # the segment, for a window or an edge of metal


@dataclass(frozen=True, slots=True)
class Distance:
    """The shortest way between two marks, and between centres where both are round."""

    word: str
    length_mm: float
    from_mm: Place
    to_mm: Place
    pitch_mm: float | None = None

    def text(self, unit: Unit) -> str:
        """Return it in words."""
        dx, dy = self.to_mm[0] - self.from_mm[0], self.to_mm[1] - self.from_mm[1]
        lines = [f"{self.word} {length_text(self.length_mm, unit)}"]
        if self.pitch_mm is not None:
            lines.append(
                translate("measuring", "centre to centre {length_text}").format(
                    length_text=length_text(self.pitch_mm, unit)
                )
            )
        lines.append(f"x {number_text(dx, unit, is_signed=True)}, y {number_text(dy, unit, is_signed=True)} {unit}")
        return "\n".join(lines)


def distance(one: Mark, other: Mark) -> Distance:
    """Return how far two marks are apart: between edges, negative where round things overlap.

    Exact between round things and from round things to loops of lines and arcs; between two loops, arcs are taken as
    chords within 0.001 mm.
    """
    word = _word(one, other)
    if one.loop is None and other.loop is None:
        return _between_round(one, other, word)
    if one.loop is not None and other.loop is not None:
        from shapely import get_coordinates, shortest_line

        line = shortest_line(one.loop.polygon().exterior, other.loop.polygon().exterior)
        a, b = (tuple(point) for point in get_coordinates(line).tolist())
        return Distance(word, math.dist(a, b), a, b)
    if one.loop is not None:
        back = distance(other, one)
        return Distance(word, back.length_mm, back.to_mm, back.from_mm)
    foot = nearest_on(other.loop, one.at_mm)
    away = math.dist(one.at_mm, foot)
    rim = _towards(one.at_mm, foot, one.radius_mm)
    return Distance(word, away - one.radius_mm, rim, foot)


def _between_round(one: Mark, other: Mark, word: str) -> Distance:
    apart = math.dist(one.at_mm, other.at_mm)
    length = apart - one.radius_mm - other.radius_mm
    pitch = apart if one.radius_mm > 0 or other.radius_mm > 0 else None
    a = _towards(one.at_mm, other.at_mm, one.radius_mm)
    return Distance(word, length, a, _towards(other.at_mm, one.at_mm, other.radius_mm), pitch)


def _towards(start: Place, end: Place, length: float) -> Place:
    apart = math.dist(start, end)
    share = length / apart if apart > 0 else 0.0
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def _word(one: Mark, other: Mark) -> str:
    """What the trade calls the distance between two such things."""
    kinds = {one.kind, other.kind}
    if kinds <= {"window", "metal"} and "window" in kinds and one.owner == other.owner:
        return translate("measuring", "web")
    if kinds == {"metal"} and one.owner != other.owner:
        return translate("measuring", "insulation gap")
    if kinds == {"metal", "wall"}:
        return translate("measuring", "setback")
    return translate("measuring", "gap") if kinds <= {"cell", "wall"} else translate("measuring", "distance")


def mark_at(canvas: Canvas, at: QPointF) -> Mark:
    """Return what is meant by a place on the screen: an edge near by, else the cell there, else the point."""
    place_mm, reach_mm = canvas.view.to_layout(at.x(), at.y()), REACH_PX * canvas.ratio / canvas.view.px_per_mm
    edges = [*_window_edges(canvas, place_mm, reach_mm), *_loop_edges(canvas, place_mm, reach_mm)]
    if edges:
        return min(edges, key=lambda pair: pair[0])[1]
    cell = canvas.cell_at(*place_mm)
    if cell is not None:
        x, y = canvas.scene.layout.cells.centres_mm[cell].tolist()
        return Mark(
            translate("measuring", "cell {cell}").format(cell=cell + 1),
            "cell",
            (x, y),
            canvas.scene.layout.cell_type.diameter_mm / 2,
        )
    place_mm, word = snapped_point(canvas.snapping, canvas.scene.layout, place_mm, reach_mm)
    is_centre = word.startswith(translate("snapping", "centre of cell {number}").partition("{")[0])
    return Mark(word if is_centre else translate("measuring", "point"), "point", place_mm)


def _window_edges(canvas: Canvas, place_mm: Place, reach_mm: float) -> list[tuple[float, Mark]]:
    if "metal" not in canvas.scene.layers or "windows" not in canvas.scene.layers:
        return []
    found = []
    for segment in canvas.scene.segments:
        if segment.face not in canvas.scene.faces or not len(segment.windows_mm):
            continue
        x, y, radius = segment.windows_mm.T
        off = np.abs(np.hypot(x - place_mm[0], y - place_mm[1]) - radius)
        k = int(off.argmin())
        if off[k] <= reach_mm:
            name = translate("measuring", "window over cell {window_cells}").format(
                window_cells=int(segment.window_cells[k]) + 1
            )
            centre = (float(x[k]), float(y[k]))
            found.append((float(off[k]), Mark(name, "window", centre, float(radius[k]), owner=segment.number)))
    return found


def _loop_edges(canvas: Canvas, place_mm: Place, reach_mm: float) -> list[tuple[float, Mark]]:
    housing, scene = canvas.scene.layout.housing, canvas.scene
    loops: list[tuple[str, str, Contour, int | None]] = []
    if "housing" in scene.layers:
        loops = [(translate("measuring", "the wall"), "wall", housing.outline, None)]
        loops += [
            (translate("measuring", "keep-out {k}").format(k=k), "wall", loop, None)
            for k, loop in enumerate(housing.keep_outs, 1)
        ]
    if "metal" in scene.layers:
        shown = [segment for segment in scene.segments if segment.face in scene.faces]
        near = [path.segment for path in canvas.metal_paths(shown) if _is_near(path, place_mm, reach_mm)]
        loops += [
            (translate("measuring", "edge of segment {number}").format(number=s.number), "metal", loop, s.number)
            for s in near
            for loop in s.contours()
        ]
    found = []
    for name, kind, loop, owner in loops:
        foot = nearest_on(loop, place_mm)
        off = math.dist(foot, place_mm)
        if off <= reach_mm:
            found.append((off, Mark(name, kind, foot, loop=loop, owner=owner)))
    return found


def _is_near(path: Any, place_mm: Place, reach_mm: float) -> bool:
    box = path.bounds_mm.adjusted(-reach_mm, -reach_mm, reach_mm, reach_mm)
    return bool(box.contains(*place_mm))


class MeasureTool(Tool):
    """The first click marks one end, the second the other; the result stays until the next click or Esc."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self) -> None:
        self.first: Mark | None = None
        self.result: Distance | None = None
        self._hover: Mark | None = None
        self._ends: tuple[Mark, ...] = ()
        self._at: QPointF | None = None
        self._for: object = None

    def move(self, canvas: Canvas, at: QPointF, is_pressed: bool) -> None:
        self._at, self._hover = at, mark_at(canvas, at)
        canvas.update()

    def release(self, canvas: Canvas, at: QPointF) -> None:
        mark = mark_at(canvas, at)
        if self.first is None or self._for is not canvas.scene.layout:
            self.first, self.result, self._ends = mark, None, (mark,)
        else:
            self.result, self._ends, self.first = distance(self.first, mark), (self.first, mark), None
        self._for, self._hover = canvas.scene.layout, mark
        canvas.update()

    def give_up(self, canvas: Canvas) -> bool:
        had = self.first is not None or self.result is not None
        self.first, self.result, self._ends = None, None, ()
        canvas.update()
        return had

    def leave(self, canvas: Canvas) -> None:
        self._hover = self._at = None

    def paint(self, painter: QPainter, canvas: Canvas) -> None:
        if self._for is not canvas.scene.layout:
            self.first, self.result, self._ends = None, None, ()  # measured on another layout
        shown = self.result
        for mark in self._ends:
            self._outline(painter, canvas, mark)
        if shown is None and self._hover is not None:
            self._outline(painter, canvas, self._hover)
            shown = distance(self.first, self._hover) if self.first is not None else None
        if shown is not None:
            self._line(painter, canvas, shown)
        elif self._hover is not None and self._at is not None:
            paint_note(painter, canvas, self._at, self._hover.name)

    def _outline(self, painter: QPainter, canvas: Canvas, mark: Mark) -> None:
        accent, ratio, view = canvas.theme.colour("accent"), canvas.ratio, canvas.view
        painter.setPen(QPen(accent, 2 * ratio))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if mark.loop is not None:
            painter.drawPath(view.q_transform().map(path_of([mark.loop])))
            return
        x, y = view.to_screen(np.array([mark.at_mm]))[0].tolist()
        radius = mark.radius_mm * view.px_per_mm or 4 * ratio
        painter.drawEllipse(QPointF(x, y), radius, radius)

    def _line(self, painter: QPainter, canvas: Canvas, shown: Distance) -> None:
        (x0, y0), (x1, y1) = canvas.view.to_screen(np.array([shown.from_mm, shown.to_mm])).tolist()
        ratio, line = canvas.ratio, QLineF(x0, y0, x1, y1)
        tick = line.normalVector()
        tick.setLength(6 * ratio)
        half = tick.p2() - tick.p1()
        for colour, width in ((canvas.theme.colour("floor"), 4.5), (canvas.theme.colour("ink"), 1.8)):
            painter.setPen(QPen(colour, width * ratio))
            painter.drawLine(line)
            for end in (line.p1(), line.p2()):
                painter.drawLine(QLineF(end - half, end + half))
        paint_note(painter, canvas, line.p2(), shown.text(canvas.unit))
