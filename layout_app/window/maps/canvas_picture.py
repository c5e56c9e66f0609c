"""Picture of the canvas: what the drawing shows, with its map, marks and colour bar, on white, as PNG, SVG or PDF."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QMarginsF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QImage, QPageSize, QPainter, QPdfWriter
from PySide6.QtSvg import QSvgGenerator

from layout_app.model.errors import LayoutError
from layout_app.window.colours import LIGHT
from layout_app.window.drawing import Drawing
from layout_app.window.maps.colour_bar import BarPainter
from layout_app.window.maps.kinds import translate
from layout_app.window.maps.marks import MarkPainter, Marks
from layout_app.window.painting import ScenePainter
from layout_app.window.sizes import text_scale
from layout_app.window.sprites import DirectSprites

PER_INCH = 96  # desktop pixels, the units of vector pictures
PIXELS = 2.0  # of a PNG for each desktop pixel
PAPER = replace(LIGHT, page="#ffffff", floor="#ffffff", ruler="#ffffff")
KINDS = (".png", ".svg", ".pdf")


def save_picture(drawing: Drawing, path: Path, marks: Marks | None = None) -> None:
    """Save what a drawing shows, and marks over it.

    Raises
    ------
    LayoutError : an ending that is none of KINDS, a file that cannot be written
    """
    if path.suffix.lower() not in KINDS:
        told = translate(
            "Maps", "A picture ends in .png, .svg or .pdf, not in “{ending}”. Give the file such an ending."
        )
        raise LayoutError(told.format(ending=path.suffix))
    picture = _CanvasPicture(drawing, marks or Marks())
    {".png": picture.save_png, ".svg": picture.save_svg, ".pdf": picture.save_pdf}[path.suffix.lower()](path)


class _CanvasPicture:
    """The canvas, the bar at its right, and a line of words under both; desktop pixels."""

    def __init__(self, drawing: Drawing, marks: Marks) -> None:
        self.marks = marks
        self.drawing, self.font = drawing, QFont(drawing.font())
        scene_map = drawing.scene.map
        self.bar = BarPainter(scene_map, PAPER, self.font) if scene_map is not None and scene_map.kind else None
        self.line = QFontMetricsF(self.font).height()
        self.width, self.height = drawing.width(), drawing.height()
        self.size = QSizeF(self.width + (self.bar.width if self.bar else 0.0), self.height + 1.6 * self.line)

    def save_png(self, path: Path) -> None:
        image = QImage((self.size * PIXELS).toSize(), QImage.Format.Format_RGB32)
        image.fill(Qt.GlobalColor.white)
        painter = QPainter(image)
        self._paint(painter, PIXELS)
        painter.end()
        if not image.save(str(path), "PNG"):
            raise _not_written(path)

    def save_svg(self, path: Path) -> None:
        generator = QSvgGenerator()
        generator.setFileName(str(path))
        generator.setResolution(PER_INCH)
        generator.setSize(QSize(round(self.size.width()), round(self.size.height())))
        generator.setViewBox(QRectF(0, 0, self.size.width(), self.size.height()))
        generator.setTitle(self.drawing.scene.layout.name)
        self._paint_vector(QPainter(), generator, path)

    def save_pdf(self, path: Path) -> None:
        writer = QPdfWriter(str(path))
        points = QSizeF(self.size) * (72 / PER_INCH)
        writer.setResolution(PER_INCH)
        writer.setPageSize(QPageSize(points, QPageSize.Unit.Point))
        writer.setPageMargins(QMarginsF(0, 0, 0, 0))
        writer.setTitle(self.drawing.scene.layout.name)
        self._paint_vector(QPainter(), writer, path)

    def _paint_vector(self, painter: QPainter, device: QSvgGenerator | QPdfWriter, path: Path) -> None:
        if not painter.begin(device):
            raise _not_written(path)
        painter.fillRect(QRectF(0, 0, self.size.width(), self.size.height()), Qt.GlobalColor.white)
        self._paint(painter, 1.0)
        painter.end()

    def _paint(self, painter: QPainter, ratio: float) -> None:
        """Paint the drawing, which turns and scales its painter itself, then bar and words."""
        drawing = self.drawing
        scale = ratio / drawing.ratio
        view = replace(
            drawing.view, width_px=round(self.width * ratio), height_px=round(self.height * ratio),
            px_per_mm=drawing.view.px_per_mm * scale,
        )  # fmt: skip
        area = QRectF(0, 0, view.width_px, view.height_px)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.font)
        painter.save()
        painter.setClipRect(area)
        paths, sprites = drawing.document.metal_paths, DirectSprites()
        scene_painter = ScenePainter(PAPER, ratio, paths, text_scale(self.font), sprites)
        scene_painter.paint(painter, view, drawing.scene, area)
        taken = scene_painter.label_boxes(view, drawing.scene)
        MarkPainter(painter, drawing, view, PAPER, ratio, taken).paint(self.marks)
        painter.restore()
        painter.scale(ratio, ratio)
        if self.bar is not None:
            self.bar.paint(painter, QRectF(self.width, 0, self.bar.width, self.height))
        painter.setFont(self.font)
        painter.setPen(PAPER.colour("ink"))
        box = QRectF(self.line, self.height + 0.2 * self.line, self.size.width() - 2 * self.line, 1.2 * self.line)
        painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self._words())

    def _words(self) -> str:
        scene = self.drawing.scene
        side = {
            "top": translate("Maps", "top face"),
            "bottom": translate("Maps", "bottom face, seen from below (mirrored)"),
            "through": translate("Maps", "both faces, seen from above"),
        }[scene.side]
        return translate("Maps", "{name} · {side} · computed, not certified: see local codes and data sheets").format(
            name=scene.layout.name, side=side
        )


def _not_written(path: Path) -> LayoutError:
    told = translate("Maps", "{path} cannot be written. Choose another folder or name.")
    return LayoutError(told.format(path=path))
