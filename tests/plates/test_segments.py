"""Segments of cells contacted at opposite ends: what must hold whatever the housing and the grouping."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.lattices import Lattice
from layout_app.model.plates import BOLT_HOLE_MM, Terminal
from layout_app.plates.deriving import Plates
from layout_app.plates.windows import negative_window_mm, positive_window_mm
from tests import plain_way
from tests.plates.modules import CELL, COPPER, INSIDE, PITCH_MM, banded, hexagonal, module, modules

FINE_MM = 1e-5  # chords this close to the arcs leave the micrometre to the metal
MICROMETRE = 1e-3


def solid(segment):
    return shapely.multipolygons([piece.polygon(FINE_MM) for piece in segment.pieces])


some_modules = settings(max_examples=25, deadline=None)


@some_modules
@given(layout=modules(), borders=st.sampled_from(["zigzag", "straight"]))
def test_segments_of_a_face_are_never_nearer_than_the_gap(layout, borders):
    layout = replace(layout, plates=replace(layout.plates, borders=borders))
    segments = Plates(layout).segments
    for face in ("top", "bottom"):
        metal = [solid(segment) for segment in segments if segment.face == face and segment.pieces]
        for one, other in combinations(metal, 2):
            assert one.distance(other) >= layout.plates.gap_mm - MICROMETRE


@some_modules
@given(layout=modules())
def test_segments_stay_inside_the_setback(layout):
    wall = layout.housing.outline.polygon(FINE_MM)
    keep_outs = [loop.polygon(FINE_MM) for loop in layout.housing.keep_outs]
    for segment in Plates(layout).segments:
        if not segment.pieces:
            continue
        metal = solid(segment)
        assert shapely.contains(wall, metal)
        assert metal.distance(wall.exterior) >= layout.plates.setback_mm - MICROMETRE
        assert all(metal.distance(loop) >= layout.plates.setback_mm - MICROMETRE for loop in keep_outs)


@some_modules
@given(layout=modules())
def test_there_are_s_plus_one_segments_and_every_cell_lies_under_two(layout):
    segments = Plates(layout).segments
    assert [segment.number for segment in segments] == list(range(layout.n_series + 1))
    for face in ("top", "bottom"):
        under = np.concatenate([s.window_cells for s in segments if s.face == face] or [[]])
        assert sorted(under.tolist()) == list(range(len(layout.cells)))
    for segment in segments:
        groups = layout.cells.groups[segment.window_cells]
        expected = np.where(segment.is_positive_end, segment.number, segment.number + 1)
        assert (groups == expected).all()  # segment k joins positive ends of group k to negative ends of group k+1


@some_modules
@given(layout=modules(), borders=st.sampled_from(["zigzag", "straight"]))
def test_every_piece_is_one_valid_polygon_with_round_corners(layout, borders):
    layout = replace(layout, plates=replace(layout.plates, borders=borders))
    radius_mm, setback_mm = layout.plates.corner_radius_mm, layout.plates.setback_mm
    for segment in Plates(layout).segments:
        for piece in segment.pieces:
            assert piece.polygon().is_valid
            for loop in (piece.outline, *piece.holes):
                assert np.abs(loop.turns_rad).max() < math.radians(3)  # what opening and closing may leave at a join
                assert loop.arc_radii_mm.min() >= min(radius_mm, setback_mm) - 1e-3


def test_rounding_leaves_no_edge_of_a_nanometre_that_turns_at_right_angles():
    """Two tangent points beside a boss that all but meet: once two edges of 0.7 nm were left, at 90 degrees."""
    row, column = np.divmod(np.arange(50), 10)
    sites = np.column_stack([19 + 22.5 * column, 22.5 + 22.5 * row])
    groups = np.array(
        [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 1, 1, 0, 0, 2, 2, 2, 3, 3, 3]
        + [1, 1, 0, 2, 2, 2, 2, 3, 3, 3, 1, 1, 1, 0, 0, 0, 0, 3, 3, 3]
    )
    corners = [[0, 0], [240, 0], [240, 140], [150, 140], [150, 110], [95, 110], [95, 140], [0, 140]]
    outline = Contour(corners, np.zeros(8))
    boss = Contour([[64.5625, 73.8984375], [77.4375, 73.8984375]], np.ones(2))
    layout = module(
        sites[groups > 0], groups[groups > 0], outline, keep_outs=[boss],
        lattice=Lattice.square(22.5, origin_mm=(19.0, 0.0)), terminals=(Terminal(place="inside"),) * 2,
    )  # fmt: skip
    for segment in Plates(layout).segments:
        for contour in segment.contours():
            assert np.abs(contour.turns_rad).max() < math.radians(3)


@some_modules
@given(layout=modules())
def test_the_metal_is_what_buffers_and_unions_make_of_the_same_cells(layout):
    radius_mm = layout.plates.corner_radius_mm
    for segment, plain in zip(Plates(layout).segments, plain_way.solids(layout, quad_segs=64), strict=True):
        if segment.pieces:
            ours = shapely.union_all([piece.polygon(1e-4) for piece in segment.pieces])
            # the plain way also drops strips narrower than twice the radius; what is compared is what both keep
            ours = ours.buffer(-radius_mm, quad_segs=64).buffer(radius_mm, quad_segs=64)
            expected = shapely.union_all([p for p in shapely.get_parts(plain) if _has_a_cell(p, segment)])
            assert shapely.symmetric_difference(ours, expected).area < 5e-4 * ours.area


def _has_a_cell(part, segment):
    filled = shapely.Polygon(part.exterior).buffer(0.01)
    return shapely.contains_xy(filled, *segment.window_centres_mm.T).any()


def test_area_is_conserved_to_within_the_insulation_gaps():
    layout = banded()
    plates = layout.plates
    clearing_mm2 = plain_way.metal_area(layout, quad_segs=128).area
    for face, n_borders in (("top", 2), ("bottom", 3)):
        pieces_mm2 = sum(p.area_mm2 for s in Plates(layout).segments if s.face == face for p in s.pieces)
        # derived: between 7 rows a border runs 6 slanted ridges of p/√3, 5 upright ones of the same and two to the wall
        rise_mm = 6 * PITCH_MM * math.sqrt(3) / 2 + 2 * (11.5 - plates.setback_mm)
        border_mm = rise_mm + 6 * (PITCH_MM / math.sqrt(3) - PITCH_MM / math.sqrt(3) / 2)
        gaps_mm2 = n_borders * border_mm * plates.gap_mm
        corners_mm2 = n_borders * 4 * plates.corner_radius_mm**2 * (1 - math.pi / 4)
        assert clearing_mm2 - pieces_mm2 == pytest.approx(gaps_mm2 + corners_mm2, rel=0.01)


def test_six_groups_make_three_segments_on_one_face_and_four_on_the_other():
    faces = [segment.face for segment in Plates(banded()).segments]
    assert faces == [
        "bottom",
        "top",
        "bottom",
        "top",
        "bottom",
        "top",
        "bottom",
    ]  # design: even S, both terminals together


def test_windows_follow_what_lies_under_them():
    layout = banded()
    # derived: button 7 mm and 2 mm of room all round stay inside the shoulder ring, 13 mm less twice 0.5 mm
    assert positive_window_mm(layout) == 11.0
    # derived: flat 17 mm fits: half the pitch less half the gap less a web is 9.5; to the wall 10.5 + 1 - 2 - 1 is 8.5
    assert negative_window_mm(layout) == 17.0
    tight = replace(layout, plates=replace(layout.plates, gap_mm=3.0, min_web_mm=2.0))
    assert negative_window_mm(tight) == pytest.approx(2 * (10.5 + 1.0 - 2.0 - 2.0))
    wide = replace(layout, plates=replace(layout.plates, shoulder_clearance_mm=1.5))
    assert positive_window_mm(wide) == 10.0  # 13 mm less twice 1.5 mm
    for segment in Plates(layout).segments:
        np.testing.assert_array_equal(segment.windows_mm[:, 2], np.where(segment.is_positive_end, 5.5, 8.5))


def test_mass_and_cut_length_of_a_single_cell_segment_are_those_of_a_plate_with_a_hole():
    outline = Contour.rectangle(40.0, 30.0)
    layout = module([(20.0, 15.0)], [1], outline, corner_radius_mm=0.0, setback_mm=2.0, thickness_mm=0.3)
    negative, positive = Plates(layout).segments
    # derived: 36 × 26 mm plate, window radius 8.5 over the bottom or 5.5 over the button, M5 hole 5.5 mm (ISO 273)
    for segment, window_mm in ((negative, 8.5), (positive, 5.5)):
        area_mm2 = 36 * 26 - math.pi * (window_mm**2 + 2.75**2)
        assert segment.area_mm2 == pytest.approx(area_mm2, rel=1e-9)
        assert segment.mass_g == pytest.approx(area_mm2 * 0.3 * COPPER.density_kg_m3 * 1e-6, rel=1e-9)
        assert segment.perimeter_mm == pytest.approx(2 * (36 + 26), rel=1e-9)
        assert segment.cut_length_mm == pytest.approx(124 + 2 * math.pi * (window_mm + 2.75), rel=1e-9)


def test_a_tab_outside_adds_its_strip_and_its_bolt_hole():
    outside = Terminal(width_mm=20.0, length_mm=18.0, bolt="M6")
    flat = {"corner_radius_mm": 0.0}
    with_tab = Plates(banded(terminals=(outside, INSIDE[1]), **flat)).segments[0]
    without = Plates(banded(**flat)).segments[0]
    strip_mm2 = 20.0 * (18.0 + 2.0)  # derived: from the setback to 18 mm beyond the wall
    assert with_tab.pieces[0].area_mm2 - without.pieces[0].area_mm2 == pytest.approx(strip_mm2, rel=1e-6)
    assert with_tab.bolt_hole_mm[2] == BOLT_HOLE_MM["M6"] / 2 == 3.3  # ISO 273 medium: 6.6 mm
    assert with_tab.bolt_hole_mm[0] < layout_left_mm(banded())


def layout_left_mm(layout):
    return layout.housing.outline.bounds_mm[0]


def test_a_tab_placed_by_the_program_keeps_clear_of_corners_and_bosses():
    middle_mm = 3 * PITCH_MM * math.sqrt(3) / 2
    boss = Contour.circle(-9.0, middle_mm, 3.0)  # grows out of the left wall just where the tab would go
    plain = Plates(banded(terminals=(Terminal(), Terminal()))).segments[0]
    moved = Plates(banded(terminals=(Terminal(), Terminal()), keep_outs=[boss])).segments[0]
    assert plain.bolt_hole_mm[1] == pytest.approx(middle_mm, abs=1.0)
    assert moved.bolt_hole_mm[0] == pytest.approx(plain.bolt_hole_mm[0])
    assert abs(moved.bolt_hole_mm[1] - middle_mm) >= 3.0 + 2.0 + 10.0 - 1.0  # boss, setback, half the tab, search step


def test_a_tab_goes_to_the_place_asked_for():
    layout = banded(terminals=(Terminal(near_mm=(10.0, 300.0)), Terminal()))
    x_mm, y_mm, _ = Plates(layout).segments[0].bolt_hole_mm
    assert x_mm == pytest.approx(10.0, abs=0.6)  # the wall is searched in steps of a millimetre
    assert y_mm > layout.housing.outline.bounds_mm[3]


def test_metal_ends_with_the_cells_where_the_housing_is_left_empty():
    points, _, column = hexagonal(16, 7)
    few = column < 8
    full = banded(n_columns=16, n_series=4)
    layout = module(points[few], column[few] // 2 + 1, full.housing.outline, lattice=full.lattice)
    right_mm = max(piece.outline.bounds_mm[2] for s in Plates(layout).segments for piece in s.pieces)
    # derived: half a pitch beyond the last cell of the shifted rows, less half the insulation gap
    assert right_mm == pytest.approx((7.5 + 0.5) * PITCH_MM - 0.75, abs=0.01)


@pytest.mark.parametrize(("n_empty", "ends_with_cells"), [(1, False), (2, True), (3, True)])
def test_metal_covers_one_empty_row_and_ends_before_two(n_empty, ends_with_cells):
    points, _, column = hexagonal(8, 7)
    full = banded(n_columns=8, n_series=4)
    used = column < 8 - n_empty
    layout = module(points[used], column[used] // 2 + 1, full.housing.outline, lattice=full.lattice)
    right_mm = max(piece.outline.bounds_mm[2] for s in Plates(layout).segments for piece in s.pieces)
    # derived: half a pitch beyond the last cell of the shifted rows less half the gap, or up to the setback
    at_cells_mm, at_wall_mm = (7.5 - n_empty + 0.5) * PITCH_MM - 0.75, full.housing.outline.bounds_mm[2] - 2.0
    assert right_mm == pytest.approx(at_cells_mm if ends_with_cells else at_wall_mm, abs=0.01)


@some_modules
@given(layout=modules())
def test_windows_are_centred_on_their_cells(layout):
    for segment in Plates(layout).segments:
        np.testing.assert_array_equal(segment.window_centres_mm, layout.cells.centres_mm[segment.window_cells])


@pytest.mark.parametrize("borders", ["zigzag", "straight"])
@pytest.mark.parametrize("make", [Lattice.hexagonal, Lattice.square, lambda p: Lattice.compressed(p, 1.2 * p)])
def test_windows_keep_the_least_web_to_every_border(make, borders):
    lattice = make(PITCH_MM)
    row, column = (axis.ravel() for axis in np.mgrid[:8, :5])
    sites = lattice.points_mm(row.astype(float), column.astype(float))
    outline = Contour.rectangle(*(np.ptp(sites, axis=0) + 23)).moved(*(sites.min(axis=0) - 11.5))
    wide = replace(CELL, bottom_diameter_mm=20.5)  # so that borders, not the can, say how wide windows may be
    layout = module(sites, row // 2 + 1, outline, lattice=lattice, borders=borders, cell=wide, setback_mm=0.5)
    for segment in Plates(layout).segments:
        edge = shapely.union_all([piece.polygon(1e-4) for piece in segment.pieces]).boundary
        webs = shapely.distance(edge, shapely.points(segment.window_centres_mm)) - segment.windows_mm[:, 2]
        assert webs.min() >= layout.plates.min_web_mm - MICROMETRE


def test_windows_beside_straight_borders_leave_room_for_the_border_halfway_between_rows():
    layout = banded(borders="straight", cell=replace(CELL, bottom_diameter_mm=20.5), setback_mm=0.5)
    zigzag = replace(layout, plates=replace(layout.plates, borders="zigzag"))
    # derived: half of 22.5 mm between cells, or of 22.5 √3 / 2 between rows, less half the gap 1.5 and the web 1
    assert negative_window_mm(zigzag) == pytest.approx(22.5 - 1.5 - 2.0)
    assert negative_window_mm(layout) == pytest.approx(22.5 * math.sqrt(3) / 2 - 1.5 - 2.0)


def test_straight_borders_give_way_to_windows_chosen_wider():
    points, row, _ = hexagonal(6, 6)
    outline = banded(n_columns=6, n_rows=6).housing.outline
    layout = module(points, row // 2 + 1, outline, borders="straight", negative_window_mm=19.0, setback_mm=0.5)
    for segment in Plates(layout).segments:
        edge = solid(segment).boundary
        webs = shapely.distance(edge, shapely.points(segment.window_centres_mm)) - segment.windows_mm[:, 2]
        assert webs.min() >= layout.plates.min_web_mm - MICROMETRE


def test_where_three_segments_meet_no_more_is_left_open_than_gap_and_corners_need():
    points, row, column = hexagonal(9, 9)
    groups = np.where(row < 4, 1, np.where(column < 4, 3, 5))  # all on one face, for groups 2 and 4 are empty
    for borders in ("zigzag", "straight"):
        layout = module(points, groups, banded(9, 9).housing.outline, borders=borders)
        metal = shapely.union_all([solid(segment) for segment in Plates(layout).segments if segment.face == "top"])
        void = plain_way.metal_area(layout).difference(metal)
        # derived: three edges 120° apart leave a disc of gap / √3; round corners of radius r add r (2 / √3 - 1)
        room_mm = (layout.plates.gap_mm + 2 * layout.plates.corner_radius_mm) / math.sqrt(3)
        room_mm -= layout.plates.corner_radius_mm
        inner = shapely.box(30, 30, 160, 130)
        assert void.intersection(inner).buffer(-room_mm - 0.1).is_empty, borders


def test_metal_covers_a_single_empty_site():
    points, _, column = hexagonal(12, 7)
    keep = np.ones(len(points), dtype=bool)
    keep[40] = False
    layout = module(points[keep], column[keep] // 4 + 1, banded().housing.outline)
    number = 1 + column[40] // 4
    assert any(
        shapely.contains_xy(segment.metal(), *points[40])
        for segment in Plates(layout).segments
        if segment.number in (number - 1, number)
    )


def test_a_tab_asked_for_beyond_its_segment_stops_with_its_whole_width_on_it():
    layout = banded(terminals=(Terminal(near_mm=(400.0, 150.0), width_mm=30.0), Terminal()))
    plates = Plates(layout)
    own = plates.segments[0]
    x_mm, _, _ = own.bolt_hole_mm
    right_mm = max(own.window_centres_mm[:, 0]) + PITCH_MM / 2
    assert x_mm + 15.0 <= right_mm + 1.0  # the wall is searched in steps of a millimetre


def test_a_split_group_makes_a_segment_of_several_pieces():
    points, _, column = hexagonal(12, 7)
    groups = column // 4 + 1
    groups[11] = 1  # the far corner of row 0
    layout = module(points, groups, banded().housing.outline)
    assert [len(segment.pieces) for segment in Plates(layout).segments[:2]] == [2, 2]


def test_cells_contacted_at_one_end_get_segments_without_metal():
    layout = banded()
    layout = replace(layout, cell_type=replace(layout.cell_type, contacts="one end"))
    segments = Plates(layout).segments
    assert len(segments) == 7
    assert not any(segment.pieces for segment in segments)


def test_repainting_one_cell_remakes_only_the_segments_it_touches():
    before = banded(n_columns=24, n_rows=6, n_series=12)
    groups = before.cells.groups.copy()
    groups[np.flatnonzero(groups == 3)[0]] = 4
    after = replace(before, cells=before.cells.regrouped(groups))
    old = Plates(before)
    pairs = zip(old.segments, Plates(after, old).segments, strict=True)
    assert [k for k, (was, now) in enumerate(pairs) if was is not now] == [2, 3, 4]


@some_modules
@given(layout=modules(), seed=st.integers(0, 10_000))
def test_segments_remade_after_an_edit_are_those_made_from_nothing(layout, seed):
    random = np.random.default_rng(seed)
    groups = layout.cells.groups.copy()
    groups[random.integers(len(groups))] = random.integers(0, layout.n_series + 1)
    old = Plates(layout)
    assert old.segments
    edited = replace(layout, cells=layout.cells.regrouped(groups))
    for now, fresh in zip(Plates(edited, old).segments, Plates(edited).segments, strict=True):
        assert now.pieces == fresh.pieces
        np.testing.assert_array_equal(now.windows_mm, fresh.windows_mm)


@settings(max_examples=10, deadline=None)
@given(layout=modules(corner_radius_mm=1.0), dx_mm=st.floats(-3000, 3000), dy_mm=st.floats(-3000, 3000))
def test_metal_moves_with_the_module(layout, dx_mm, dy_mm):
    housing = layout.housing
    there = module(
        layout.cells.centres_mm + (dx_mm, dy_mm),
        layout.cells.groups,
        housing.outline.moved(dx_mm, dy_mm),
        keep_outs=[loop.moved(dx_mm, dy_mm) for loop in housing.keep_outs],
        lattice=layout.lattice,
    )
    for one, other in zip(Plates(layout).segments, Plates(there).segments, strict=True):
        assert other.area_mm2 == pytest.approx(one.area_mm2, rel=1e-6, abs=1e-3)
