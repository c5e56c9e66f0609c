"""Time of editing 8 256 cells: frames of a drag, choosing, and each edit, beside drawing every ghost plainly.

Run by hand: python tests/benchmarks/editing.py [series parallel rows]. Times are medians of several runs; an edit's
time is that of `apply` alone, which is what the window's thread spends on it unless it is done beside the window.
"""

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["XDG_CONFIG_HOME"] = os.environ["XDG_DATA_HOME"] = tempfile.mkdtemp()
sys.path.insert(0, str(Path(__file__).parents[2]))

from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QPainter, QPen, QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layout_app.edits import (
    AlignCells,
    ArrayCells,
    BalanceGroups,
    DivideAnew,
    MirrorCells,
    MoveCells,
    OpenRows,
    PaintCells,
    ReverseChain,
    SplitGroup,
    choosing,
)
from layout_app.window.app import Program
from tests.window.gestures import cell_pixel, drag_to
from tests.window.modules import module


def median_ms(do, n_times: int = 7) -> float:
    times = []
    for _ in range(n_times):
        start = time.perf_counter()
        do()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def main() -> None:
    size = tuple(map(int, sys.argv[1:4])) or (96, 86, 86)
    app = QApplication([])
    window = Program().new_window()
    window.resize(1600, 1000)
    window.show_layout(module(*size), None)
    window.show()
    bench = window.workbench
    while not bench.document.is_settled:
        app.processEvents()
        time.sleep(0.005)
    print(f"{len(bench.document.current.cells)} cells")
    everything = choosing.all_cells(bench.document.current)
    for words, chosen in (
        ("one group", choosing.whole_groups(bench.document.current, frozenset({0}))),
        ("all", everything),
    ):
        frames(app, bench, words, chosen)
    choices(bench.document.current)
    edits(bench.document.current)
    os._exit(0)


def frames(app: QApplication, bench, words: str, chosen: frozenset[int]) -> None:
    canvas = bench.canvas
    canvas.choose(chosen)
    app.processEvents()
    ours, plain = median_ms(canvas.repaint), plain_rings_ms(canvas, chosen)
    print(f"repaint with {words} chosen{'':<12}{ours:9.1f} ms{plain:11.1f} ms drawn plainly")
    at = cell_pixel(canvas, min(chosen))
    QTest.mousePress(canvas, Qt.MouseButton.LeftButton, pos=at)
    steps = iter(range(1, 1000))

    def frame() -> None:
        drag_to(canvas, at + QPoint(10 + 3 * next(steps), 5))
        canvas.repaint()

    frame()
    print(f"frame of dragging {words}{'':<16}{median_ms(frame, 15):9.1f} ms")
    QTest.keyClick(canvas, Qt.Key.Key_Escape)
    QTest.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=at)


def plain_rings_ms(canvas, chosen: frozenset[int]) -> float:
    """Two ellipses a cell with wide pens, as a first version of the canvas did."""
    pixmap = QPixmap(canvas.view.width_px, canvas.view.height_px)
    centres = canvas.view.to_screen(canvas.scene.layout.cells.centres_mm[sorted(chosen)]).tolist()

    def draw() -> None:
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for width in (5, 3):
            painter.setPen(QPen(Qt.GlobalColor.blue, width))
            for x, y in centres:
                painter.drawEllipse(QPointF(x, y), 4.0, 4.0)
        painter.end()

    return median_ms(draw, 3)


def choices(layout) -> None:
    some = choosing.whole_groups(layout, frozenset({0, 4000 % len(layout.cells)}))
    for name, widen in choosing.WIDENINGS.items():
        print(f"choose: {name:<32}{median_ms(lambda widen=widen: widen(layout, some)):9.1f} ms")


def edits(layout) -> None:
    n, pitch = len(layout.cells), layout.lattice.pitch_mm
    everything, group = tuple(range(n)), tuple(layout.cells.of_group(1).tolist())
    uneven = PaintCells(tuple(layout.cells.of_group(2)[:5].tolist()), 1).apply(layout)
    x0, _, x1, _ = layout.housing.outline.bounds_mm
    for words, edit, before in (
        ("move all", MoveCells(everything, pitch, 0.0), layout),
        ("move a group", MoveCells(group, -pitch, 0.0), layout),
        ("mirror all", MirrorCells(everything, "left to right"), layout), ("align all", AlignCells(everything), layout),
        ("copy a group", ArrayCells(group, 1, x1 - x0, 0.0), layout), ("open rows", OpenRows((0, 1), 3.0), layout),
        ("reverse", ReverseChain(), layout), ("balance", BalanceGroups(), uneven), ("split", SplitGroup(3), layout),
        ("divide two groups", DivideAnew((1, 2)), layout),
    ):  # fmt: skip
        try:
            print(f"edit: {words:<34}{median_ms(lambda edit=edit, before=before: edit.apply(before), 3):9.1f} ms")
        except Exception as error:
            print(f"edit: {words:<34} {error}")


if __name__ == "__main__":
    main()
