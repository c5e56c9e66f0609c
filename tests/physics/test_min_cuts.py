"""Minimum cuts: widths by hand, every cut of small networks tried, and a maximum flow on fine triangles beside them."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from layout_app.geometry.meshes import mesh_of
from layout_app.model import saved_file
from layout_app.model.errors import LayoutError
from layout_app.model.resources import sample_layouts
from layout_app.physics.current_paths import segment_lines
from layout_app.physics.currents import SheetModel, network_currents
from layout_app.physics.edge_flows import edge_flows
from layout_app.physics.gaps import gaps_of
from layout_app.physics.joints import lands
from layout_app.physics.min_cuts import densest_cut, joint_currents_a, module_cuts
from layout_app.plates.deriving import Plates
from layout_app.workings import Workings
from tests.edits.modules import module as row_of_cells
from tests.plates.modules import banded, modules

SAMPLES = ("harbour_buoy", "orchard_rover", "canal_tender")


def cut_of(solid, circles, fed):
    """Return width and current of the densest cut of metal with round windows, `fed` being (x, y, ampere) rows."""
    circles = np.array(circles, dtype=float).reshape(-1, 3)
    gaps = gaps_of(solid, circles)
    at = gaps.triangulation.find_simplex(np.array(fed)[:, :2])
    supply = np.bincount(gaps.number[at], weights=np.array(fed)[:, 2], minlength=gaps.n_patches)
    inside = densest_cut(gaps.n_patches, gaps.links[0], gaps.widths_mm, supply)
    crossed = inside[gaps.links[0][:, 0]] != inside[gaps.links[0][:, 1]]
    return gaps.widths_mm[crossed].sum(), supply[inside].sum()


# -- by hand --------------------------------------------------------------------------------------------------------


def test_across_a_row_of_windows_only_the_metal_between_them_counts():
    """By hand: 60 mm less four windows of 12 mm leave 12 mm; the windows' row is where all ten amperes cross."""
    windows = [(50, 7.5 + 15 * k, 6) for k in range(4)]
    width, current = cut_of(shapely.box(0, 0, 100, 60), windows, [(10, 30, 10.0), (90, 30, -10.0)])
    assert width == pytest.approx(12.0, abs=0.05)
    assert current == pytest.approx(10.0)


def test_without_windows_the_waist_is_the_neck():
    """By hand: a plate 40 mm high with a waist of 9 mm."""
    plate = shapely.box(0, 0, 80, 40).difference(
        shapely.union_all([shapely.box(30, -1, 40, 20), shapely.box(30, 29, 40, 41)])
    )
    width, current = cut_of(plate, [], [(10, 20, 3.0), (70, 20, -3.0)])
    assert width == pytest.approx(9.0, abs=0.05)
    assert current == pytest.approx(3.0)


def test_a_narrow_cut_that_little_crosses_is_not_the_neck():
    """By hand: 1 A over a 4 mm bridge is less dense than 9 A over a 12 mm one, though that is wider."""
    islands = [shapely.box(0, 0, 30, 30), shapely.box(40, 0, 70, 30), shapely.box(80, 0, 110, 30)]
    bridges = [shapely.box(29, 13, 41, 17), shapely.box(69, 9, 81, 21)]
    metal = shapely.union_all([*islands, *bridges])
    width, current = cut_of(metal, [], [(15, 15, 1.0), (55, 15, 8.0), (95, 15, -9.0)])
    assert (width, current) == (pytest.approx(12.0, abs=0.05), pytest.approx(9.0))


def test_the_neck_between_a_window_and_the_edge_counts_from_the_rim():
    """By hand: a window of radius 5 in the middle of a strip 16 mm wide leaves 3 mm on either side."""
    width, _ = cut_of(shapely.box(0, 0, 60, 16), [(30, 8, 5)], [(5, 8, 1.0), (55, 8, -1.0)])
    assert width == pytest.approx(6.0, abs=0.05)


# -- every cut tried ------------------------------------------------------------------------------------------------


