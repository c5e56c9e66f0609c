"""What is drawn over the scene: chosen things, places of findings, rulers, the word that it is seen from below."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QCoreApplication, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from layout_app.window.lengths import PER_MM
from layout_app.window.metal_paths import path_of
from layout_app.window.sprites import Draw, in_view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout_app.geometry.arrays import PointArray
    from layout_app.window.drawing import Drawing

translate = QCoreApplication.translate

RULER_PX = 22  # desktop pixels
MOST_MARKS = 200  # places marked for one finding
LABEL_GAP_PX = 70  # ruler labels stand at least this far apart


def ruler_px(canvas: Drawing) -> float:
    """Return the width of the rulers, device pixels."""
    return RULER_PX * canvas.text_ratio


def overlay_font(canvas: Drawing, size_px: float, is_bold: bool = False) -> QFont:
    """Return the canvas's font in a size of desktop pixels; it is larger where the system's font is."""
    font = QFont(canvas.font())
    font.setPixelSize(max(round(size_px * canvas.text_ratio), 1))
    font.setBold(is_bold)
    return font


def paint_choice(painter: QPainter, canvas: Drawing) -> None:
    """Ring the chosen cells; outline the chosen segment."""
    scene, view, ratio = canvas.scene, canvas.view, canvas.ratio
    accent = canvas.theme.colour("accent")
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if canvas.chosen_cells:
        centres_mm = scene.layout.cells.centres_mm[sorted(canvas.chosen_cells)]
        centres_mm = centres_mm[in_view(centres_mm, view.visible_mm(), scene.layout.cell_type.diameter_mm)]
        diameter = scene.layout.cell_type.diameter_mm * view.px_per_mm + 3 * ratio
        look = ("chosen", accent.rgba(), ratio)
        canvas.sprites.stamp(
            painter, view.to_screen(centres_mm), diameter + 5 * ratio, look, ring_drawer(accent, ratio)
        )
    chosen = [segment for segment in scene.segments if segment.number == canvas.chosen_segment]
    for path in canvas.metal_paths(chosen):
        painter.setPen(QPen(accent, 3 * ratio))
        painter.drawPath(view.q_transform().map(path.solid))
    necks = canvas.document.necks if chosen and canvas.document.is_settled else ()  # else they may be of metal before
    for neck in necks:
        if neck is not None and neck.segment == canvas.chosen_segment:
            _paint_neck(painter, canvas, neck.lines_mm)


def paint_overrides(painter: QPainter, canvas: Drawing) -> None:
    """Mark every segment in view that is unlike the others: a small badge with ≠ amid it; outline its own keep-outs."""
    scene, view, ratio = canvas.scene, canvas.view, canvas.ratio
    for override in scene.layout.overrides:
        segment = next((each for each in scene.segments if each.number == override.segment), None)
        if segment is None or segment.face not in scene.faces or not len(segment.windows_mm):
            continue
        painter.setPen(QPen(canvas.theme.colour("accent"), 1.5 * ratio, Qt.PenStyle.DotLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(view.q_transform().map(path_of(override.keep_outs)))
        centres = segment.window_centres_mm
        middle = centres[np.hypot(*(centres - centres.mean(axis=0)).T).argmin()] + (
            scene.layout.lattice.along_mm / 2,
            0,
        )
        x, y = view.to_screen(middle)[0].tolist()
        painter.setPen(QPen(canvas.theme.colour("floor"), 1.5 * ratio))
        painter.setBrush(canvas.theme.colour("accent"))
        half = 9 * canvas.text_ratio
        box = QRectF(x - half, y - half, 2 * half, 2 * half)
        painter.drawRoundedRect(box, 5 * ratio, 5 * ratio)
        painter.setFont(overlay_font(canvas, 13, is_bold=True))
        painter.setPen(QColor("#10161b") if canvas.theme.is_dark else QColor("white"))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "≠")


def ring_drawer(colour: QColor, ratio: float) -> Draw:
    """Return what draws a ring around a can, light under its colour so that it reads on any tint."""

    def draw(painter: QPainter, x: float, y: float, size_px: float) -> None:
        radius = size_px / 2 - 2.5 * ratio
        wide = min(3.0 * ratio, max(radius * 0.4, 1.0))  # small cells must not vanish under their rings
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in (QPen(QColor(255, 255, 255, 220), wide * 5 / 3), QPen(colour, wide)):
            painter.setPen(pen)
            painter.drawEllipse(QPointF(x, y), radius, radius)

    return draw


def _paint_neck(painter: QPainter, canvas: Drawing, lines_mm: Sequence[PointArray]) -> None:
    """The narrowest line across a segment, dashed, light under dark so that it reads on any tint."""
    for colour, width in ((QColor(255, 255, 255, 210), 5), (canvas.theme.colour("error"), 2.5)):
        painter.setPen(QPen(colour, width * canvas.ratio, Qt.PenStyle.SolidLine if width > 3 else Qt.PenStyle.DashLine))
        for line in lines_mm:
            painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in canvas.view.to_screen(line).tolist()]))


def severity_shape(severity: str, x: float, y: float, size: float) -> QPolygonF:
    """Return the outline that stands for a severity: octagon, triangle, or circle; told apart without colour."""
    corners, first = {"error": (8, math.pi / 8), "warning": (3, -math.pi / 2), "note": (24, 0.0)}[severity]
    stretch = 1.25 if severity == "warning" else 1.0
    turn = 2 * math.pi / corners
    return QPolygonF(
        [
            QPointF(x + stretch * size * math.cos(first + k * turn), y + stretch * size * math.sin(first + k * turn))
            for k in range(corners)
        ]
    )


def paint_severity(painter: QPainter, colour: QColor, severity: str, x: float, y: float, size: float) -> None:
    """Draw the mark of a severity: its shape with its sign inside."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawPolygon(severity_shape(severity, x, y, size))
    font = QFont(painter.font())
    font.setPixelSize(max(round(size * 1.35), 6))
    font.setBold(True)
    painter.setFont(font)
    painter.setPen(QColor("white") if colour.lightness() < 150 else QColor("#15191d"))
    drop = size * (0.12 if severity == "warning" else 0.0)
    box = QRectF(x - 2 * size, y - 2 * size + drop, 4 * size, 4 * size)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "!" if severity != "note" else "i")


