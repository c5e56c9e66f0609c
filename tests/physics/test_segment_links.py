"""Segment links: every single segment beside the sheet model, which the tests of contacts hold to closed forms."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from layout_app.geometry.contours import Contour
from layout_app.model import saved_file
from layout_app.model.joints import JointSettings
from layout_app.model.lattices import Lattice
from layout_app.model.plates import Terminal
from layout_app.model.resources import sample_layouts
from layout_app.physics.currents import NetworkModel
from layout_app.physics.island_walks import shapes_and_contacts, walks
from layout_app.physics.islands import island_of
from layout_app.physics.joints import lands
from layout_app.physics.metal_cuts import metal_cuts
from layout_app.physics.metal_edge import metal_edge
from layout_app.physics.network import parts_of
from layout_app.physics.segment_links import segment_links
from layout_app.physics.segment_sheets import segment_sheet
from layout_app.plates.deriving import Plates
from tests.plates.modules import CELL, PITCH_MM, banded, hexagonal, module, modules

OUTSIDE = (Terminal(place="outside"), Terminal(place="outside"))
WIRES, TONGUES = JointSettings(), JointSettings(weld_ohm=4e-4)
LIMIT = 0.10  # of a single segment's resistance: asked for by the user


def of_links(metal, n_contacts):
    """Return the conductance matrix between contacts of a segment's links, S."""
    whole = np.zeros((metal.n_nodes, metal.n_nodes))
    np.add.at(whole, (metal.start, metal.end), -metal.conductance_s)
    whole += whole.T
    whole -= np.diag(whole.sum(axis=0))
    kept, inner = whole[:n_contacts, :n_contacts], whole[:n_contacts, n_contacts:]
    return kept - inner @ np.linalg.solve(whole[n_contacts:, n_contacts:], inner.T)


def of_sheet(segment, where, tabs, pitch_mm):
    """Return the same from two meshes, extrapolated."""
    coarse = segment_sheet(segment, where, tabs, pitch_mm)
    g = [sheet.contact_conductance_s() for sheet in (coarse, coarse.refined())]
    return g[1] + (g[1] - g[0]) / 3


def resistances(g, segment):
    """Return two resistances of a segment: its ends held together, and by its loss with every land carrying the same.

    From positive lands to negative ones; of an end segment from all lands to the terminal.
    """
    n, is_positive = len(segment.window_cells), segment.is_positive_end
    is_end = is_positive.all() or not is_positive.any()
    first = np.append(np.ones(n), [0.0]) if is_end else is_positive.astype(float)
    share = first / first.sum() - (1 - first) / (1 - first).sum()
    each = np.zeros(len(g))
    each[1:] = np.linalg.solve(g[1:, 1:], share[1:])
    return 1 / (first @ g @ first), share @ each


def worst_apart(layout, joints=WIRES, numbers=None):
    """Return the largest relative difference of any segment's resistance, network beside sheet."""
    plates, apart = Plates(layout), []
    for k in range(layout.n_segments) if numbers is None else numbers:
        segment = plates.segments[k]
        where, tabs = lands(segment, joints, layout.lattice.angle_rad), plates.tabs(k, segment.window_cells)
        sheet = of_sheet(segment, where, tabs, layout.lattice.pitch_mm)
        links = of_links(segment_links(segment, where, tabs), len(sheet))
        pairs = zip(resistances(links, segment), resistances(sheet, segment), strict=True)
        apart += [abs(one / other - 1) for one, other in pairs]
    return max(apart)


@pytest.mark.parametrize("joints", [WIRES, TONGUES], ids=["wires", "tongues"])
@pytest.mark.parametrize("name", ["harbour_buoy", "orchard_rover", "canal_tender"])
def test_every_segment_of_the_samples_is_as_the_sheet_says(name, joints):
    """Half of what is asked for: it was met with a third when this was written."""
    assert worst_apart(saved_file.load(sample_layouts()[name]), joints) < LIMIT / 2


def test_segments_of_a_large_module_are_as_the_sheet_says():
    assert worst_apart(saved_file.load(sample_layouts()["ferry_rack"]), numbers=[0, 1, 48]) < LIMIT / 2


