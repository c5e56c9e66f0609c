"""Memory of 500 steps at 8 256 cells, in a document with its window's workings. Run by hand.

Each kind of step is measured in a program of its own, so that what one leaves behind does not hide in the next. The
plain way keeps each layout's file text, which is what a history of snapshots on disk would hold.
"""

import os
import resource
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from layout_app.edits import ChangePlates, EraseCells, PaintCells
from layout_app.model.cells import Cells
from layout_app.model.resources import sample_layouts
from layout_app.model.saved_file import dumps, load

N_STEPS, LIMIT_MB = 500, 200


def paint(layout, step):
    """One cell into another group: one array of the layout is new."""
    cell = step * 7 % len(layout.cells)
    return PaintCells((cell,), int(layout.cells.groups[cell]) % layout.n_series + 1).apply(layout)


def erase(layout, step):
    """One cell less: both arrays are new."""
    return EraseCells((step * 5 % len(layout.cells),)).apply(layout)


def move_all(layout, step):
    """The worst there is: every cell elsewhere."""
    return replace(layout, cells=Cells(layout.cells.centres_mm + [0.001, 0.0], layout.cells.groups.copy()))


def gap(layout, step):
    """One number of the plates."""
    return ChangePlates({"gap_mm": 1.0 + step / 1000}).apply(layout)


def plain(layout, step):
    """The plain way: a painted cell, kept as text."""
    return paint(layout, step)


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 1e6


def measure(kind: str) -> None:
    """Do the steps in a document, working out metal and findings now and then, undo and redo them all."""
    from PySide6.QtCore import QCoreApplication

    from layout_app.window.document import Document

    app = QCoreApplication([])
    layout = load(sample_layouts()["ferry_rack"])
    document, texts = Document(layout), []
    document.start()
    settle(app, document)
    before_mb = resident_mb()
    step_of = globals()[kind]
    for step in range(N_STEPS):
        layout = step_of(document.current, step)
        if kind == "plain":
            texts.append(dumps(layout))
        document.record(kind, layout)
        if step % 100 == 50:
            settle(app, document)
    settle(app, document)
    done = document.current
    document.go_to(0)
    settle(app, document)
    document.go_to(N_STEPS)
    settle(app, document)
    assert document.current is done
    assert len(document.labels) == N_STEPS
    print(f"{kind:9} {resident_mb() - before_mb:7.1f} MB for {N_STEPS} steps of {len(layout.cells)} cells")
    document.close()


def settle(app, document) -> None:
    import time

    while not document.is_settled:
        app.processEvents()
        time.sleep(0.005)


def main() -> None:
    if len(sys.argv) > 1:
        measure(sys.argv[1])
        return
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    print(f"wanted: at most {LIMIT_MB} MB")
    for kind in ("paint", "gap", "erase", "move_all", "plain"):
        subprocess.run([sys.executable, __file__, kind], env=environment, check=True)


if __name__ == "__main__":
    main()
