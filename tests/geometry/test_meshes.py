"""Meshes of metal: they cover it exactly, keep its edge, follow the sizes asked for, and are the same every time."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.mesh_rings import Rings
from layout_app.geometry.meshes import MeshError, mesh_of

PLATE = shapely.box(0.0, 0.0, 40.0, 30.0)
FAR_MM = 1e5  # housing drawings lie this far from their origin

# Tangent points of the mesh: a hole's chords lie in it, so a coarse mesh has more metal than the plate.
HOLE = shapely.Point(20.0, 15.0).buffer(7.0, quad_segs=64)


def edge_lengths(mesh):
    return np.hypot(*(mesh.points_mm[mesh.edges[:, 1]] - mesh.points_mm[mesh.edges[:, 0]]).T)


def euler(mesh):
    """Return points − sides + triangles: one for a disc, one less for every hole."""
    sides = np.sort(
        np.vstack([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]]), axis=1
    )
    return len(mesh.points_mm) - len(np.unique(sides, axis=0)) + len(mesh.triangles)


def test_a_polygon_with_straight_edges_is_covered_exactly():
    ring = shapely.Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)], [[(2, 2), (8, 2), (5, 7)]])
    mesh = mesh_of(ring, 1.5)
    assert mesh.areas_mm2.sum() == pytest.approx(500 - 15, rel=1e-12)  # derived: 30·10 + 10·20, less 6·5/2
    assert (mesh.areas_mm2 > 0).all()
    assert edge_lengths(mesh).sum() == pytest.approx(ring.length, rel=1e-12)


def test_refined_meshes_approach_the_true_area_with_the_square_of_their_size():
    plate = PLATE.difference(HOLE)
    mesh = mesh_of(plate, 4.0)
    excess = []
    for _ in range(3):
        excess.append(mesh.areas_mm2.sum() - plate.area)
        mesh = mesh.refined()
    assert excess[0] > 0
    assert excess[0] / excess[1] == pytest.approx(4, rel=0.1)
    assert excess[1] / excess[2] == pytest.approx(4, rel=0.1)


def test_holes_stay_holes_and_pieces_stay_apart():
    two = [PLATE.difference(HOLE).difference(shapely.Point(5, 5).buffer(0.4)), shapely.box(50, 0, 60, 10)]
    mesh = mesh_of(two, 3.0)
    assert euler(mesh) == (1 - 2) + 1  # Euler: 1 − holes for each piece


def test_triangles_are_well_shaped_in_a_plate_with_windows():
    """Derived: right triangles with two equal sides have 45°; half of that is still far from a sliver."""
    windows = [shapely.Point(11 + 22 * i, 11 + 22 * j).buffer(8.0, quad_segs=32) for i in range(4) for j in range(3)]
    mesh = mesh_of(shapely.box(0, 0, 88, 66).difference(shapely.union_all(windows)), 2.0)
    angles = np.degrees(mesh.smallest_angles_rad)
    assert angles.min() > 12
    assert np.percentile(angles, 2) > 22


def test_edges_are_as_short_as_asked_at_a_place_and_grow_away_from_it():
    mesh = mesh_of(PLATE, Sizes(4.0, np.array([[20.0, 0.0]]), np.array([0.05])))
    lengths, middles = edge_lengths(mesh), mesh.points_mm[mesh.edges].mean(axis=1)
    at = np.hypot(*(middles - (20.0, 0.0)).T) < 0.05
    assert at.any()
    assert lengths[at].max() < 0.1
    assert lengths[middles[:, 1] == 30.0].max() > 2.0


def test_a_narrow_web_gets_triangles_across_it():
    web = shapely.box(0, 0, 20, 20).difference(shapely.box(0.5, 5, 19.5, 15))  # webs of 0.5 mm left and right
    mesh = mesh_of(web, 4.0)
    across = np.hypot(*np.ptp(mesh.points_mm[mesh.triangles], axis=1).T)
    middle = mesh.points_mm[mesh.triangles].mean(axis=1)
    in_web = (middle[:, 0] < 0.5) & (np.abs(middle[:, 1] - 10) < 4)
    assert in_web.sum() > 20
    assert across[in_web].max() < 1.5


def test_nodes_in_a_line_far_shorter_than_the_plate_make_no_flat_triangles():
    """Once, a lattice point on the edge between two of its nodes left an edge without a triangle."""
    mesh = mesh_of(shapely.box(0, 0, 10, 10), Sizes(0.2, np.array([[5.0, 0.0]]), np.array([4e-4])))
    assert mesh.areas_mm2.min() > 0
    assert np.degrees(mesh.smallest_angles_rad.min()) > 5


def test_edges_carry_the_marks_of_their_rings_and_keep_them_when_refined():
    rings = Rings.of([PLATE])
    bottom = (rings.vertices_mm[:, 1] == 0) & (np.roll(rings.vertices_mm, -1, axis=0)[:, 1] == 0)
    mesh = mesh_of(rings.marked(np.where(bottom & ~rings.is_last, 7, -1)), 2.0)
    for each in (mesh, mesh.refined()):
        assert edge_lengths(each)[each.edge_marks == 7].sum() == pytest.approx(40.0, rel=1e-12)


def test_metal_that_meets_in_a_point_is_no_mesh_in_one_piece():
    """Two squares corner to corner, and a square hole standing on a corner in the middle of the outline's sides."""
    squares = [shapely.box(0, 0, 10, 10), shapely.box(10, 10, 20, 20)]
    holed = shapely.box(0, 0, 20, 20).difference(shapely.Polygon([(10, 0), (14, 10), (10, 20), (6, 10)]))
    for metal, n_pieces in ((squares, 2), (list(shapely.get_parts(holed)), 2)):
        mesh = mesh_of(metal, 2.0)
        for each in (mesh, mesh.refined()):
            ends = np.concatenate([each.triangles[:, :2], each.triangles[:, 1:]])
            links = coo_matrix((np.ones(len(ends)), ends.T), shape=(len(each.points_mm),) * 2)
            assert connected_components(links, directed=False)[0] == n_pieces
            assert each.areas_mm2.sum() == pytest.approx(sum(piece.area for piece in metal), rel=1e-12)
            assert edge_lengths(each).sum() == pytest.approx(sum(piece.length for piece in metal), rel=1e-12)