def paint_findings(painter: QPainter, canvas: Drawing) -> None:
    """Mark the places of findings, the gravest last and so on top.

    Marks stand a little up and to the right, so that signs and numbers stay legible. Each finding has one full mark;
    where it has more places, they get small ones. Marks that would cover one of their own kind are left out.
    """
    size = 8 * canvas.text_ratio
    aside = min(canvas.scene.layout.cell_type.diameter_mm / 2 * canvas.view.px_per_mm * 0.7, 18 * canvas.ratio)
    painter.setFont(canvas.font())
    has_places = any(finding.places_mm for finding in canvas.document.findings)
    labels = [QRectF(*box) for box in canvas._painter.chip_boxes(canvas.view, canvas.scene)] if has_places else []
    for severity in ("note", "warning", "error"):
        taken: set[tuple[int, int]] = set()
        found = [f.places_mm[:MOST_MARKS] for f in canvas.document.findings if f.severity == severity and f.places_mm]
        for step, mark_px in ((0, size), (1, 0.6 * size)):  # first places before further ones
            places = [place for some in found for place in (some[:1] if step == 0 else some[1:])]
            marks_px = canvas.view.to_screen(np.array(places).reshape(-1, 2)) + (aside, -aside)
            for x, y in _in_sight(_above_labels(marks_px, labels, size), canvas, size).tolist():
                spot = (round(x / (2 * size)), round(y / (2 * size)))
                if spot not in taken:
                    taken.add(spot)
                    paint_severity(painter, canvas.theme.colour(severity), severity, x, y, mark_px)


def _above_labels(marks_px: PointArray, labels: Sequence[QRectF], size: float) -> PointArray:
    """Return (n, 2) marks, device pixels: over its label the ones that would cover a group's number.

    All marks at once, since an unhappy module has thousands and a label for every group.
    """
    x, y = marks_px.T
    top = np.full(len(marks_px), np.inf)
    for box in labels:
        room = box.adjusted(-size, -size, size, size)
        covers = (x >= room.left()) & (x <= room.right()) & (y >= room.top()) & (y <= room.bottom())
        top[covers] = np.minimum(top[covers], box.top())
    return np.column_stack([x, np.where(np.isfinite(top), top - size, y)])


def _in_sight(marks_px: PointArray, canvas: Drawing, size: float) -> PointArray:
    """Return those of (n, 2) marks, device pixels, of which something can be seen."""
    edge = np.array([canvas.view.width_px, canvas.view.height_px]) + size
    return marks_px[((marks_px > -size) & (marks_px < edge)).all(axis=1)]


def paint_flash(painter: QPainter, canvas: Drawing, places: list[tuple[float, float]], left: float) -> None:
    """Rings that close in on places, three times; `left` runs from 1 to 0."""
    if not places:
        return
    phase = (1 - left) * 3 % 1
    colour = canvas.theme.colour("accent", 1 - phase * 0.8)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(colour, 3 * canvas.ratio))
    radius = (14 + 26 * (1 - phase)) * canvas.ratio
    for x, y in canvas.view.to_screen(np.array(places)).tolist():
        painter.drawEllipse(QPointF(x, y), radius, radius)


def ruler_step_mm(px_per_mm: float, gap_px: float) -> float:
    """Return the least of 1, 2, 5 times a power of ten that is at least `gap_px` wide on the screen.

    >>> ruler_step_mm(1.0, 70.0)
    100.0
    """
    least = gap_px / px_per_mm
    power = 10.0 ** math.floor(math.log10(least))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= least * (1 - 1e-9))


