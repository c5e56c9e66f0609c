"""Time of filling beside the plain way with the same libraries: python tests/benchmarks/filling.py

The plain way shrinks the housing by a buffer and counts the sites of every lattice in it, over a grid of offsets and,
for compressed lattices, of openings. It looks at the same kinds and directions. Every time is the best of three runs.
"""

import math
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[2]))

from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.planning.filling import KINDS, arrangements
from tests.planning.shapes import cell, ferry_rack, rover_tray

OPENINGS = (1.005, 1.01, 1.02, 1.04, 1.08)


def plain_counts(housing, diameter_mm, pitch_mm, n_offsets):
    """Return the most sites found for each kind, by trial."""
    allowed = housing.outline.polygon().buffer(-housing.wall_clearance_mm - diameter_mm / 2)
    for loop in housing.keep_outs:
        allowed = allowed.difference(loop.polygon().buffer(housing.keep_out_clearance_mm + diameter_mm / 2))
    shapely.prepare(allowed)
    makers = {
        "hexagonal": [Lattice.hexagonal], "square": [Lattice.square],
        "compressed": [lambda p, a, k=k: Lattice.compressed(p, p * k, a) for k in OPENINGS],
    }  # fmt: skip
    return {
        kind: max(
            plain_count(make(pitch_mm, a), allowed, n_offsets) for make in makers[kind] for a in (0.0, math.pi / 2)
        )
        for kind in KINDS
    }


def plain_count(lattice, allowed, n_offsets):
    """Return the most sites of a lattice in a shape, over a grid of offsets."""
    x_min, y_min, x_max, y_max = allowed.bounds
    reach = int(math.hypot(x_max - x_min, y_max - y_min) / 2 / lattice.row_mm) + 2
    row, column = (k.ravel().astype(float) for k in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    middle = ((x_min + x_max) / 2, (y_min + y_max) / 2)
    best = 0
    for u in np.arange(n_offsets) / n_offsets:
        for v in np.arange(n_offsets) / n_offsets:
            points = replace(lattice, origin_mm=middle).points_mm(row + v, column + u)
            best = max(best, int(shapely.contains_xy(allowed, *points.T).sum()))
    return best


def timed(call):
    """Return the result and the shortest of three times, ms."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        result = call()
        times.append((time.perf_counter() - start) * 1e3)
    return result, min(times)


def main():
    """Print counts and times."""
    ring = Housing(outline=Contour.circle(0, 0, 132.5), keep_outs=(Contour.circle(0, 0, 19),))
    jobs = (("rover tray", rover_tray(), (8, 24)), ("buoy canister", ring, (8, 24)), ("ferry rack", ferry_rack(), (8,)))
    for name, housing, grids in jobs:
        found, ours_ms = timed(lambda housing=housing: arrangements(housing, cell(), gap_mm=1.5))
        ours = {kind: max(len(a) for a in found if a.lattice.kind == kind) for kind in KINDS}
        print(f"{name}: ours {ours_ms:.0f} ms {ours}, bound {found[0].upper_bound}")
        for n in grids:
            plain, plain_ms = timed(lambda housing=housing, n=n: plain_counts(housing, 21.0, 22.5, n))
            print(
                f"    plain way, {n} x {n} offsets: {plain_ms:.0f} ms {plain}; {plain_ms / ours_ms:.1f} times as long"
            )


if __name__ == "__main__":
    main()
