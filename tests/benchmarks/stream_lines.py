"""Stream lines and necks of a 516-cell module, beside the plain ways of doing the same. Run by hand:

python -m tests.benchmarks.stream_lines [--large]

The plain way to a line steps along the interpolated density, a fifth of a millimetre at a time; it is run for some
lines and its time told for all. It may also leave the metal, and its lines carry no even current. The plain way to a
neck is a maximum flow on the triangles of the sheet.
"""

import sys
import time

import numpy as np
from scipy.interpolate import NearestNDInterpolator
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from layout_app.physics.current_paths import module_lines, worst_paths
from layout_app.physics.currents import SheetModel
from layout_app.physics.edge_flows import edge_flows
from layout_app.physics.min_cuts import module_cuts
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded

AMPERES = 80.0
STEP_MM, SAMPLED = 0.2, 100  # of the plain way


def seconds(work, repeats=3):
    """Return the shortest of a few runs of `work`, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def plain_lines_seconds(fields, lines) -> float:
    """Return how long stepping would take for all lines, scaled up from a few of one segment."""
    field, some = fields[1], lines[1]
    middles = field.mesh.points_mm[field.mesh.triangles].mean(axis=1)
    starts = np.searchsorted(some.line, np.linspace(0, len(some) - 1, SAMPLED).astype(int))
    ends = np.searchsorted(some.line, np.arange(len(some)), side="right") - 1
    length = np.hypot(*(some.points_mm[ends] - some.points_mm[np.searchsorted(some.line, np.arange(len(some)))]).T)
    begun = time.perf_counter()
    density = NearestNDInterpolator(middles, field.density_a_mm2)
    points = some.points_mm[starts]
    for _ in range(int(length.mean() * 1.3 / STEP_MM)):
        way = density(points)
        points = points + STEP_MM * way / np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    return (time.perf_counter() - begun) * sum(map(len, lines)) / SAMPLED


def plain_cut_seconds(field, segment) -> float:
    """Return how long one maximum flow on a segment's triangles takes."""
    mesh = field.mesh
    across = edge_flows(mesh, field.potential_v, 1.0).across
    one, k = np.nonzero(across >= 0)
    corner = mesh.points_mm[mesh.triangles]
    length = np.hypot(*(corner[one, (k + 1) % 3] - corner[one, (k + 2) % 3]).T)
    n = len(across)
    graph = csr_array((np.round(length * 1000).astype(np.int32), (one, across[one, k] // 3)), shape=(n, n))
    return seconds(lambda: maximum_flow(graph, 0, n - 1), 1)


def module(n_columns: int, n_rows: int, n_series: int) -> None:
    """Print the times for one module."""
    plates = Plates(banded(n_columns=n_columns, n_rows=n_rows, n_series=n_series))
    start = time.perf_counter()
    model = SheetModel(plates)
    found = model.solve(AMPERES)
    print(
        f"{len(plates.layout.cells)} cells, {len(plates.segments)} segments; sheet {time.perf_counter() - start:.2f} s"
    )
    start = time.perf_counter()
    fields = model.fields(found)
    print(f"  fields                        {time.perf_counter() - start:8.3f} s")
    lines = module_lines(plates.segments, fields, found)
    took = seconds(lambda: module_lines(plates.segments, fields, found))
    plain = plain_lines_seconds(fields, lines)
    n_points = sum(len(each.points_mm) for each in lines)
    print(f"  {sum(map(len, lines)):6d} lines, {n_points:7d} points {took:8.3f} s; stepped one by one {plain:.1f} s")
    one = seconds(lambda: module_lines(plates.segments, fields, found, per_joint=1))
    print(f"  a line a joint                {one:8.3f} s")
    took = seconds(lambda: worst_paths(plates.layout, plates.segments, fields, found))
    print(f"  worst-placed cells            {took:8.3f} s")
    took = seconds(lambda: module_cuts(plates, found))
    plain = plain_cut_seconds(fields[1], plates.segments[1]) * len(plates.segments)
    print(f"  necks                         {took:8.3f} s; one maximum flow each on the sheet {plain:.2f} s")


if __name__ == "__main__":
    module(6, 86, 6)
    if "--large" in sys.argv:
        module(96, 86, 96)