def other_lattice(row_mm, shift, n_columns=6, n_rows=7, n_series=6, **options):
    """Return a rectangular module of straight rows `row_mm` apart, every other one shifted by a share of the pitch."""
    row, column = (axis.ravel() for axis in np.mgrid[:n_rows, :n_columns])
    points = np.column_stack([(column + row % 2 * shift) * PITCH_MM, row * row_mm])
    size = np.ptp(points, axis=0) + 23
    outline = Contour.rectangle(*size, 8.0).moved(-11.5, -11.5)
    lattice = Lattice.square(PITCH_MM)
    return module(points, column * n_series // n_columns + 1, outline, lattice=lattice, terminals=OUTSIDE, **options)


SMALL_WINDOWS = {"positive_window_mm": 11.0, "negative_window_mm": 12.0}
VARIANTS = {
    "hexagonal, one column a group": (banded(6, 6, 6, terminals=OUTSIDE), WIRES),
    "hexagonal, two columns": (banded(8, 6, 4, terminals=OUTSIDE), JointSettings(wire_diameter_mm=0.5)),
    "hexagonal, many columns": (banded(18, 5, 3, terminals=OUTSIDE), JointSettings(n_wires=1)),
    "hexagonal, small windows": (banded(8, 6, 4, terminals=OUTSIDE, **SMALL_WINDOWS), WIRES),
    "hexagonal, wide tongues": (banded(8, 6, 4, terminals=OUTSIDE), JointSettings(weld_ohm=4e-4, weld_width_mm=5.0)),
    "hexagonal, straight borders": (banded(8, 6, 4, terminals=OUTSIDE, borders="straight"), WIRES),
    "terminals inside": (banded(24, 6, 4), WIRES),
    "square, one column": (other_lattice(PITCH_MM, 0.0), TONGUES),
    "square, two columns": (other_lattice(PITCH_MM, 0.0, 8, 6, 4), WIRES),
    "rows pushed together": (other_lattice(0.93 * PITCH_MM, 0.4, 8, 6, 4), WIRES),
}


@pytest.mark.parametrize(("layout", "joints"), VARIANTS.values(), ids=VARIANTS)
def test_other_lattices_windows_and_joints_are_as_the_sheet_says(layout, joints):
    assert worst_apart(layout, joints) < LIMIT


def test_thickness_and_material_scale_all_links_alike():
    """Law: a sheet's conductance is thickness over resistivity, whatever its shape."""
    layout = banded(6, 4, 3)
    thick = replace(layout, plates=replace(layout.plates, thickness_mm=3 * layout.plates.thickness_mm))
    for one, other in zip(NetworkModel(Plates(layout)).metals, NetworkModel(Plates(thick)).metals, strict=True):
        assert other.conductance_s == pytest.approx(3 * one.conductance_s)


@settings(deadline=None, max_examples=10)
@given(layout=modules())
def test_links_conduct_and_join_all_contacts_of_a_piece_of_metal(layout):
    """Laws: no link conducts backwards; lands on one piece of metal hang together, and on two they do not."""
    plates = Plates(layout)
    for segment in plates.segments:
        if not segment.pieces:
            continue
        where, tabs = lands(segment, WIRES, layout.lattice.angle_rad), plates.tabs(segment.number, segment.window_cells)
        metal = segment_links(segment, where, tabs)
        assert np.isfinite(metal.conductance_s).all()
        assert (metal.conductance_s > 0).all()
        part = parts_of(metal.n_nodes, metal.start, metal.end)[: len(where.centres_mm)]
        pieces = [piece.polygon(0.01) for piece in segment.pieces]
        on = shapely.STRtree(pieces).nearest(shapely.points(segment.window_centres_mm))
        assert len(np.unique(part)) == len(np.unique(on)) == len(np.unique(np.column_stack([part, on]), axis=0))


def area_mm2(shape):
    """Return the area inside a shape's boundary: the sum of its elements' triangles with the origin."""
    island = island_of(*shape, 1.0)
    (x, y), (u, v) = island.nodes_mm.T, island.nodes_mm[island.following].T
    return (x * v - y * u).sum() / 2


@pytest.mark.parametrize("layout", [banded(8, 6, 4, terminals=OUTSIDE), banded(5, 3, 5), banded(30, 2, 3)])
def test_islands_make_up_the_whole_metal(layout):
    """Law: their areas add up to the segment's, but for what lies between arcs and chords; end segments' bolt holes,
    too, are whole where they lie clear of windows."""
    plates = Plates(layout)
    for segment in plates.segments:
        tabs = plates.tabs(segment.number, segment.window_cells)
        edge, where = metal_edge(segment, tabs), lands(segment, WIRES, layout.lattice.angle_rad)
        bolts = np.reshape(segment.bolt_holes_mm, (-1, 3))
        amid, beyond = (bolts[:0], bolts) if all(tab.is_outside for tab in tabs) else (bolts, bolts[:0])
        holes, cuts = metal_cuts(segment.windows_mm, amid, where, edge, tabs)
        if (
            len(holes) == len(segment.windows_mm) + len(amid)
            and (holes[:, 2] == [*segment.windows_mm[:, 2], *amid[:, 2]]).all()
        ):
            shapes, _ = shapes_and_contacts(walks(cuts, edge), holes, where, cuts, edge, beyond)
            assert sum(map(area_mm2, shapes)) == pytest.approx(segment.area_mm2, rel=0.02)


def test_a_single_window_in_its_own_metal_is_a_ring():
    """One cell a group: metal round one window, cut once, with the same island on both sides of the cut."""
    points, _, column = hexagonal(3, 1)
    layout = module(points, column + 1, Contour.rectangle(68, 23).moved(-11.5, -11.5), terminals=OUTSIDE, cell=CELL)
    assert worst_apart(layout) < LIMIT
