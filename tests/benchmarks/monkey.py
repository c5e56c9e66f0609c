"""The monkey for long: thousands of random gestures over all tools, undone entirely, again and again.

Run by hand: python tests/benchmarks/monkey.py [actions=3000] [first seed=1] [rounds=3]. Prints, for each seed, what was
done, how long an action took in the middle and at worst, and whether undoing gave the very first layout.
"""

import os
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["XDG_CONFIG_HOME"] = os.environ["XDG_DATA_HOME"] = tempfile.mkdtemp()
sys.path.insert(0, str(Path(__file__).parents[2]))

from PySide6.QtWidgets import QApplication

from layout_app.window.app import Program
from tests.window.modules import module
from tests.window.monkey import Monkey, undo_everything


def main() -> None:
    n_actions, seed, n_rounds = (int(text) for text in (sys.argv[1:4] + ["3000", "1", "3"][len(sys.argv) - 1 :]))
    app = QApplication([])
    for number in range(seed, seed + n_rounds):
        one_round(app, number, n_actions)
    os._exit(0)


def one_round(app: QApplication, seed: int, n_actions: int) -> None:
    program, crashes = Program(), []
    program.crash = crashes.append
    sys.excepthook = lambda kind, error, trace: crashes.append(error)
    window = program.new_window()
    window.resize(1280, 800)
    window.show_layout(module(6, 20, 10), None)
    bench = window.workbench
    first, monkey, times = bench.document.current, Monkey(bench, seed), []
    slow: list[tuple[float, str, int]] = []
    for _ in range(n_actions):
        start = time.perf_counter()
        monkey.play(1)
        times.append(time.perf_counter() - start)
        slow.append((times[-1], monkey.did[-1], len(bench.document.current.cells)))
    while not bench.document.is_settled:
        app.processEvents()
    bench.canvas.cancel_gesture()
    n_undone = undo_everything(bench)
    times.sort()
    verdict = "the very first layout" if bench.document.current is first else "ANOTHER LAYOUT"
    print(f"seed {seed}: {n_actions} actions, {n_undone} steps undone to {verdict}, {len(crashes)} exceptions; "
          f"median {1000 * times[len(times) // 2]:.1f} ms, worst {1000 * times[-1]:.0f} ms an action")  # fmt: skip
    for took, deed, n_cells in sorted(slow, reverse=True)[:3]:
        print(f"    {1000 * took:.0f} ms: {deed} with {n_cells} cells")
    for error in crashes[:3]:
        print("   ", type(error).__name__, error)
    print("   ", ", ".join(f"{n} {deed}" for deed, n in Counter(monkey.did).most_common(8)))
    bench.document._saved = bench.document.current
    window.close()


if __name__ == "__main__":
    main()
