"""The pictures of the help pages, taken of the program's own windows at two pixels for one."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QWidget
from scipy.spatial import cKDTree

from layout_app.edits import PaintCells
from layout_app.model.resources import resource, sample_layouts
from layout_app.window import appearance, memory, recovery
from layout_app.window.app import Program

WIDTH, HEIGHT = 1180, 740
PATIENCE_S = 60.0


def take_all(folder: Path) -> None:
    """Take every picture, with settings and recovered work of its own."""
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["XDG_CONFIG_HOME"], os.environ["XDG_DATA_HOME"] = f"{scratch}/config", f"{scratch}/data"
        appearance.show(appearance.LIGHT)
        folder.mkdir(parents=True, exist_ok=True)
        for name, take in PICTURES.items():
            program = Program()
            save(take(program), folder / f"{name}.png")
            close(program)


def save(picture: QImage, path: Path) -> None:
    """Save in the picture's 256 most frequent colours, to keep the program small; Qt itself takes a fixed set."""
    picture = picture.convertToFormat(QImage.Format.Format_RGB32)
    pixels = np.frombuffer(picture.constBits(), np.uint32).reshape(picture.height(), -1)[:, : picture.width()]
    colours, places, counts = np.unique(pixels, return_inverse=True, return_counts=True)
    kept = colours[np.argsort(-counts)[:256]]
    _, nearest = cKDTree(_channels(kept)).query(_channels(colours))
    rows = np.zeros((picture.height(), -(-picture.width() // 4) * 4), np.uint8)  # rows of an image are whole words
    rows[:, : picture.width()] = nearest[places].reshape(pixels.shape)
    indexed = QImage(rows.tobytes(), picture.width(), picture.height(), rows.shape[1], QImage.Format.Format_Indexed8)
    indexed.setColorTable([int(colour) for colour in kept])
    indexed.save(str(path))


def _channels(colours: np.ndarray) -> np.ndarray:
    """Return (n, 3): red, green and blue of packed colours."""
    return np.stack([(colours >> shift) & 255 for shift in (16, 8, 0)], axis=1).astype(float)


def close(program: Program) -> None:
    """Close all windows without a word."""
    for window in list(program.windows):
        if window.workbench is not None:
            window.workbench.document.mark_untouched()
        window.close()
        window.deleteLater()
    memory.settings().clear()  # every picture starts afresh


def wait(until: Callable[[], bool], then_s: float = 0.6) -> None:
    """Let the program work until something is so, and a moment longer."""
    end = time.monotonic() + PATIENCE_S
    while not until():
        if time.monotonic() > end:
            raise TimeoutError("the window did not come so far")
        QApplication.processEvents()
        time.sleep(0.01)
    end = time.monotonic() + then_s
    while time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.01)


def shot(widget: QWidget, area: QRect | None = None) -> QImage:
    """Return a picture of a widget, or of a part of it."""
    pixmap = widget.grab(area) if area is not None else widget.grab()
    picture = pixmap.toImage()
    picture.setDevicePixelRatio(1.0)
    return picture


def _window(program: Program):
    window = program.new_window()
    window.resize(WIDTH, HEIGHT)
    return window


def _bench(program: Program, sample: str = "orchard_rover"):
    window = _window(program)
    window.open_path(sample_layouts()[sample], is_copy=True)
    wait(lambda: window.workbench.document.is_settled)
    return window.workbench


def _start(program: Program) -> QImage:
    window = _window(program)
    wait(lambda: all(not button.icon().isNull() for button in window.start_page._samples.values()))
    return shot(window)


def _drawing(program: Program) -> QImage:
    window = _window(program)
    window.open_path(resource("housings/orchard_rover_tray.dxf"))
    page = window.pages.currentWidget()
    wait(lambda: page.drawing is not None)
    return shot(window)


def _brief(program: Program) -> QImage:
    window = _window(program)
    window.open_path(resource("housings/orchard_rover_tray.dxf"))
    page = window.pages.currentWidget()
    wait(lambda: page.drawing is not None)
    page.use.click()
    wait(lambda: bool(window.pages.currentWidget().found), then_s=4.0)
    return shot(window)


def _whole_bench(program: Program) -> QImage:
    return shot(_bench(program).window)


def _metal(program: Program) -> QImage:
    bench = _bench(program)
    cells = bench.document.current.cells
    place = cells.centres_mm[cells.of_group(2)].mean(axis=0).tolist()
    bench.window.resize(WIDTH + 240, HEIGHT)
    bench.canvas.go_to([tuple(place)])
    bench.canvas.zoom_by(2.0)
    wait(lambda: not bench.canvas._flash_places)
    return shot(bench.canvas)


def _map(program: Program) -> QImage:
    """A map of current density with stream lines, its bar beside it."""
    bench = _bench(program, "harbour_buoy")
    for name in ("map_density", "map_lines", "map_necks"):
        bench.actions[name].trigger()
    desk = bench.docks["currents"].desk
    wait(lambda: desk.is_settled and desk.sheet.lines is not None and bool(desk.marks.cuts))
    return shot(bench.desk.halves)


def _editing(program: Program) -> QImage:
    bench = _bench(program)
    cells = bench.document.current.cells
    bench.canvas.choose(frozenset(cells.of_group(2).tolist()[:9]))
    bench.docks["groups"].raise_()
    wait(lambda: True)
    return shot(bench.window)


def _findings(program: Program) -> QImage:
    bench = _bench(program)
    bench.window.resize(WIDTH + 240, HEIGHT + 260)
    bench.document.request(PaintCells((len(bench.document.current.cells) - 1,), 1))
    wait(lambda: bench.document.is_settled)
    bench.window.resizeDocks([bench.docks["findings"]], [440], Qt.Orientation.Horizontal)
    bench.window.resizeDocks([bench.docks["findings"]], [400], Qt.Orientation.Vertical)
    wait(lambda: True)
    return shot(bench.docks["findings"])


def _figures(program: Program) -> QImage:
    bench = _bench(program)
    keys = [figure.key for figure in bench.document.figures]
    bench.figures.table.setCurrentCell(keys.index("energy_wh"), 0)
    wait(lambda: True)
    return shot(bench.docks["figures"])


def _export(program: Program) -> QImage:
    from layout_app.window.export_dialog import ExportDialog

    bench = _bench(program)
    dialog = ExportDialog(bench.window, bench.document)
    dialog.folder.setText("/home/ada/orchard_rover")
    dialog.show()
    wait(lambda: True)
    picture = shot(dialog)
    dialog.close()
    return picture


def _recovered(program: Program) -> QImage:
    slot = recovery.new_slot("orchard rover")
    slot.write(
        sample_layouts()["orchard_rover"].read_bytes(), recovery.Note("orchard rover", "/home/ada/rover.busweave"), 1
    )
    slot.release()
    window = _window(program)
    wait(lambda: all(not button.icon().isNull() for button in window.start_page._samples.values()))
    picture = shot(window, QRect(0, 0, WIDTH, 300))
    recovery.claim(recovery.offers()[0]).discard()
    return picture


PICTURES: dict[str, Callable[[Program], QImage]] = {
    "start": _start, "drawing": _drawing, "brief": _brief, "bench": _whole_bench, "metal": _metal,
    "map": _map, "editing": _editing, "findings": _findings, "figures": _figures, "export": _export,
    "recovered": _recovered,
}  # fmt: skip
