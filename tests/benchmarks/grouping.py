"""How long neighbours, grouping and laying take, beside the plain way of doing the same. Run by hand:

python tests/benchmarks/grouping.py

The plain way to neighbours: shapely's Voronoi polygons, a tree of them, and the length of every common edge. The plain
way to groups: sort the cells along the longer side, cut into runs of P, and walk every group and step to see whether
it holds; it mends nothing, so it is told how many faults it leaves.
"""

import time
from collections import deque

import numpy as np
import shapely

from layout_app.geometry.contours import Contour
from layout_app.geometry.neighbours import neighbours
from layout_app.model.catalogues import cell_type
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.planning.filling import sites_mm
from layout_app.planning.grouping import REACH_PITCHES, divide
from layout_app.planning.laying import lay

PITCH_MM = 22.0
CELL = cell_type("21700-energy")
SLITS = tuple(Contour.rectangle(24, 260).moved(x_mm, 700) for x_mm in (780, 1560))
RACK = Housing(outline=Contour.rectangle(2360, 1660), keep_outs=SLITS)  # our ferry's: two slits for the frame
MODULE = Housing(outline=Contour.rectangle(660, 420))
N_RUNS = 3


def timed(work):
    best_s, result = np.inf, None
    for _ in range(N_RUNS):
        start = time.perf_counter()
        result = work()
        best_s = min(best_s, time.perf_counter() - start)
    return best_s, result


def plain_neighbours(points):
    territories = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(points), ordered=True))
    i, j = shapely.STRtree(territories).query(territories, predicate="intersects")
    near = (i < j) & (np.hypot(*(points[i] - points[j]).T) <= REACH_PITCHES * PITCH_MM)
    i, j = i[near], j[near]
    borders_mm = shapely.length(shapely.intersection(territories[i], territories[j]))
    return np.column_stack([i, j])[borders_mm > PITCH_MM / 10]


def plain_faults(points, pairs, n_series, n_parallel):
    groups = np.zeros(len(points), dtype=int)
    order = np.lexsort((points[:, 1], points[:, 0]))[: n_series * n_parallel]
    groups[order] = np.arange(len(order)) // n_parallel + 1
    around = {cell: set() for cell in range(len(points))}
    for i, j in pairs.tolist():
        around[i].add(j)
        around[j].add(i)
    members = [set(np.flatnonzero(groups == k).tolist()) for k in range(1, n_series + 1)]
    n_faults = 0
    for k, own in enumerate(members):
        seen, queue = {min(own)}, deque([min(own)])
        while queue:
            fresh = around[queue.popleft()] & own - seen
            seen |= fresh
            queue.extend(fresh)
        n_faults += seen != own
        n_faults += k > 0 and not any(around[cell] & members[k - 1] for cell in own)
    return n_faults


def show(what, ours_s, plain_s, note=""):
    print(f"{what:58} {ours_s * 1e3:8.1f} ms   plain {plain_s * 1e3:8.1f} ms   {ours_s / plain_s:6.2f}   {note}")


def compare(name, housing, n_series, n_parallel, chain):
    points = sites_mm(Lattice.hexagonal(PITCH_MM, origin_mm=(11.6, 11.6)), housing, CELL)
    ours_s, found = timed(lambda: neighbours(points, REACH_PITCHES * PITCH_MM))
    plain_s, plain = timed(lambda: plain_neighbours(points))
    same = len(plain) == len(found.pairs)
    show(f"{name}: neighbours of {len(points)} sites", ours_s, plain_s, "" if same else "other pairs at the rim")
    work = {"pitch_mm": PITCH_MM, "n_series": n_series, "n_parallel": n_parallel, "chain": chain, "pairs": found}
    ours_s, division = timed(lambda: divide(points, **work))
    plain_s, n_faults = timed(lambda: plain_faults(points, found.pairs, n_series, n_parallel))
    note = f"ours {'sound' if division.is_sound else 'NOT SOUND'}; plain leaves {n_faults} faults"
    show(f"{name}: {n_series} groups of {n_parallel}, {chain}", ours_s, plain_s, note)


if __name__ == "__main__":
    for chain in ("straight", "folded"):
        compare("module", MODULE, 6, 86, chain)
        compare("ferry rack", RACK, 96, 86, chain)
    seconds, _ = timed(lambda: lay(RACK, CELL, n_series=96, n_parallel=86))
    print(f"{'ferry rack: filled, grouped, laid':58} {seconds * 1e3:8.1f} ms")
