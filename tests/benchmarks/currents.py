"""Currents: the network beside ngspice and a dense solve, the sheet model's time and memory. Run by hand:

python -m tests.benchmarks.currents [--large]
"""

import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from layout_app.exchange.netlist import netlist
from layout_app.physics.currents import NetworkModel, SheetModel
from layout_app.physics.module import Metal
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded

AMPERES = 80.0


def seconds(work, repeats=5):
    """Return the shortest of a few runs of `work`, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def ngspice_seconds(deck: str) -> float:
    """Return how long ngspice takes from reading the deck to the operating point, s, its start-up taken off."""
    with tempfile.TemporaryDirectory() as folder:
        empty, full = Path(folder) / "empty.cir", Path(folder) / "full.cir"
        empty.write_text("* nothing\nR1 1 0 1\nI1 0 1 DC 1\n.op\n.end\n")
        full.write_text(deck)

        def run(file: Path) -> None:
            subprocess.run(["ngspice", "-b", str(file)], capture_output=True, check=True)

        return seconds(lambda: run(full), 3) - seconds(lambda: run(empty), 3)


def dense_seconds(metals: tuple[Metal, ...]) -> float:
    """Return the plain way's time: all nodes in one dense matrix; only what a few seconds allow."""
    n = sum(metal.n_nodes for metal in metals)
    matrix = np.eye(n) * 4 - np.eye(n, k=1) - np.eye(n, k=-1)
    return seconds(lambda: np.linalg.solve(matrix, np.ones(n)), 1)


def network(n_columns: int, n_rows: int, n_series: int) -> None:
    """Print the network's times for one module."""
    plates = Plates(banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series))
    assert plates.segments
    links = seconds(lambda: NetworkModel(plates).metals, 2)
    model = NetworkModel(plates)
    solve = seconds(lambda: model.solve(AMPERES))
    n_cells, n_nodes = len(plates.layout.cells), sum(metal.n_nodes for metal in model.metals)
    print(f"{n_cells} cells, {n_nodes} nodes: links {links * 1e3:.0f} ms, solve {solve * 1e3:.1f} ms")
    if n_nodes < 5000:
        plain = dense_seconds(model.metals)
        print(f"  dense matrix {plain * 1e3:.0f} ms, ratio {plain / solve:.0f}")
    if shutil.which("ngspice"):
        theirs = ngspice_seconds(netlist(model, AMPERES))
        print(f"  same deck in ngspice {theirs * 1e3:.0f} ms, ratio {theirs / solve:.0f}")


def sheet(n_columns: int, n_rows: int, n_series: int) -> None:
    """Print the sheet model's time and the process's peak memory for one module."""
    plates = Plates(banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series))
    assert plates.segments
    start, cpu = time.perf_counter(), time.process_time()
    model = SheetModel(plates)
    made = time.perf_counter()
    found = model.solve(AMPERES)
    solved = time.perf_counter()
    cpu = time.process_time() - cpu
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{len(plates.layout.cells)} cells, {len(plates.segments)} segments: sheets {made - start:.2f} s, solve "
        f"{solved - made:.2f} s, processor {cpu:.2f} s, peak memory {peak_mb:.0f} MB, errors {found.errors}"
    )


def main() -> None:
    for shape in ((12, 43, 6), (6, 86, 6)):
        network(*shape)
    sheet(6, 86, 6)
    if "--large" in sys.argv:
        network(96, 86, 96)
        sheet(96, 86, 96)


if __name__ == "__main__":
    main()
