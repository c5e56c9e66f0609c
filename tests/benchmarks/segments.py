"""Segments of both faces, ours beside the plain way, and one cell repainted. Run by hand:

python -m tests.benchmarks.segments
"""

import time
from dataclasses import replace

import numpy as np

from layout_app.model.layouts import Layout
from layout_app.plates.deriving import Plates
from tests import plain_way
from tests.plates.modules import banded


def seconds(work, repeats=3):
    """Return the shortest of a few runs of `work`, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def repainted(layout: Layout) -> Layout:
    """Return the layout with one border cell of a middle group painted into the next."""
    groups = layout.cells.groups.copy()
    middle = layout.n_series // 2
    members = np.flatnonzero(groups == middle)
    groups[members[np.argmax(layout.cells.centres_mm[members, 0])]] = middle + 1
    return replace(layout, cells=layout.cells.regrouped(groups))


def main() -> None:
    assert Plates(banded(n_columns=4, n_rows=3, n_series=2)).segments  # loads the libraries
    print(f"{'':28}{'ours':>10}{'plain way':>12}{'ratio':>8}")
    for n_columns, n_rows, n_series in ((6, 86, 6), (12, 43, 6), (96, 86, 96)):
        layout = banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series)
        ours = seconds(lambda layout=layout: Plates(layout).segments)
        plain = seconds(lambda layout=layout: plain_way.segments(layout, quad_segs=16), repeats=1)
        show(f"{len(layout.cells)} cells, {n_series + 1} segments", ours, plain)
        before = Plates(layout)
        assert before.segments
        edited = repainted(layout)
        again = seconds(lambda edited=edited, before=before: Plates(edited, before).segments)
        touched = sum(a is not b for a, b in zip(before.segments, Plates(edited, before).segments, strict=True))
        show(f"  one repainted, {touched} remade", again, plain)


def show(what: str, ours: float, plain: float) -> None:
    print(f"{what:28}{ours * 1e3:7.1f} ms{plain * 1e3:9.1f} ms{ours / plain:8.4f}")


if __name__ == "__main__":
    main()