def paint_rulers(painter: QPainter, canvas: Drawing) -> None:
    """Rulers along the top and left edges, in layout coordinates, in the unit shown."""
    theme, view = canvas.theme, canvas.view
    width = ruler_px(canvas)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.fillRect(QRectF(0, 0, view.width_px, width), theme.colour("ruler"))
    painter.fillRect(QRectF(0, 0, width, view.height_px), theme.colour("ruler"))
    painter.setFont(overlay_font(canvas, 10))
    _ticks(painter, canvas, width, is_across=True)
    _ticks(painter, canvas, width, is_across=False)
    painter.fillRect(QRectF(0, 0, width, width), theme.colour("ruler"))
    painter.setPen(QPen(theme.colour("faint"), 1))
    painter.drawLine(QLineF(0, width, view.width_px, width))
    painter.drawLine(QLineF(width, 0, width, view.height_px))
    painter.setPen(theme.colour("ink", 0.65))
    painter.drawText(QRectF(0, 0, width, width), Qt.AlignmentFlag.AlignCenter, "in" if canvas.unit == "inch" else "mm")
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)


def _ticks(painter: QPainter, canvas: Drawing, width: float, is_across: bool) -> None:
    view, theme, ratio = canvas.view, canvas.theme, canvas.ratio
    unit_mm = 1 / PER_MM[canvas.unit]
    step = ruler_step_mm(view.px_per_mm * unit_mm, LABEL_GAP_PX * canvas.text_ratio) * unit_mm
    x0, y0, x1, y1 = view.visible_mm()
    low, high = (x0, x1) if is_across else (y0, y1)
    fine = step / 10 if step / 10 * view.px_per_mm >= 5 * ratio else step / 5
    values = np.arange(math.floor(low / fine), math.ceil(high / fine) + 1) * fine + 0.0
    points = np.column_stack([values, np.full(len(values), y0)] if is_across else [np.full(len(values), x0), values])
    places = view.to_screen(points)[:, 0 if is_across else 1]
    painter.setPen(QPen(theme.colour("faint"), ratio))
    lines = []
    for value, place in zip(values.tolist(), places.round().tolist(), strict=True):
        is_long = abs(value / step - round(value / step)) < 1e-6
        length = width * (0.45 if is_long else 0.2)
        lines.append(
            QLineF(place, width - length, place, width) if is_across else QLineF(width - length, place, width, place)
        )
    painter.drawLines(lines)
    painter.setPen(theme.colour("ink", 0.8))
    for value, place in zip(values.tolist(), places.tolist(), strict=True):
        half = painter.fontMetrics().horizontalAdvance(f"{value / unit_mm:.6g}") / 2 + ratio
        end = view.width_px if is_across else view.height_px
        if abs(value / step - round(value / step)) < 1e-6 and width + half <= place <= end - half:  # none cut off
            _tick_label(painter, f"{value / unit_mm:.6g}", place, width, is_across)


def _tick_label(painter: QPainter, text: str, place: float, width: float, is_across: bool) -> None:
    text, half = text.replace("-", "−"), LABEL_GAP_PX * width / RULER_PX
    if is_across:
        painter.drawText(QRectF(place - half, 0, 2 * half, width * 0.6), Qt.AlignmentFlag.AlignCenter, text)
        return
    painter.save()
    painter.translate(width * 0.3, place)
    painter.rotate(-90)
    painter.drawText(QRectF(-half, -width * 0.3, 2 * half, width * 0.6), Qt.AlignmentFlag.AlignCenter, text)
    painter.restore()


def paint_banner(painter: QPainter, canvas: Drawing) -> None:
    """Say from where the module is seen; from below, strongly, because the drawing is mirrored."""
    side, ratio, theme, ruler = canvas.scene.side, canvas.text_ratio, canvas.theme, ruler_px(canvas)
    text = {
        "top": translate("canvas", "Top face"),
        "bottom": translate("canvas", "Bottom face, seen from below (mirrored)"),
        "through": translate("canvas", "Both faces, seen from above (bottom dashed)"),
    }[side]
    font = overlay_font(canvas, 12, is_bold=side == "bottom")
    if QFontMetricsF(font).horizontalAdvance(text) > canvas.view.width_px - ruler - 40 * ratio:
        text = {
            "top": translate("canvas", "Top"),
            "bottom": translate("canvas", "From below"),
            "through": translate("canvas", "Both faces"),
        }[side]
    width = QFontMetricsF(font).horizontalAdvance(text) + 24 * ratio
    box = QRectF((canvas.view.width_px + ruler - width) / 2, ruler + 10 * ratio, width, 26 * ratio)
    is_below = side == "bottom"
    painter.setPen(QPen(theme.colour("faint"), ratio))
    painter.setBrush(theme.colour("accent") if is_below else theme.colour("ruler", 0.92))
    painter.drawRoundedRect(box, 13 * ratio, 13 * ratio)
    painter.setFont(font)
    is_light_text = is_below and not theme.is_dark
    painter.setPen(QColor("white") if is_light_text else QColor("#10161b") if is_below else theme.colour("ink"))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
