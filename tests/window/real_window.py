"""One real X window, driven from a drawing to exported files: real_window.py FOLDER

Mouse and keys come from the X server (xdotool speaks to it), so they take the way of a person's: server, platform
plugin, window, widget. Without xdotool they enter at the window, as Qt's own test tools send them. What is done is
printed; the exit code is 0 when all of it worked.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QPushButton, QWidget

from layout_app.model.resources import resource
from layout_app.window.app import Program

PATIENCE_S = 90.0
XDOTOOL = shutil.which("xdotool")


def main(folder: Path) -> int:
    app = QApplication([])
    if app.platformName() != "xcb":
        print(f"the window is not on an X server but on {app.platformName()}")
        return 1
    drive(Program(), folder)
    return 0


def drive(program: Program, folder: Path) -> None:
    """Open the drawing, fill, group, paint, move a terminal, save and export."""
    window = program.new_window()
    window.setGeometry(20, 20, 1280, 860)
    wait("the window is on the screen", lambda: window.isActiveWindow() or window.windowHandle().isExposed())
    window.open_path(resource("housings/orchard_rover_tray.dxf"))
    drawing = window.pages.currentWidget()
    wait("the drawing is read", lambda: drawing.drawing is not None)
    click(drawing.use)
    brief = window.pages.currentWidget()
    wait("something fits", lambda: bool(brief.found) and brief.lay.isEnabled())
    click(brief.lay)
    wait("the housing is filled and grouped", lambda: window.workbench is not None)
    bench = window.workbench
    wait("the metal is made", lambda: bench.document.is_settled)
    assert len(set(bench.document.current.group_sizes.tolist())) == 1
    paint(bench)
    move_terminal(bench)
    save_and_export(bench, folder)
    bench.document.mark_untouched()
    window.close()


def paint(bench) -> None:
    """Drag the brush from group 2 over the nearest cells of group 1."""
    cells = bench.document.current.cells
    ones, twos = cells.of_group(1), cells.of_group(2)
    gaps = np.linalg.norm(cells.centres_mm[ones][:, None] - cells.centres_mm[twos], axis=2)
    one, two = np.unravel_index(gaps.argmin(), gaps.shape)
    key(bench.canvas, "p")
    bench.set_group(2)
    drag(bench.canvas, place(bench, cells.centres_mm[twos[two]]), place(bench, cells.centres_mm[ones[one]]))
    wait("the cell is painted", lambda: bench.document.current.cells.groups[ones[one]] == 2)
    wait("the findings follow", lambda: bench.document.is_settled and bool(bench.document.findings))
    key(bench.canvas, "ctrl+z")
    wait("the stroke is taken back", lambda: bench.document.current.cells is cells)
    wait("the metal is back", lambda: bench.document.is_settled)


def move_terminal(bench) -> None:
    """Drag the bolt hole of the positive terminal along the edge."""
    number = len(bench.document.segments) - 1
    face = bench.document.current.face_of(number)
    bench.actions[face].trigger()
    key(bench.canvas, "c")
    x_mm, y_mm, _ = bench.document.segments[number].bolt_hole_mm
    before = bench.document.current.terminals
    drag(bench.canvas, place(bench, (x_mm, y_mm)), place(bench, (x_mm, y_mm + 40.0)))
    wait("the terminal has moved", lambda: bench.document.current.terminals != before)
    wait("its tab is made", lambda: bench.document.is_settled)


def save_and_export(bench, folder: Path) -> None:
    """Save by the dialog's line, export by the dialog's folder."""
    QTimer.singleShot(600, lambda: answer_save(folder / "rover.busweave"))
    key(bench.canvas, "ctrl+s")
    wait("it is saved", lambda: bench.document.path is not None and bench.document.path.is_file())
    QTimer.singleShot(600, lambda: answer_export(folder))
    key(bench.canvas, "ctrl+e")
    wait("it is exported", lambda: bench.n_exports == 1)


def answer_save(path: Path) -> None:
    """Type the name into the file dialog and press Enter."""
    dialog = QApplication.activeModalWidget()
    line = dialog.findChild(QLineEdit)
    line.setText(str(path))
    QTest.keyClick(line, Qt.Key.Key_Return)


def answer_export(folder: Path) -> None:
    """Name the folder and press the button."""
    dialog = QApplication.activeModalWidget()
    dialog.folder.setText(str(folder))
    click(dialog.go)


# -- mouse and keys --------------------------------------------------------------------------------------------------


def place(bench, at_mm) -> QPoint:
    """Return where a layout point is on the canvas."""
    x, y = bench.canvas.view.to_screen(np.array([at_mm], dtype=float))[0].tolist()
    return QPoint(round(x / bench.canvas.ratio), round(y / bench.canvas.ratio))


def x11(*words: object) -> None:
    subprocess.run([XDOTOOL, *map(str, words)], check=True, timeout=20)
    settle(0.15)


def click(button: QPushButton) -> None:
    """Click the middle of a button."""
    print(f"click: {button.text()}")
    if XDOTOOL is None:
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
        return
    at = button.mapToGlobal(button.rect().center())
    x11("mousemove", at.x(), at.y(), "click", 1)


def key(widget: QWidget, keys: str) -> None:
    """Press keys where the focus is: on the canvas, after giving it the focus."""
    print(f"key: {keys}")
    widget.activateWindow()
    widget.setFocus()
    settle(0.15)
    if XDOTOOL is None:
        modifier = Qt.KeyboardModifier.ControlModifier if keys.startswith("ctrl+") else Qt.KeyboardModifier.NoModifier
        QTest.keyClick(widget, keys[-1], modifier)
        return
    x11("key", keys)


def drag(widget: QWidget, start: QPoint, end: QPoint) -> None:
    """Press at one place, move in steps, release at another."""
    steps = [start + (end - start) * share / 6 for share in range(7)]
    print(f"drag: {start.x()},{start.y()} to {end.x()},{end.y()}")
    if XDOTOOL is None:
        QTest.mousePress(widget, Qt.MouseButton.LeftButton, pos=start)
        for step in steps[1:]:
            QTest.mouseMove(widget, step)
            settle(0.05)
        QTest.mouseRelease(widget, Qt.MouseButton.LeftButton, pos=end)
        return
    for number, step in enumerate(steps):
        at = widget.mapToGlobal(step)
        x11("mousemove", at.x(), at.y())
        if number == 0:
            x11("mousedown", 1)
    x11("mouseup", 1)


def settle(seconds: float) -> None:
    """Let the window work."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.005)


def wait(what: str, until: Callable[[], bool]) -> None:
    """Wait until something is so, and say so."""
    end = time.monotonic() + PATIENCE_S
    while not until():
        if time.monotonic() > end:
            raise TimeoutError(f"not within {PATIENCE_S:g} s: {what}")
        settle(0.02)
    print(what)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
