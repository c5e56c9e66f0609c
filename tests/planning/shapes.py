"""Housings for tests of filling: named ones, and hypothesis strategies for those an engineer might hand over."""

import math
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import cell_type
from layout_app.model.cell_types import CellType
from layout_app.model.housings import Housing

QUARTER = math.tan(math.pi / 8)  # bulge of a quarter circle


def cell(diameter_mm: float = 21.0) -> CellType:
    """Return a cell type of some diameter."""
    small = {"button_diameter_mm": 1.0, "shoulder_diameter_mm": 1.5, "bottom_diameter_mm": 2.0}
    return replace(cell_type("21700-energy"), diameter_mm=diameter_mm, diameter_tolerance_mm=0.0, **small)


def regular(n_sides: int, radius_mm: float) -> Contour:
    """Return a regular polygon by its circumradius, a vertex on the x axis."""
    turn = np.arange(n_sides) * 2 * math.pi / n_sides
    return Contour(radius_mm * np.column_stack([np.cos(turn), np.sin(turn)]))


def ferry_rack(clearance_mm: float = 1.0) -> Housing:
    """Return the ferry's rack, 2360 x 1660 mm with two plates in it (tests/data/footprints/ferry_rack_r12.dxf)."""
    plates = tuple(Contour.rectangle(24, 260).moved(x, 700) for x in (780, 1560))
    return Housing(
        outline=Contour.rectangle(2360, 1660),
        keep_outs=plates,
        wall_clearance_mm=clearance_mm,
        keep_out_clearance_mm=clearance_mm,
    )


def rover_tray() -> Housing:
    """Return the orchard rover's tray with its notch and bosses (tests/data/footprints/orchard_rover_tray.dxf)."""
    corners = [(1214, 350), (1606, 350), (1620, 364), (1620, 572), (1606, 586), (1450, 586), (1450, 556), (1370, 556)]
    corners += [(1370, 586), (1214, 586), (1200, 572), (1200, 364)]
    bulges = [0, QUARTER, 0, QUARTER, 0, 0, 0, 0, 0, QUARTER, 0, QUARTER]
    bosses = [(1214, 364, 4), (1606, 364, 4), (1214, 572, 4), (1606, 572, 4), (1340, 468, 5), (1480, 468, 5)]
    return Housing(outline=Contour(corners, bulges), keep_outs=tuple(Contour.circle(*boss) for boss in bosses))


lengths_mm = st.floats(30.0, 220.0)


@st.composite
def rectangles(draw: st.DrawFn) -> Contour:
    """Return rectangles, some with round corners."""
    width, height = draw(lengths_mm), draw(lengths_mm)
    return Contour.rectangle(width, height, draw(st.just(0.0) | st.floats(0.5, min(width, height) / 2.01)))


@st.composite
def ells(draw: st.DrawFn) -> Contour:
    """Return L shapes, the inside corner round in some."""
    w, h = draw(lengths_mm), draw(lengths_mm)
    x, y = w * draw(st.floats(0.2, 0.8)), h * draw(st.floats(0.2, 0.8))
    r = draw(st.just(0.0) | st.floats(0.5, min(w - x, h - y) / 2))
    points = [(0, 0), (w, 0), (w, y), (x + r, y), (x, y + r), (x, h), (0, h)]
    return Contour(points, [0, 0, 0, -QUARTER if r else 0, 0, 0, 0]).without_null_edges()


@st.composite
def stars(draw: st.DrawFn) -> Contour:
    """Return polygons of three to nine corners around a point, with reflex ones among them."""
    n = draw(st.integers(3, 9))
    radii = np.array(draw(st.lists(st.floats(20.0, 130.0), min_size=n, max_size=n)))
    turn = (np.arange(n) + draw(st.floats(0.0, 1.0))) * 2 * math.pi / n
    return Contour(radii[:, None] * np.column_stack([np.cos(turn), np.sin(turn)]))


@st.composite
def housings(draw: st.DrawFn) -> Housing:
    """Return housings of all these shapes, turned, far away or not, with up to two keep-outs anywhere about them."""
    outline = draw(
        st.one_of(rectangles(), ells(), stars(), st.floats(15.0, 110.0).map(lambda r: Contour.circle(0, 0, r)))
    )
    x_min, y_min, x_max, y_max = outline.bounds_mm
    places = st.tuples(st.floats(x_min, x_max), st.floats(y_min, y_max), st.floats(1.0, 25.0))
    keep_outs = [Contour.circle(*place) for place in draw(st.lists(places, max_size=2))]
    turn, far = draw(st.sampled_from([0.0, 0.3, math.pi / 2])), draw(st.sampled_from([0.0, 12_345.6]))
    loops = [loop.turned(turn).moved(far, -far) for loop in (outline, *keep_outs)]
    return Housing(
        outline=loops[0],
        keep_outs=tuple(loops[1:]),
        wall_clearance_mm=draw(st.sampled_from([0.0, 1.0, 3.7])),
        keep_out_clearance_mm=draw(st.sampled_from([0.0, 1.0])),
    )
