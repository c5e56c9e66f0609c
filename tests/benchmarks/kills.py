"""A program of 8 256 cells killed again and again while it works, and how its window waits for keeping. Run by hand.

python -m tests.benchmarks.kills [HOW_OFTEN]: each time the work that is offered afterwards is compared with the diary
of the edits; printed is how many seconds of work it lacks. Before that, the longest time the window did not answer
while its work was kept every 200 ms, beside the plain way: saving in the window's own thread.
"""

import itertools
import os
import random
import sys
import tempfile
import time
from pathlib import Path

KEEP_EVERY_MS = 200
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


def kill_again_and_again(how_often: int) -> None:
    """Kill at random moments, with the delay the program really has; the worst loss counts."""
    from layout_app.model.resources import sample_layouts
    from layout_app.window import autosave
    from tests.window.test_recovery import kill_and_look

    moments, losses = random.Random(), []
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["XDG_CONFIG_HOME"], os.environ["XDG_DATA_HOME"] = f"{scratch}/config", f"{scratch}/data"
        file = Path(scratch) / "rack.busweave"
        file.write_bytes(sample_layouts()["ferry_rack"].read_bytes())
        for number in range(how_often):
            wait_s = autosave.AFTER_EDIT_MS / 1000 + 3.0 + 8.0 * moments.random()
            losses.append(kill_and_look(file, Path(scratch) / f"diary{number}", autosave.AFTER_EDIT_MS, wait_s))
            print(f"kill {number + 1:3}: {losses[-1]:5.2f} s of work lost; nothing broken", flush=True)
    print(f"worst of {how_often}: {max(losses):.2f} s; promised: at most 10 s")


def longest_wait_ms(keep_beside: bool) -> float:
    """Return the longest gap between two turns of the event loop over a hundred edits, each kept."""
    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QApplication

    from layout_app.edits import PaintCells
    from layout_app.model.resources import sample_layouts
    from layout_app.model.saved_file import load, save
    from layout_app.window import autosave
    from layout_app.window.autosave import Autosave
    from layout_app.window.document import Document

    app = QApplication.instance() or QApplication([])
    document = Document(load(sample_layouts()["ferry_rack"]))
    usual_ms, autosave.AFTER_EDIT_MS = autosave.AFTER_EDIT_MS, KEEP_EVERY_MS
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["XDG_DATA_HOME"] = scratch
        keeping = Autosave(document) if keep_beside else None
        turns = [time.perf_counter()]
        beat = QTimer(interval=0)
        beat.timeout.connect(lambda: turns.append(time.perf_counter()))
        beat.start()
        end = time.perf_counter() + 6.0
        cell, due = 0, 0.0
        while time.perf_counter() < end:
            app.processEvents()
            if time.perf_counter() >= due:
                cell, due = cell + 1, time.perf_counter() + 0.2
                painted = PaintCells((cell,), int(document.current.cells.groups[cell]) % 96 + 1)
                document._history.record("paint", painted.apply(document.current))  # without working anything out
                document.history_changed.emit()
                if keeping is None:
                    save(document.current, Path(scratch) / "plain.busweave")
        if keeping is not None:
            keeping.end()
    document.close()
    autosave.AFTER_EDIT_MS = usual_ms
    return max(b - a for a, b in itertools.pairwise(turns)) * 1e3


def main() -> None:
    beside, plain = longest_wait_ms(True), longest_wait_ms(False)
    print(f"longest wait of the window while 8 256 cells are kept: {beside:.0f} ms; in its own thread: {plain:.0f} ms")
    kill_again_and_again(int(sys.argv[1]) if len(sys.argv) > 1 else 10)


if __name__ == "__main__":
    main()
