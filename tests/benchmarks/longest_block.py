"""The longest time the window does not answer, over a scripted editing session, at 516 and at 8 256 cells.

Run by hand: python tests/benchmarks/longest_block.py [516|8256]. A timer in the event loop should fire every
millisecond; the longest wait between two firings is how long a click or a key would have waited. Beside it stands the
plain way: deriving everything in the window's own thread after each step (the sum of what the steps set going).

Limits (the workbench's own): 50 ms at 516 cells, 150 ms at 8 256. On a machine that others use as well, part of a wait
is spent in the queue for a processor; it is told apart where the system tells it (Linux), and the limit is held against
the rest. "Own" is the processor time the window's thread used itself; what then remains it waited for the other thread.
"""

import itertools
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["XDG_CONFIG_HOME"] = os.environ["XDG_DATA_HOME"] = tempfile.mkdtemp()  # nothing of the user's own
sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from PySide6.QtCore import QElapsedTimer, QPoint, QPointF, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layout_app.edits import ChangePlates
from layout_app.window.app import Program
from layout_app.workings import Workings
from tests.window.gestures import cell_pixel, drag_to, pixel, wheel
from tests.window.modules import module

SIZES = {516: (6, 86, 24), 8256: (96, 86, 86)}
SCHEDULER = Path("/proc/thread-self/schedstat")
MANY_CELLS, PATIENCE_MS = 2000, 3000
LIMITS_MS = {516: 50, 8256: 150}


class Watchdog:
    """Notes the longest wait between two turns of the event loop, and what was going on."""

    def __init__(self) -> None:
        self.doing = "start"
        self.worst: dict[str, tuple[float, float, float]] = {}  # of each step, ms: wait less queue, own time, queue
        self._timer = QTimer(interval=1, timerType=Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._turn)
        self._last = self._clocks()
        self._timer.start()

    @staticmethod
    def _clocks() -> tuple[float, float, float]:
        """Milliseconds on the wall, of this thread's own work, and of its waiting in the queue for a processor."""
        queue = float(SCHEDULER.read_text().split()[1]) / 1e6 if SCHEDULER.exists() else 0.0
        return 1000 * time.perf_counter(), 1000 * time.thread_time(), queue

    def _turn(self) -> None:
        now = self._clocks()
        wall, own, queue = (a - b for a, b in zip(now, self._last, strict=True))
        self.worst[self.doing] = max(self.worst.get(self.doing, (0.0, 0.0, 0.0)), (wall - queue, own, queue))
        self._last = now


