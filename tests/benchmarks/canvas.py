"""Time of a frame on 8 256 cells: our canvas beside the plain way, one QGraphicsItem for each cell and segment.

Then the same under maps: a map of cells and a map of metal, whose pictures are made beside the window. Here they are of
hand-made values, for the time of drawing does not depend on where the numbers come from.

Run by hand: python tests/benchmarks/canvas.py [series parallel rows]. Both draw into widgets of the same size with the
same pens, without numbers and signs in the plain way, which favours it. Times are the median of many frames.
"""

import os
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen
from PySide6.QtWidgets import QApplication, QGraphicsEllipseItem, QGraphicsPathItem, QGraphicsScene, QGraphicsView

from layout_app.edits import PaintCells
from layout_app.window.canvas import Canvas
from layout_app.window.colours import LIGHT
from layout_app.window.document import Document
from layout_app.window.maps.colour_maps import Range
from layout_app.window.maps.kinds import KINDS
from layout_app.window.maps.picture_work import Wish, picture_of
from layout_app.window.maps.rasters import Frame
from layout_app.window.maps.scene_map import SceneMap
from layout_app.window.maps.values import Raster, face_scale
from layout_app.window.metal_paths import MetalPath
from tests.window.modules import module

SIZE = (1400, 900)
N_FRAMES = 40


def ours(app: QApplication, size: tuple[int, ...]) -> tuple[Canvas, Document]:
    document = Document(module(*size))
    canvas = Canvas(document)
    canvas.resize(*SIZE)
    canvas.show()
    document.start()
    while not document.is_settled:
        app.processEvents()
        time.sleep(0.005)
    canvas.fit()
    return canvas, document


def plain(document: Document) -> QGraphicsView:
    scene, layout = QGraphicsScene(), document.layout
    radius = layout.cell_type.diameter_mm / 2
    pen = QPen(QColor(LIGHT.rim), 0)
    for (x, y), group in zip(layout.cells.centres_mm.tolist(), layout.cells.groups.tolist(), strict=True):
        item = QGraphicsEllipseItem(QRectF(x - radius, y - radius, 2 * radius, 2 * radius))
        item.setBrush(QBrush(LIGHT.tint((group - 1) % 6)))
        item.setPen(pen)
        scene.addItem(item)
    for segment in document.segments:
        if segment.face == "top":
            item = QGraphicsPathItem(MetalPath.of(segment).cut)
            item.setBrush(QColor(201, 141, 98, 150))
            item.setPen(pen)
            scene.addItem(item)
    view = QGraphicsView(scene)
    view.kept = scene  # the view itself does not keep it
    view.setRenderHint(QPainter.RenderHint.Antialiasing)
    view.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    view.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    view.scale(1, -1)
    view.resize(*SIZE)
    view.setAlignment(Qt.AlignmentFlag.AlignLeft)
    view.show()
    return view


def median_ms(frame, n_frames: int = N_FRAMES) -> float:
    times = []
    for _ in range(n_frames):
        start = time.perf_counter()
        frame()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def report(what: str, ours_ms: float, plain_ms: float) -> None:
    print(f"{what:<42}{ours_ms:9.1f} ms{plain_ms:11.1f} ms   {ours_ms / plain_ms:6.1%} of the plain way")


def main() -> None:
    size = tuple(map(int, sys.argv[1:4])) or (96, 86, 86)
    app = QApplication([])
    canvas, document = ours(app, size)
    view = plain(document)
    print(f"{len(document.layout.cells)} cells, {SIZE[0]} x {SIZE[1]} pixels{'':>6}ours{'':>10}plain")
    for words, zoom in (("whole module in view", 1.0), ("a quarter of it", 2.0), ("forty cells across", 86 / 40)):
        compare(app, canvas, view, words, zoom)
    for words, scene_map in (("map of cells", map_of_cells(canvas)), ("map of metal", map_of_metal(canvas))):
        canvas.set_map(scene_map)
        for more, zoom in (("whole module", 0.25), ("a quarter", 2.0), ("forty cells", 86 / 40)):
            compare(app, canvas, view, f"{words}, {more}", zoom)
        canvas.fit()
    canvas.set_map(None)
    one_cell(app, canvas, document)
    document.close()
    os._exit(0)  # a QGraphicsScene of this size takes seconds to take apart


def compare(app: QApplication, canvas: Canvas, view: QGraphicsView, words: str, zoom: float) -> None:
    canvas.zoom_by(zoom)
    view.resetTransform()
    view.scale(canvas.view.px_per_mm, -canvas.view.px_per_mm)
    view.centerOn(canvas.view.x_mm, canvas.view.y_mm)
    app.processEvents()
    steps = iter([(7, 4), (-7, -4)] * N_FRAMES)

    def pan_ours() -> None:
        canvas.pan_by(*next(steps))
        canvas.repaint()

    def pan_plain() -> None:
        dx, dy = next(steps)
        for bar, step in ((view.horizontalScrollBar(), dx), (view.verticalScrollBar(), dy)):
            bar.setValue(bar.value() + step)
        view.viewport().repaint()

    def afresh_ours() -> None:
        canvas.picture.forget()
        canvas.repaint()

    report(f"pan, {words}", median_ms(pan_ours), median_ms(pan_plain))
    report(f"paint afresh, {words}", median_ms(afresh_ours, 8), median_ms(view.viewport().repaint, 8))


def map_of_cells(canvas: Canvas) -> SceneMap:
    """Every colour there is, on the cells."""
    levels = np.arange(len(canvas.scene.layout.cells)) % 255
    return SceneMap(kind=KINDS["share"], span=Range(0.9, 1.1), cell_levels=levels)


def map_of_metal(canvas: Canvas) -> SceneMap:
    """Waves over both faces, in pictures of the size that sheet maps have."""
    segments, kind, span = canvas.scene.segments, KINDS["density"], Range(-1.0, 1.0)
    px_per_mm, made = face_scale(segments), {}
    for face in ("top", "bottom"):
        frame = Frame.around(canvas.scene.bounds_mm(), px_per_mm)
        row, column = np.mgrid[0 : frame.n_rows, 0 : frame.n_columns]
        values = (np.sin(row / 40) * np.cos(column / 60)).astype(np.float32)
        start = time.perf_counter()
        made[face] = (picture_of(Raster(frame, values), Wish(None, kind), span),)
        print(f"{face}: {values.size / 1e6:.1f} million pixels coloured in {time.perf_counter() - start:.2f} s")
    return SceneMap(kind=kind, span=span, pictures=made)


def one_cell(app: QApplication, canvas: Canvas, document: Document) -> None:
    """From a painted cell to new metal on the screen, then to figures and findings, and the longest wait meanwhile."""
    groups = document.current.cells.groups
    cell = int((groups == groups.max() // 2).nonzero()[0][0])
    before, start = canvas.scene.segments, time.perf_counter()
    document.request(PaintCells((cell,), int(groups[cell]) + 1))
    canvas.repaint()
    shown, longest = time.perf_counter() - start, 0.0
    assert canvas.scene.segments is not before
    while not document.is_settled:
        turn = time.perf_counter()
        app.processEvents()
        longest = max(longest, time.perf_counter() - turn)
        time.sleep(0.001)
    took = time.perf_counter() - start
    print(f"one painted cell: new metal shown after {1000 * shown:.1f} ms, findings after {1000 * took:.1f} ms, "
          f"longest turn of the event loop meanwhile {1000 * longest:.1f} ms")  # fmt: skip


if __name__ == "__main__":
    main()
