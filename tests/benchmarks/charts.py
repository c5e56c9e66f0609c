"""How long the window does not answer while charts follow edits, beside the plain way: drawing in its own thread.

Run by hand: python -m tests.benchmarks.charts [516|8256]. For each chart, ten cells are painted one after the other
while it is in sight; "follow" is the longest wait between two turns of the event loop less the queue for a processor
(as in longest_block), "hidden" the same with the panel closed, which is what the edits alone take, and "plain" the
time to draw the chart, which the window would be held up by if it drew it itself. The limit of the longest wait is
50 ms at 516 cells, 150 ms at 8 256.
"""

import sys
import time

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layout_app.charting.charts import TITLES, chart_of
from layout_app.charting.rendering import picture, svg
from layout_app.edits import PaintCells
from layout_app.window.chart_style import style_of
from tests.benchmarks.longest_block import Session

N_EDITS = 10


def wait_for_chart(session, panel):
    end = time.monotonic() + 60
    while panel.drawn is None or panel.drawn.layout is not session.document.current or panel.drawn.key != panel.key:
        session.app.processEvents()
        time.sleep(0.0002)
        if time.monotonic() > end:
            raise TimeoutError(panel.key)


def paint(session, offset):
    """Paint cells of the middle into the group before theirs, the event loop turning in between."""
    for cell in session.row(N_EDITS):
        group = int(session.document.current.cells.groups[cell])
        other = group - 1 if (cell + offset) % 2 and group > 1 else min(group + 1, session.document.current.n_series)
        session.document.request(PaintCells((cell,), other))
        end = time.monotonic() + 0.05
        while time.monotonic() < end:
            session.app.processEvents()
            time.sleep(0.0002)


def worst(session, name, do):
    """Return the longest wait, ms, while something is done."""
    session.settle()  # what went before is not this step's
    session.watchdog.doing = name
    do()
    session.settle()
    return session.watchdog.worst[name][0]


def best_ms(do, repeats=3):
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        do()
        taken.append(1e3 * (time.perf_counter() - start))
    return min(taken)


def run(app, n_cells):
    session = Session(app, n_cells)
    session.window.show()
    session.settle()
    bench, panel = session.bench, session.bench.docks["charts"].widget()

    def first():
        bench.actions["charts"].trigger()
        wait_for_chart(session, panel)

    print(f"{n_cells} cells: first chart, library loaded: longest wait {worst(session, 'first', first):.0f} ms")
    for k, key in enumerate(TITLES):
        panel.choice.setCurrentIndex(panel.choice.findData(key))
        wait_for_chart(session, panel)
        follow = worst(session, key, lambda k=k: (paint(session, k), wait_for_chart(session, panel)))
        bench.docks["charts"].hide()
        hidden = worst(session, f"{key}, hidden", lambda k=k: paint(session, k + 1))
        bench.actions["charts"].trigger()
        document, shown = session.document, panel.picture
        facts = (document.current, document.current_segments, document.currents, document.joint_faults)
        size = (shown.width(), shown.height(), shown.logicalDpiX())
        plain = best_ms(lambda k=key, f=facts, s=size: picture(chart_of(k, *f), style_of(panel), *s))
        page = best_ms(lambda k=key, f=facts: svg(chart_of(k, *f)))
        print(
            f"  {key:15s} follow {follow:5.0f} ms  hidden {hidden:5.0f} ms  plain {plain:5.0f} ms  SVG {page:5.0f} ms"
        )
    hover = worst(
        session, "hover", lambda: [QTest.mouseMove(panel.picture, panel.picture.rect().center()) for _ in "ab"]
    )
    print(f"  hover {hover:.0f} ms")
    session.window.workbench.document._saved = session.document.current
    session.window.close()


if __name__ == "__main__":
    application = QApplication.instance() or QApplication([])
    for n_cells in [int(word) for word in sys.argv[1:]] or [516, 8256]:
        run(application, n_cells)