class Session:
    """The steps of a sitting, each a function that hands events to the window and returns at once."""

    def __init__(self, app: QApplication, n_cells: int) -> None:
        self.app, self.program = app, Program()
        self.program.crash = self._crash
        self.window = self.program.new_window()
        self.window.resize(1400, 900)
        self.window.show_layout(module(*SIZES[n_cells]), None)
        self.bench, self.watchdog = self.window.workbench, Watchdog()
        self.canvas, self.document = self.bench.canvas, self.bench.document
        self.settle()

    def _crash(self, error: BaseException) -> None:
        raise error

    def settle(self, least_ms: int = 250) -> None:
        """Let the event loop turn until all is worked out and shown; of very large modules the metal, for some seconds.

        Their currents take a while, and the next step drops what still waits, as it does when somebody goes on working.
        """
        timer = QElapsedTimer()
        timer.start()
        is_patient = len(self.document.current.cells) < MANY_CELLS
        while timer.elapsed() < least_ms or not (
            self.document.is_settled
            or (not is_patient and not self.document.is_stale and timer.elapsed() > PATIENCE_MS)
        ):
            self.app.processEvents()
            time.sleep(0.0002)
            if timer.elapsed() > 180_000:
                raise TimeoutError(self.watchdog.doing)

    def step(self, name: str, do) -> None:
        self.watchdog.doing = name
        do()
        self.settle()

    def key(self, key, modifier=Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(self.window, key, modifier)

    def row(self, n_cells: int, first: int | None = None) -> list[int]:
        """Cells that follow one another, and so lie mostly side by side, from the middle of the module."""
        first = len(self.document.current.cells) // 2 if first is None else first
        return list(range(first, first + n_cells))

    def stroke(self, cells: list[int]) -> None:
        """A stroke over cells, the event loop turning between the moves as it does under a real mouse."""
        places = [cell_pixel(self.canvas, cell) for cell in cells]
        QTest.mousePress(self.canvas, Qt.MouseButton.LeftButton, pos=places[0])
        for one, other in itertools.pairwise(places):
            for share in (0.25, 0.5, 0.75, 1.0):
                drag_to(self.canvas, QPointF(one) + (QPointF(other) - QPointF(one)) * share)
                self.app.processEvents()
        QTest.mouseRelease(self.canvas, Qt.MouseButton.LeftButton, pos=places[-1])

    def paint(self) -> None:
        group = int(self.document.current.cells.groups[self.row(1)[0]])
        self.bench.set_group(group - 1)
        self.bench.actions["paint"].trigger()
        self.stroke(self.row(10))

    def erase(self) -> None:
        self.bench.actions["erase"].trigger()
        self.stroke(self.row(4))

    def place(self) -> None:
        self.bench.actions["place"].trigger()
        places = [pixel(self.canvas, place) for place in self.document.free_sites_mm[:4].tolist()]
        for place in places:
            QTest.mouseClick(self.canvas, Qt.MouseButton.LeftButton, pos=place)
            self.app.processEvents()

    def hover(self) -> None:
        for x in range(100, 700, 20):
            drag_to(self.canvas, QPoint(x, 300), Qt.MouseButton.NoButton)
            self.app.processEvents()

    def zoom(self) -> None:
        for turns in (1, 1, 1, 1, -1, -1, -1, -1):
            wheel(self.canvas, QPoint(400, 300), turns)
            self.app.processEvents()

    def pan(self) -> None:
        for _ in range(12):
            QTest.keyClick(self.canvas, Qt.Key.Key_Left)
            self.app.processEvents()

    def undo_all(self) -> None:
        while self.document.undo_label:
            self.bench.actions["undo"].trigger()
            self.app.processEvents()

    def first_finding(self) -> None:
        item = self.bench.findings.list.item(0)
        self.bench.findings.list.setCurrentItem(item)
        self.bench.findings.list.itemClicked.emit(item)

    def drag(self, places: list[QPoint]) -> None:
        """Press, move past places, release, the event loop turning in between."""
        QTest.mousePress(self.canvas, Qt.MouseButton.LeftButton, pos=places[0])
        for place in places[1:]:
            drag_to(self.canvas, place)
            self.app.processEvents()
        QTest.mouseRelease(self.canvas, Qt.MouseButton.LeftButton, pos=places[-1])

    def box(self, share: float) -> None:
        """A box dragged around the middle of the module."""
        self.bench.actions["choose"].trigger()
        self.canvas.choose()
        x0, y0, x1, y1 = self.document.current.housing.outline.bounds_mm
        middle, half = ((x0 + x1) / 2, (y0 + y1) / 2), (share * (x1 - x0) / 2, share * (y1 - y0) / 2)
        corners = [(middle[0] - half[0] * k, middle[1] - half[1] * k) for k in (1, 0.5, 0, -0.5, -1)]
        self.drag([pixel(self.canvas, corner) for corner in corners])

    def loop(self) -> None:
        """A free line drawn around the middle of the module."""
        self.bench.actions["choose"].trigger()
        self.bench.actions["loop"].trigger()
        x0, y0, x1, y1 = self.document.current.housing.outline.bounds_mm
        turns = np.linspace(0.0, 2 * np.pi, 40)
        x, y = (x0 + x1) / 2 + 0.4 * (x1 - x0) * np.cos(turns), (y0 + y1) / 2 + 0.4 * (y1 - y0) * np.sin(turns)
        self.drag([pixel(self.canvas, place) for place in zip(x.tolist(), y.tolist(), strict=True)])
        self.bench.actions["loop"].trigger()

    def haul(self) -> None:
        """Chosen cells dragged a way off and put down again where they were."""
        start = cell_pixel(self.canvas, min(self.canvas.chosen_cells))
        self.drag([start + QPoint(12 * k, 5 * k) for k in (0, 1, 2, 3, 2, 1)] + [start])

    def tab(self) -> None:
        """A terminal's tab dragged along its edge."""
        self.bench.actions["choose"].trigger()
        ends = [segment for segment in self.document.segments if segment.bolt_hole_mm is not None]
        self.bench.actions[ends[0].face].trigger()
        start = pixel(self.canvas, ends[0].bolt_hole_mm[:2])
        self.drag([start + QPoint(0, 6 * k) for k in range(6)])

    def wall(self) -> None:
        """A round keep-out drawn amid the module, and taken away again."""
        self.bench.actions["walls"].trigger()
        self.bench.editing.set_shape("circle")
        start = cell_pixel(self.canvas, self.row(1)[0])
        self.drag([start + QPoint(k, k) for k in range(0, 20, 4)])
        self.bench.editing.set_shape("edit")

    def copies(self, n_cells: int, n_copies: int, dx_mm: float) -> None:
        """Copies in a row: with so small a step they overlap, which is refused."""
        self.canvas.choose(frozenset(self.row(n_cells)))
        ask = self.bench.exact.cells.array
        ask.offer(n=n_copies, dx=dx_mm, dy=0.0)
        ask.button.click()

    def type_into_finder(self) -> None:
        """The finder holds the event loop until it is closed, so its keys are sent from within."""
        keys = [*"group", Qt.Key.Key_Escape]

        def press() -> None:
            QTest.keyClick(self.app.activeModalWidget(), keys.pop(0))
            if keys:
                QTimer.singleShot(20, press)

        QTimer.singleShot(50, press)
        self.bench.actions["find"].trigger()

    def two_groups(self) -> None:
        self.bench.editing.choose_groups((2, 3))

    def more_steps(self) -> dict:
        """Everything else that can be done: choosing, moving, groups, walls, panels."""
        act = self.bench.actions
        done = {
            "drag a box over a few": lambda: self.box(0.2),
            "drag a box over most": lambda: self.box(0.9),
            "draw a loop": self.loop,
            "haul many cells": self.haul,
            "choose a few": lambda: self.canvas.choose(frozenset(self.row(4))),
            "haul four cells": self.haul,
            "drag a tab": self.tab,
            "draw a keep-out": self.wall,
            "undo the keep-out": act["undo"].trigger,
            "copies that overlap": lambda: self.copies(self.document.step + 100, 5, 1.0),
            "override a segment": lambda: (
                self.canvas.choose(segment=2), self.bench.exact.segment.fields["thickness_mm"]._ask(0.3)),
            "show inches": act["inches"].trigger,
            "show millimetres": act["inches"].trigger,
            "a wider window": lambda: self.window.resize(1500, 950),
            "find an action": self.type_into_finder,
            "list the keys": act["keys"].trigger,
            "next group": act["next_group"].trigger,
        }  # fmt: skip
        names = (
            "choose_all choose_invert choose_all turn_left mirror_across mirror_down undo undo undo align reverse "
            "into_group undo copy choose_none @few copy paste @few delete undo @few turn_left undo "
            "@few choose_group choose_row choose_polarity choose_grow choose_shrink "
            "@few open_rows undo balance undo @two divide undo @two swap_groups earlier @one later @one split "
            "@two merge"
        )
        special = {
            "@few": lambda: self.canvas.choose(frozenset(self.row(4))),
            "@two": self.two_groups,
            "@one": lambda: self.bench.editing.choose_groups((3,)),
        }
        for number, name in enumerate(names.split()):
            done[f"{number} {name}"] = special.get(name) or act[name].trigger
        return done

    def run(self) -> None:
        act, alt = self.bench.actions, Qt.KeyboardModifier.AltModifier
        steps = {
            "move the pointer": self.hover,
            "zoom": self.zoom,
            "pan": self.pan,
            "look at the bottom": act["bottom"].trigger,
            "look through": act["through"].trigger,
            "look at the top": act["top"].trigger,
            "hide and show the metal": lambda: (self.key(Qt.Key.Key_6, alt), self.key(Qt.Key.Key_6, alt)),
            "keep to compare with": act["keep"].trigger,
            "paint ten cells": self.paint,
            "show side by side": act["beside"].trigger,
            "close side by side": act["beside"].trigger,
            "go to the first finding": self.first_finding,
            "show all": act["fit"].trigger,
            "place four cells": self.place,
            "erase four cells": self.erase,
            "change the insulation gap": lambda: self.document.request(ChangePlates({"gap_mm": 2.0})),
            "change the sheet": lambda: self.document.request(ChangePlates({"thickness_mm": 0.8})),
            "undo": act["undo"].trigger,
            "redo": act["redo"].trigger,
            "undo everything": self.undo_all,
            "forget the reference": act["forget"].trigger,
        } | self.more_steps()
        for name, do in steps.items():
            self.step(name, do)


def plain_ms(n_cells: int) -> float:
    """The window's wait if one edit's metal, figures and findings were worked out in its own thread."""
    layout = ChangePlates({"gap_mm": 2.0}).apply(module(*SIZES[n_cells]))
    start = time.perf_counter()
    workings = Workings(layout)
    assert workings.segments
    assert workings.figures
    assert workings.findings is not None
    return 1000 * (time.perf_counter() - start)


def main() -> None:
    sizes = [int(text) for text in sys.argv[1:]] or list(SIZES)
    app = QApplication([])
    for n_cells in sizes:
        session = Session(app, n_cells)
        session.run()
        worst = sorted(session.watchdog.worst.items(), key=lambda item: -item[1][0])
        longest, limit = worst[0][1][0], LIMITS_MS[n_cells]
        plain = plain_ms(n_cells)
        print(f"{n_cells} cells: longest wait {longest:.0f} ms, limit {limit} ms; "
              f"plain way {plain:.0f} ms, so {longest / plain:.1%} of it")  # fmt: skip
        for name, (wait_ms, own_ms, queue_ms) in worst:
            over = "   OVER" if wait_ms > limit else ""
            print(f"  {name:<28}{wait_ms:8.1f} ms, own {own_ms:7.1f} ms, queue besides {queue_ms:7.1f} ms{over}")
        sys.stdout.flush()
    os._exit(0)


if __name__ == "__main__":
    main()