@st.composite
def networks(draw):
    """A connected network of up to eight nodes, with currents that sum to zero."""
    n = draw(st.integers(2, 8))
    tree = [(draw(st.integers(0, k - 1)), k) for k in range(1, n)]
    more = draw(st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=8))
    pairs = np.array([*tree, *[(a, b) for a, b in more if a != b]])
    widths = np.array(draw(st.lists(st.floats(0.1, 20), min_size=len(pairs), max_size=len(pairs))))
    supply = np.array(draw(st.lists(st.floats(-10, 10), min_size=n, max_size=n)))
    return n, pairs, widths, supply - supply.mean()


@settings(deadline=None, max_examples=60)
@given(network=networks())
def test_no_cut_is_denser_than_the_one_found(network):
    """Independent way: every division of the nodes in two, 254 of them at most, tried one by one."""
    n, pairs, widths, supply = network
    if np.maximum(supply, 0).sum() < 1e-3:
        return

    def density(inside):
        width = widths[inside[pairs[:, 0]] != inside[pairs[:, 1]]].sum()
        return supply[inside].sum() / width

    best = max(density(np.array(side)) for side in product([False, True], repeat=n) if 0 < sum(side) < n)
    assert density(densest_cut(*network)) == pytest.approx(best, rel=1e-4)


# -- on real segments -----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def samples():
    loaded = {path.stem: Plates(saved_file.load(path)) for path in sample_layouts().values() if path.stem in SAMPLES}
    return {name: (plates, network_currents(plates)) for name, plates in loaded.items()}


def joints_of(plates, segment):
    return lands(segment, plates.layout.joints, plates.layout.lattice.angle_rad)


@pytest.mark.parametrize("name", SAMPLES)
def test_cuts_lie_in_the_metal_and_take_it_apart(name, samples):
    """Law: the metal less the cut falls into parts, and the joints on either side feed in what is said to cross."""
    plates, found = samples[name]
    for segment, cut in zip(plates.segments, module_cuts(plates, found), strict=True):
        lines = shapely.linestrings(list(cut.lines_mm))
        solid = shapely.union_all([piece.polygon(0.01) for piece in segment.pieces])
        assert shapely.covers(solid.buffer(0.05), lines).all()
        assert shapely.length(lines).sum() == pytest.approx(cut.width_mm)
        assert cut.place_mm is not None
        windows = shapely.union_all([shapely.Point(x, y).buffer(r + 0.3) for x, y, r in segment.windows_mm])
        longer = [shapely.affinity.scale(line, 1.2, 1.2) for line in lines]
        parts = shapely.get_parts(shapely.difference(shapely.difference(solid, windows), shapely.buffer(longer, 0.05)))
        assert len(parts[shapely.area(parts) > 20.0]) >= 2
        few = np.isin(segment.window_cells, cut.cells)
        assert len(cut.cells) <= len(segment.window_cells) / 2
        if segment.number not in (0, plates.layout.n_series):
            assert abs(joint_currents_a(segment, found)[few].sum()) == pytest.approx(cut.current_a, rel=1e-6)


