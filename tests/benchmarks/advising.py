"""What if and adviser: each beside the plain way, which derives and solves every variant from nothing. Run by hand:

python -m tests.benchmarks.advising [--large]
"""

import sys
import time

from layout_app.advising.adviser import advise
from layout_app.advising.questions import OtherThickness, TerminalElsewhere, ask, usual_questions
from layout_app.advising.trials import Trial
from layout_app.model.plates import Terminal
from layout_app.workings import Workings
from tests.plates.modules import banded

OUTSIDE = (Terminal(), Terminal())


def seconds(work, repeats=3):
    """Return the shortest of a few runs of `work`, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def questions(n_columns: int, n_rows: int, n_series: int, repeats: int) -> None:
    """Print the time of every question of one module, and of the same variant made from nothing."""
    layout = banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series, terminals=OUTSIDE)
    base = Trial.of(Workings(layout))
    print(f"{len(layout.cells)} cells, {layout.n_segments} segments")
    x_mm, y_mm, _ = base.segments[0].bolt_hole_mm
    for question in (*usual_questions(base), TerminalElsewhere(False, (x_mm, y_mm + 40.0)), OtherThickness(1.0, 1)):
        answer = ask(question, base)
        quick = seconds(lambda question=question: ask(question, base), repeats)
        conditions = question.conditions(answer.layout)
        plain = seconds(lambda answer=answer, c=conditions: Workings(answer.layout).network.solve(None, c), 1)
        print(
            f"  {question.label:44} {quick * 1e3:8.1f} ms; plain way {plain * 1e3:8.1f} ms, {plain / quick:.0f} times"
        )


def advice(n_columns: int, n_rows: int, n_series: int) -> None:
    """Print the time of the adviser, and what as many layouts would take from nothing, by one of them."""
    layout = banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series, terminals=OUTSIDE)
    one = seconds(lambda: Workings(layout).network.solve(), 1)
    workings = Workings(layout)
    assert workings.findings is not None
    start = time.perf_counter()
    found = advise(workings)
    took = time.perf_counter() - start
    print(
        f"{len(layout.cells)} cells: {found.n_tried} layouts, {len(found.proposals)} proposals {took:.2f} s; "
        f"currents alone from nothing {found.n_tried * one:.1f} s"
    )


if __name__ == "__main__":
    questions(43, 12, 6, 3)
    advice(43, 12, 6)
    if "--large" in sys.argv:
        questions(96, 86, 96, 1)
