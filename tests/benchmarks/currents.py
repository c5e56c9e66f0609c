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
from layout_app.physics import side_by_side
from layout_app.physics.currents import NetworkModel, SheetModel
from layout_app.physics.islands import known_links
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
    known_links.cache_clear()
    new = seconds(lambda: NetworkModel(plates).metals, 1)  # every shape of island for the first time
    links = seconds(lambda: NetworkModel(plates).metals, 3)  # after an edit: nearly all shapes are known
    model = NetworkModel(plates)
    solve = seconds(lambda: model.solve(AMPERES))
    n_cells, n_nodes = len(plates.layout.cells), sum(metal.n_nodes for metal in model.metals)
    print(
        f"{n_cells} cells, {n_nodes} nodes: links {new * 1e3:.0f} ms, {links * 1e3:.0f} ms again, "
        f"{links / len(plates.segments) * 1e3:.1f} ms a segment; solve {solve * 1e3:.1f} ms"
    )
    if n_nodes < 5000:
        plain = dense_seconds(model.metals)
        print(f"  dense matrix {plain * 1e3:.0f} ms, ratio {plain / solve:.0f}")
    if shutil.which("ngspice") and n_nodes < 5000:  # the largest module takes it more than ten minutes
        theirs = ngspice_seconds(netlist(model, AMPERES))
        print(f"  same deck in ngspice {theirs * 1e3:.0f} ms, ratio {theirs / solve:.0f}")


def sheet(n_columns: int, n_rows: int, n_series: int) -> None:
    """Print the sheet model's times for one module beside one segment after the other, and the peak memory."""
    plates = Plates(banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series))
    assert plates.segments
    told: list[float] = []
    start, cpu = time.perf_counter(), time.process_time()
    model = SheetModel(plates, progress=lambda share: told.append(time.perf_counter()))
    made, cpu = time.perf_counter(), time.process_time() - cpu
    took = made - start
    found = model.solve(AMPERES)
    solved = time.perf_counter()
    fields = model.fields(found)
    drawn = time.perf_counter()
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    n_triangles = sum(len(field.mesh.triangles) for field in fields)
    print(
        f"{len(plates.layout.cells)} cells, {len(plates.segments)} segments: sheets {took:.2f} s (processor "
        f"{cpu:.2f} s), solve {solved - made:.2f} s, fields {drawn - solved:.2f} s for {n_triangles} triangles, peak "
        f"memory {peak_mb:.0f} MB"
    )
    print(f"  longest wait between two words of progress {np.diff([start, *told]).max():.2f} s")
    print(f"  errors {found.errors}")
    side_by_side.AT_ONCE = 1
    start = time.perf_counter()
    SheetModel(plates)
    plain = time.perf_counter() - start
    print(f"  one segment after the other {plain:.2f} s, ratio {plain / took:.2f}")
    start = time.perf_counter()
    SheetModel(plates, previous=model)
    print(f"  with all segments lent {time.perf_counter() - start:.3f} s")


def main() -> None:
    if sys.argv[1:2] == ["--sheet"]:
        sheet(*map(int, sys.argv[2:]))
        return
    for shape in ((12, 43, 6), (6, 86, 6)):
        network(*shape)
    in_fresh_process(6, 86, 6)
    if "--large" in sys.argv:
        network(96, 86, 96)
        in_fresh_process(96, 86, 96)


def in_fresh_process(*shape: int) -> None:
    """Run the sheet model where no other memory has been used."""
    sys.stdout.flush()
    subprocess.run([sys.executable, "-m", "tests.benchmarks.currents", "--sheet", *map(str, shape)], check=True)


if __name__ == "__main__":
    main()
