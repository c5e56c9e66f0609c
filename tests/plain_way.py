"""The plain way to busbar segments, with the same library: an oracle for tests and the measure for benchmarks.

Buffer every cell, union, Voronoi, union the territories, buffers for gap and corners, union and difference the windows,
one segment after the other.
"""

import numpy as np
import shapely
from scipy.spatial import Voronoi
from shapely.geometry.base import BaseGeometry

from layout_app.model.layouts import Layout
from layout_app.plates.bare_sites import bare_sites_mm
from layout_app.plates.windows import positive_ends, segment_of_cells, window_radii_mm


def metal_area(layout: Layout, *, quad_segs: int = 32) -> BaseGeometry:
    """Return the space metal may lie in: the housing shrunk by the setback, keep-outs grown by it."""
    housing, setback_mm = layout.housing, layout.plates.setback_mm
    shape = housing.outline.polygon(1e-4).buffer(-setback_mm, quad_segs=quad_segs)
    for loop in housing.keep_outs:
        shape = shape.difference(loop.polygon(1e-4).buffer(setback_mm, quad_segs=quad_segs))
    return shape


def cell_territories(layout: Layout) -> list[BaseGeometry]:
    """Return each cell's Voronoi polygon, in cell order."""
    centres = layout.cells.centres_mm
    x_min, y_min, x_max, y_max = layout.housing.outline.bounds_mm
    span = 5 * max(x_max - x_min, y_max - y_min)
    far = [(x_min - span, y_min), (x_max + span, y_max), (x_min, y_max + span), (x_max, y_min - span)]
    diagram = Voronoi(np.vstack([centres, bare_sites_mm(layout), far]))
    corners = (diagram.vertices[diagram.regions[diagram.point_region[k]]] for k in range(len(centres)))
    return [shapely.MultiPoint(points).convex_hull for points in corners]


def solid(area: BaseGeometry, allowed: BaseGeometry, gap_mm: float, radius_mm: float, quad_segs: int) -> BaseGeometry:
    """Return the metal over a territory before windows are cut: gap, setback, outside and inside corners."""
    metal = area.buffer(-gap_mm / 2, join_style="mitre", mitre_limit=10).intersection(allowed)
    opened = metal.buffer(-radius_mm, quad_segs=quad_segs).buffer(radius_mm, quad_segs=quad_segs)
    closed = opened.buffer(radius_mm, quad_segs=quad_segs).buffer(-radius_mm, quad_segs=quad_segs)
    return closed.intersection(allowed)


def solids(layout: Layout, *, quad_segs: int = 16) -> list[BaseGeometry]:
    """Return the metal of segments 0…S, windows and tabs left out."""
    plates, allowed = layout.plates, metal_area(layout, quad_segs=quad_segs)
    territories = np.array(cell_territories(layout), dtype=object)
    reach_mm = 3 * layout.lattice.pitch_mm  # further than metal goes beyond a cell in the housings we try
    reaches = shapely.buffer(shapely.points(layout.cells.centres_mm), reach_mm, quad_segs=quad_segs)
    solids = []
    for number in range(layout.n_segments):
        members = _members(layout, number)
        area = shapely.intersection(shapely.union_all(reaches[members]), shapely.union_all(territories[members]))
        solids.append(solid(area, allowed, plates.gap_mm, plates.corner_radius_mm, quad_segs))
    return solids


def segments(layout: Layout, *, quad_segs: int = 16) -> list[BaseGeometry]:
    """Return the finished metal of segments 0…S, tabs left out."""
    finished = []
    for number, metal in enumerate(solids(layout, quad_segs=quad_segs)):
        members = _members(layout, number)
        radii = window_radii_mm(layout, positive_ends(layout, layout.face_of(number))[members])
        holes = shapely.buffer(shapely.points(layout.cells.centres_mm[members]), radii, quad_segs=quad_segs)
        finished.append(shapely.difference(metal, shapely.union_all(holes)))
    return finished


def _members(layout: Layout, number: int) -> np.ndarray:
    return segment_of_cells(layout, layout.face_of(number)) == number
