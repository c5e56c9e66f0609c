"""One real X window under Xvfb, driven once from a drawing to exported files, which are then read back."""

import csv
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from layout_app.model.saved_file import load

SCRIPT = Path(__file__).with_name("real_window.py")
IS_CI = bool(os.environ.get("CI"))


@pytest.fixture
def display():
    """The number of a virtual X screen of this test's own."""
    xvfb = shutil.which("Xvfb")
    if xvfb is None:
        message = "Xvfb is missing, so no real window was opened. Install the package xvfb."
        pytest.fail(message) if IS_CI else pytest.skip(message)
    read, write = os.pipe()
    server = subprocess.Popen(
        [xvfb, "-displayfd", str(write), "-screen", "0", "1600x1200x24", "-nolisten", "tcp"],
        pass_fds=(write,), stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    try:
        with os.fdopen(read) as told:
            yield f":{int(told.readline())}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def test_a_real_window_leads_from_drawing_to_exported_files(display, tmp_path):
    environment = {
        **os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb", "WAYLAND_DISPLAY": "",
        "XDG_CONFIG_HOME": str(tmp_path / "config"), "XDG_DATA_HOME": str(tmp_path / "data"),
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, str(SCRIPT), str(tmp_path)],
        env=environment, capture_output=True, text=True, timeout=240, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    check_files(tmp_path)


def check_files(folder):
    """The exported files agree with the saved layout, read by other means than those that wrote them."""
    import ezdxf

    layout = load(folder / "rover.busweave")
    (report,) = folder.rglob("report.html")
    out = report.parent
    assert layout.name in report.read_text(encoding="utf-8")
    with (out / "tables" / "cells.csv").open(encoding="utf-8-sig", newline="") as file:
        assert len(list(csv.reader(file))) == len(layout.cells) + 1
    drawings = sorted((out / "segments").glob("*.dxf"))
    assert len(drawings) == layout.n_segments
    x0, y0, x1, y1 = layout.housing.outline.bounds_mm
    n_circles = 0
    for path in drawings:
        drawing = ezdxf.readfile(path)
        assert not drawing.audit().errors
        circles = drawing.modelspace().query("CIRCLE")
        centres = [circle.dxf.center for circle in circles]
        n_circles += len(centres)
        inside = [x0 <= centre.x <= x1 and y0 <= centre.y <= y1 for centre in centres]
        assert inside.count(False) <= 1  # the bolt hole of a tab outside the housing
    n_joints = 2 * len(layout.cells)
    assert n_joints <= n_circles <= n_joints + 2 + len(layout.housing.keep_outs) * layout.n_segments
