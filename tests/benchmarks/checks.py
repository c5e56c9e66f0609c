"""How long the checks take on 96 × 86 cells, beside the plain way with the same libraries. Run by hand.

Plain for cells: every pair of cells in a distance matrix, every cell a shapely disc held against wall and keep-outs.
Plain for metal: windows cut out of every segment, every segment measured against the next of its face and the wall.
"""

import time

import numpy as np
import shapely

from layout_app.checks import rules, shapes
from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import cell_type, material
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.plates import PlateSettings
from layout_app.plates.deriving import Plates

N_SERIES, N_PARALLEL = 96, 86


def rack():
    """Return one group to a column of a hexagonal lattice, two posts beside it as keep-outs."""
    cell, pitch = cell_type("21700-energy"), 22.0
    lattice = Lattice.hexagonal(pitch, angle_rad=np.pi / 2)
    row, column = np.meshgrid(np.arange(N_SERIES), np.arange(N_PARALLEL), indexing="ij")
    centres = lattice.points_mm(row.ravel().astype(float), column.ravel().astype(float))
    x_min, y_min = centres.min(axis=0) - 20
    width, height = np.ptp(centres, axis=0) + 40
    posts = tuple(Contour.circle(x_min + 4, y_min + f * height, 2.0) for f in (0.3, 0.6))
    housing = Housing(outline=Contour.rectangle(width, height, 10.0).moved(x_min, y_min), keep_outs=posts)
    return Layout(
        name="ferry rack", housing=housing, cell_type=cell, lattice=lattice, cells=Cells(centres, row.ravel() + 1),
        n_series=N_SERIES, n_parallel=N_PARALLEL, plates=PlateSettings(material=material("copper")),
    )  # fmt: skip


def plain_cells(layout):
    centres, radius = layout.cells.centres_mm, layout.cell_type.diameter_mm / 2
    apart = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    discs = shapely.buffer(shapely.points(centres), radius)
    wall = layout.housing.outline.polygon().exterior
    posts = shapely.union_all([loop.polygon() for loop in layout.housing.keep_outs])
    return apart.min(), shapely.distance(discs, wall).min(), shapely.distance(discs, posts).min()


def plain_metal(layout, segments):
    metal = [segment.metal() for segment in segments]
    wall = layout.housing.outline.polygon().exterior
    to_wall = [shapely.distance(shape, wall) for shape in metal]
    gaps = [shapely.distance(one, other) for one, other in zip(metal, metal[2:], strict=False)]
    return min(to_wall), min(gaps)


def timed(what, function):
    """Run a function; print how long it took."""
    start = time.perf_counter()
    result = function()
    print(f"{what:42s} {1e3 * (time.perf_counter() - start):9.1f} ms")
    return result


def main():
    layout = rack()
    segments = timed("segments (not part of this)", lambda: Plates(layout).segments)
    timed("cell, group and voltage rules, first time", lambda: rules.layout_findings(layout))
    timed("cell, group and voltage rules, again", lambda: rules.layout_findings(layout))
    timed("  plain way, cells only", lambda: plain_cells(layout))
    timed("all rules, first time", lambda: rules.find(layout, segments))
    for kept in (shapes.solid, shapes.edge):
        kept.cache_clear()
    timed("all rules, shapes forgotten", lambda: rules.find(layout, segments))
    timed("rules of one segment", lambda: rules.segment_findings(segments[40], layout))
    timed("  plain way, metal only", lambda: plain_metal(layout, segments))
    for finding in rules.find(layout, segments):
        print(finding.severity, finding.rule, finding.message[:100])


if __name__ == "__main__":
    main()
