"""A whole program with scripted edits, meant to be killed: work_until_killed.py FILE DIARY AUTOSAVE_MS

Every edit is one cell painted into a group. After it the diary, which outlives the kill, gets a line: time and the
groups of all cells.
"""

import os
import sys
import time
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from layout_app.edits import PaintCells
from layout_app.window import app, autosave

EDIT_EVERY_MS = 20


def main(file: Path, diary: Path, autosave_ms: int) -> int:
    autosave.AFTER_EDIT_MS = autosave_ms
    QApplication([])
    with diary.open("a", encoding="ascii") as lines:
        timer = QTimer(interval=EDIT_EVERY_MS)
        timer.timeout.connect(lambda: edit(lines))
        QTimer.singleShot(0, timer.start)
        return app.run([file])


def edit(lines) -> None:
    """Paint the next cell into the next group and write down what is now."""
    window = next(w for w in QApplication.topLevelWidgets() if getattr(w, "workbench", None))
    document = window.workbench.document
    n_done = edit.n_done = getattr(edit, "n_done", -1) + 1
    cells = document.current.cells
    cell = n_done % len(cells)
    document.request(PaintCells((cell,), int(cells.groups[cell]) % document.current.n_series + 1))
    lines.write(f"{time.time()} {','.join(map(str, document.current.cells.groups.tolist()))}\n")
    lines.flush()
    os.fsync(lines.fileno())


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])))