def fine_cut_mm(segment, cut, where):
    """Return the narrowest way apart of the joints on both sides of a cut, by a maximum flow on fine triangles.

    Metal round each foot is taken as one, for a line round a single foot is no neck of the segment.
    """
    mesh = mesh_of(list(segment.metal(0.02).geoms), 0.8)
    flows = edge_flows(mesh, np.zeros(len(mesh.points_mm)), 1.0)
    one, k = np.nonzero(flows.across >= 0)
    ends = mesh.triangles[one, (k + 1) % 3], mesh.triangles[one, (k + 2) % 3]
    length = np.hypot(*(mesh.points_mm[ends[0]] - mesh.points_mm[ends[1]]).T)
    middles = mesh.points_mm[mesh.triangles].mean(axis=1)
    far = 10_000_000
    rows, columns, capacity = [one], [flows.across[one, k] // 3], [np.round(length * 1000).astype(np.int64)]
    n = len(mesh.triangles)
    few = np.isin(segment.window_cells, cut.cells)
    apart = np.hypot(*(middles[:, None] - where.centres_mm[None]).transpose(2, 0, 1))
    owner = np.where(apart.min(axis=1) < 2.0, apart.argmin(axis=1), -1)
    for side, node in ((few, n), (~few, n + 1)):
        near = np.flatnonzero((owner >= 0) & side[owner])
        for here, there in ((near, np.full(len(near), node)), (np.full(len(near), node), near)):
            rows, columns, capacity = [*rows, here], [*columns, there], [*capacity, np.full(len(near), far)]
    matrix = csr_array(
        (np.concatenate(capacity).astype(np.int32), (np.concatenate(rows), np.concatenate(columns))),
        shape=(n + 2, n + 2),
    )
    return maximum_flow(matrix, n, n + 1).flow_value / 1000


def test_fine_triangles_find_no_narrower_cut(samples):
    """Independent way: the same division by a maximum flow on the dual of a mesh of the finished metal. Its cuts follow
    the edges of triangles, on a regular lattice at most 2/√3 times as long as the straight line, so it must come out
    between 1 (less the chords of both) and 1.16 times the width."""
    plates, found = samples["harbour_buoy"]
    tried = 0
    for segment, cut in list(zip(plates.segments, module_cuts(plates, found), strict=True))[1:4]:
        fine_mm = fine_cut_mm(segment, cut, joints_of(plates, segment))
        assert 0.97 * cut.width_mm <= fine_mm <= 1.16 * cut.width_mm
        tried += 1
    assert tried == 3


def test_stream_lines_that_cross_the_cut_carry_its_current():
    """Law: what crosses a section is the same for the cut, told from the joints, and for the lines, from the field."""
    plates = Plates(banded(n_columns=8, n_rows=5, n_series=3))
    model = SheetModel(plates)
    found = model.solve(40.0)
    segment, cut = plates.segments[1], module_cuts(plates, found)[1]
    lines = segment_lines(segment, model.field(1, found), found, per_joint=12)
    few = np.isin(segment.window_cells, cut.cells)
    crossing = lines.current_a[few[lines.from_contact] != few[lines.to_contact]].sum()
    assert crossing >= cut.current_a - 2 * lines.current_a.max()
    hits = shapely.intersects(lines.shapes()[:, None], shapely.linestrings(list(cut.lines_mm))[None]).sum(axis=1)
    net = np.where(few[lines.from_contact] != few[lines.to_contact], hits % 2 == 1, hits % 2 == 0)
    assert net.mean() > 0.98  # lines that begin and end on different sides cross an odd number of times


@pytest.mark.parametrize("name", SAMPLES[:2])
def test_a_neck_found_before_is_told_with_the_current_of_now_however_often_it_is_handed_on(name, samples):
    """Law: a neck's current goes with the module's. Ten steps of half a per cent each are five together."""
    layout = samples[name][0].layout
    start = worked = Workings(layout)
    for k in range(1, 11):
        more = replace(layout, design_current_a=layout.design_current_a * (1 + 0.005 * k))
        assert worked.necks
        worked = Workings(more, worked)
    for neck, first in zip(worked.necks, start.necks, strict=True):
        assert neck.current_a == pytest.approx(1.05 * first.current_a, rel=1e-6)
        assert neck.density_a_mm2 == pytest.approx(1.05 * first.density_a_mm2, rel=1e-6)


def test_joints_so_near_that_nothing_lies_between_them_have_no_neck_of_no_width():
    """A chain of single cells: both joints of a segment sit on one patch, and only rounding is left to cross."""
    layout = row_of_cells(n_series=3, n_parallel=1)
    for amps in (20.0, -20.0, 7.3):
        plates = Plates(layout)
        found = module_cuts(plates, network_currents(plates, amps))
        assert any(cut is None for cut in found)
        assert all(cut is None or np.isfinite(cut.density_a_mm2) for cut in found)


def test_a_segment_without_current_has_no_neck(samples):
    plates, found = samples["harbour_buoy"]
    still = replace(found, solved=replace(found.solved, cell_current_a=np.zeros_like(found.solved.cell_current_a)))
    assert module_cuts(plates, still) == (None,) * len(plates.segments)


@settings(deadline=None, max_examples=10)
@given(layout=modules())
def test_any_module_has_a_neck_in_every_segment(layout):
    plates = Workings(layout).plates
    try:
        found = network_currents(plates, 10.0)
    except LayoutError:  # metal in pieces, or none: told elsewhere
        return
    for cut in module_cuts(plates, found):
        assert cut.width_mm > 0
        assert 0 < cut.current_a <= 10.0 * (1 + 1e-6)