def test_a_gap_between_two_edges_asks_for_no_finer_mesh_than_a_bridge_does():
    """What lies beside a slit in the metal is as wide as ever; a bridge as wide as the slit is not."""
    slit = shapely.box(0, 0, 40, 40).difference(shapely.box(10, 19.95, 30, 20.05))
    bridge = shapely.union_all(
        [shapely.box(0, 0, 40, 10), shapely.box(0, 30, 40, 40), shapely.box(19.95, 9, 20.05, 31)]
    )
    sizes = Sizes(4.0, least_share=1 / 64)
    across = [edge_lengths(mesh_of(metal, sizes)).min() for metal in (slit, bridge)]
    assert across[1] < 0.11
    n_along = [len(mesh_of(metal, sizes).edges) for metal in (slit, bridge)]
    assert n_along[0] < 100 < 200 < n_along[1]


def test_the_same_polygon_gives_the_same_mesh():
    one, other = (mesh_of(PLATE.difference(HOLE), 2.0) for _ in range(2))
    assert np.array_equal(one.points_mm, other.points_mm)
    assert np.array_equal(one.triangles, other.triangles)


def test_a_shape_without_area_is_refused():
    with pytest.raises(MeshError, match="no metal"):
        mesh_of([], 1.0)


@settings(deadline=None, max_examples=25)
@given(data=st.data())
def test_any_star_with_a_hole_is_covered_with_its_edge_kept(data):
    n = data.draw(st.integers(3, 14))
    radii = np.array(data.draw(st.lists(st.floats(3.0, 15.0), min_size=n, max_size=n)))
    place = data.draw(st.sampled_from([0.0, FAR_MM]))
    angles = np.arange(n) * 2 * math.pi / n
    star = shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]) + place)
    hole = shapely.Point(place, place).buffer(1.0, quad_segs=2)
    metal = star.difference(hole)
    metal = max(shapely.get_parts(metal), key=lambda piece: piece.area)
    shortest = min(np.hypot(*np.diff(np.asarray(ring.coords), axis=0).T).min() for ring in shapely.get_rings(metal))
    mesh = mesh_of(metal, max(shortest, 0.3) * data.draw(st.floats(0.7, 1.9)))
    assert mesh.areas_mm2.min() > 0
    assert mesh.areas_mm2.sum() == pytest.approx(metal.area, rel=1e-3)
    assert edge_lengths(mesh).sum() == pytest.approx(metal.length, rel=1e-3)
    assert euler(mesh) == 1 - len(metal.interiors)
