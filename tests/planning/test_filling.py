"""Filling: closed-form counts, published numbers, and properties over random housings."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from layout_app.geometry.contours import Contour
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.planning.filling import arrangements, sites_mm
from layout_app.planning.footprints import Footprint, NoRoomError
from tests.planning.shapes import cell, ells, ferry_rack, housings, rectangles, regular, rover_tray

ALONG, ACROSS = 0.0, math.pi / 2


def bare(outline, *keep_outs):
    """Return a housing without clearances."""
    return Housing(outline=outline, keep_outs=keep_outs, wall_clearance_mm=0.0, keep_out_clearance_mm=0.0)


def counts(housing, diameter_mm, gap_mm, kind, angles_rad=None):
    """Return the counts of one kind by direction, rounded to a millionth of a radian."""
    found = arrangements(housing, cell(diameter_mm), gap_mm=gap_mm, kinds=(kind,), angles_rad=angles_rad)
    return {round(a.rotation_rad, 6): len(a) for a in found if a.lattice.kind == kind}


def hexagonal_in_rectangle(along_mm, across_mm, diameter_mm, pitch_mm):
    """Rows along the first side: ⌊w/p⌋ + 1 in odd rows, ⌊w/p + 1/2⌋ in even ones, w and h less a diameter. Derived."""
    w, h = (along_mm - diameter_mm) / pitch_mm, (across_mm - diameter_mm) / pitch_mm
    rows = math.floor(h / (math.sqrt(3) / 2) + 1e-9) + 1
    return math.ceil(rows / 2) * (math.floor(w + 1e-9) + 1) + rows // 2 * math.floor(w + 0.5 + 1e-9)


# -- closed forms ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "height", "diameter", "pitch", "along", "across", "square"),
    [
        (300, 200, 21, 22, 130, 128, 117),  # trade.md row 10
        (310, 200, 21, 22, 135, 136, 126),  # trade.md row 10 gives 135 and 126; across derived: 8 (9 + 8)
        (400, 150, 18.5, 19.5, 160, 161, 140),  # trade.md section 5
    ],
)
def test_counts_in_rectangles_of_the_trade_notes(width, height, diameter, pitch, along, across, square):
    housing = bare(Contour.rectangle(width, height))
    hexagonal = counts(housing, diameter, pitch - diameter, "hexagonal")
    assert hexagonal == {0.0: along, round(ACROSS, 6): across}
    assert counts(housing, diameter, pitch - diameter, "square", [0.0]) == {0.0: square}


@settings(max_examples=30, deadline=None)
@given(st.floats(22.0, 300.0), st.floats(22.0, 300.0), st.sampled_from([0.0, 1.0, 2.5]))
def test_counts_in_any_rectangle_are_the_closed_form_in_both_directions(width, height, gap):
    housing, pitch = bare(Contour.rectangle(width, height)), 21 + gap
    by_direction = counts(housing, 21.0, gap, "hexagonal", [ALONG, ACROSS])
    assert by_direction[0.0] == hexagonal_in_rectangle(width, height, 21, pitch)
    assert by_direction[round(ACROSS, 6)] == hexagonal_in_rectangle(height, width, 21, pitch)
    square = math.prod(math.floor((side - 21) / pitch + 1e-9) + 1 for side in (width, height))
    assert counts(housing, 21.0, gap, "square", [ALONG])[0.0] == square


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (1, 4), (7, 5), (13, 2)])
def test_rectangle_that_fits_exactly_is_filled_exactly(columns, rows):
    width, height = (21 + 22.5 * (n - 1) for n in (columns, rows))
    assert counts(bare(Contour.rectangle(width, height)), 21.0, 1.5, "square", [0.0]) == {0.0: columns * rows}


@pytest.mark.parametrize("k", [0, 1, 2, 3, 5])
def test_regular_hexagon_takes_the_centred_hexagonal_number(k):
    # derived: 3 k (k + 1) + 1 centres, the outer ones on a hexagon of circumradius k pitches
    centres_inradius = 22.0 * k * math.sqrt(3) / 2
    outline = regular(6, (centres_inradius + 10.5) * 2 / math.sqrt(3)).turned(0.2).moved(700, -300)
    found = arrangements(bare(outline), cell(21.0), gap_mm=1.0, kinds=("hexagonal",))
    assert len(found[0]) == 3 * k * (k + 1) + 1


@pytest.mark.parametrize("n", [1, 2, 4, 9])
def test_regular_triangle_takes_the_triangular_number_and_so_meets_the_bound(n):
    inradius_of_centres = 22.0 * (n - 1) / math.sqrt(12)
    found = arrangements(bare(regular(3, 2 * (inradius_of_centres + 10.5))), cell(21.0), gap_mm=1.0)
    assert len(found[0]) == n * (n + 1) // 2
    assert found[0].fraction_of_bound == 1.0


def test_seven_cells_fit_a_circle_of_three_diameters():
    # values.md section 6: N = 7, D/d = 3 (proved); and not a thousandth less
    assert len(arrangements(bare(Contour.circle(0, 0, 31.5)), cell(21.0), gap_mm=0.0)[0]) == 7
    assert len(arrangements(bare(Contour.circle(0, 0, 31.46)), cell(21.0), gap_mm=0.0)[0]) < 7


@pytest.mark.parametrize(("kind", "density"), [("hexagonal", math.pi / math.sqrt(12)), ("square", math.pi / 4)])
def test_density_approaches_that_of_the_plane(kind, density):
    # values.md section 6: π/√12 (Lubachevsky & Graham) and π/4; a border costs about one part in the number of rows
    densities = []
    for n in (20, 80):
        side = 21.0 * n
        count = max(counts(bare(Contour.rectangle(side, side)), 21.0, 0.0, kind).values())
        densities.append(count * math.pi / 4 * 21**2 / side**2)
    assert densities[1] == pytest.approx(density, rel=0.02)
    assert abs(densities[1] - density) <= abs(densities[0] - density)


def test_known_counts_in_a_square_of_ten_diameters():
    # values.md section 6 (puzzle literature, memory): 100 in a square lattice, 105 in plain hexagonal rows
    housing = bare(Contour.rectangle(210, 210))
    assert counts(housing, 21.0, 0.0, "square", [0.0]) == {0.0: 100}
    assert counts(housing, 21.0, 0.0, "hexagonal", [0.0]) == {0.0: 105}


# -- compressed lattices --------------------------------------------------------------------------------------------


def test_pushing_rows_together_lets_one_more_in():
    # derived: ten columns with room to spare, and a height that almost takes a fifth row. Four hexagonal rows hold 10
    # and 9 by turns; five rows h apart need the row opened to 2 √(p² - h²), here 22.6 mm, which ten columns still have
    pitch, along = 22.0, 22.6
    row = math.sqrt(pitch**2 - along**2 / 4)
    housing = bare(Contour.rectangle(21 + 9 * along + 0.5, 21 + 4 * row + 0.001))
    assert counts(housing, 21.0, 1.0, "hexagonal", [0.0]) == {0.0: 38}
    found = arrangements(housing, cell(21.0), gap_mm=1.0, angles_rad=[0.0])
    assert (found[0].lattice.kind, len(found[0])) == ("compressed", 3 * 10 + 2 * 9)


def test_compressed_is_named_so_only_when_it_is():
    for found in arrangements(rover_tray(), cell(), gap_mm=1.5, kinds=("compressed",)):
        if found.lattice.kind == "compressed":
            assert found.lattice.along_mm > found.lattice.pitch_mm * 1.0001


@settings(max_examples=20, deadline=None)
@given(housings())
def test_asking_for_compressed_never_gives_less_than_hexagonal(housing):
    try:
        hexagonal = arrangements(housing, cell(12.0), gap_mm=1.0, kinds=("hexagonal",), angles_rad=[0.4])
    except NoRoomError:
        return
    compressed = arrangements(housing, cell(12.0), gap_mm=1.0, kinds=("compressed",), angles_rad=[0.4])
    assert len(compressed[0]) >= len(hexagonal[0])
    assert "compressed" in {found.lattice.kind for found in compressed}


# -- any housing ----------------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(housings(), st.sampled_from([0.0, 0.5, 2.0]))
def test_cells_keep_the_pitch_the_wall_and_the_bound(housing, gap):
    try:
        found = arrangements(housing, cell(12.0), gap_mm=gap)
    except NoRoomError:
        assert Footprint.from_housing(housing, 12.0).area_mm2 < 1.0
        return
    assert {a.lattice.kind for a in found} == {"hexagonal", "square", "compressed"}
    for arrangement in found:
        assert 0 < len(arrangement) <= arrangement.upper_bound
        assert nearest_mm(arrangement.centres_mm) >= 12.0 + gap - 1e-6
    centres = np.vstack([arrangement.centres_mm for arrangement in found])
    assert distances_mm(housing.outline, centres).min() >= 6 + housing.wall_clearance_mm - 1e-6
    for loop in housing.keep_outs:
        assert distances_mm(loop, centres).max() <= -6 - housing.keep_out_clearance_mm + 1e-6


def nearest_mm(centres):
    """Least distance between two of some points."""
    return math.inf if len(centres) < 2 else cKDTree(centres).query(centres, k=2)[0][:, 1].min()


def distances_mm(loop, points):
    """Signed distances in another way than the program's own: closed form for a circle, else by very fine chords."""
    if (circle := loop.as_circle) is not None:
        return circle[2] - np.hypot(*(points - circle[:2]).T)
    chords = loop.polygon(1e-7)
    shapely.prepare([chords, chords.exterior])
    unsigned = shapely.distance(chords.exterior, shapely.points(points))
    return np.where(shapely.contains_xy(chords, *points.T), unsigned, -unsigned)


@settings(max_examples=20, deadline=None)
@given(ells(), st.lists(st.tuples(st.floats(0.0, 20.0), st.floats(0.0, 20.0)), min_size=5, max_size=5))
def test_no_other_origin_holds_more_where_all_walls_are_along_or_across_the_rows(outline, origins):
    """There the count changes only at heights the search tries, so it is complete."""
    assume(not outline.is_arc.any() and Footprint.from_housing(bare(outline), 12.0).area_mm2 > 1)
    for kind, make in (("hexagonal", Lattice.hexagonal), ("square", Lattice.square)):
        best = counts(bare(outline), 12.0, 1.0, kind, [0.0])[0.0]
        others = [sites_mm(make(13.0, origin_mm=origin), bare(outline), cell(12.0)) for origin in origins]
        assert max(len(sites) for sites in others) <= best


@settings(max_examples=20, deadline=None)
@given(st.one_of(rectangles(), ells()), st.floats(-3.0, 3.0), st.floats(-1e4, 1e4))
def test_counts_do_not_change_when_the_housing_turns_and_moves(outline, angle_rad, far):
    assume(Footprint.from_housing(bare(outline), 12.0).area_mm2 > 1)
    there = outline.turned(angle_rad).moved(far, -far)
    turned = counts(bare(there), 12.0, 1.1, "hexagonal", [angle_rad])
    assert list(turned.values()) == list(counts(bare(outline), 12.0, 1.1, "hexagonal", [0.0]).values())


# -- what callers lean on -------------------------------------------------------------------------------------------


def test_sites_of_a_found_lattice_are_its_centres_row_by_row():
    for found in arrangements(rover_tray(), cell(), gap_mm=1.5):
        np.testing.assert_array_equal(sites_mm(found.lattice, rover_tray(), cell()), found.centres_mm)
        angle = found.rotation_rad
        ahead = found.centres_mm @ (math.cos(angle), math.sin(angle))
        row = np.round(found.centres_mm @ (-math.sin(angle), math.cos(angle)) / found.lattice.row_mm * 4)
        assert (np.lexsort([ahead, row]) == np.arange(len(found))).all()


def test_ranking_is_by_count_and_the_same_every_time():
    first, second = (arrangements(rover_tray(), cell(), gap_mm=1.5) for _ in range(2))
    assert [len(a) for a in first] == sorted((len(a) for a in first), reverse=True)
    assert [a.lattice for a in first] == [a.lattice for a in second]


def test_rows_run_along_and_across_every_straight_edge():
    outline = Contour([(0, 0), (300, 0), (300, 80), (200, 180), (0, 180)])  # one edge at 135°
    found = arrangements(bare(outline), cell(), gap_mm=1.0, kinds=("hexagonal",))
    # derived: a hexagonal lattice repeats every 60°, so 0°, 90° ≡ 30°, 135° ≡ 15° and 45°
    assert sorted(round(math.degrees(a.rotation_rad)) % 60 for a in found) == [0, 15, 30, 45]


def test_given_angles_are_used_instead():
    found = arrangements(rover_tray(), cell(), gap_mm=1.5, angles_rad=[0.1])
    assert {a.rotation_rad for a in found} == {0.1}


def test_arrangement_stands_in_the_middle_of_the_play_it_has():
    found = arrangements(bare(Contour.rectangle(105, 70)), cell(21.0), gap_mm=1.0, kinds=("square",))
    np.testing.assert_allclose(found[0].centres_mm.mean(axis=0), [52.5, 35], atol=0.3)


def test_progress_rises_to_one():
    shares = []
    arrangements(bare(Contour.rectangle(100, 60)), cell(), gap_mm=1.0, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_progress_may_end_the_search():
    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        arrangements(rover_tray(), cell(), gap_mm=1.0, progress=stop)


def test_ferry_rack_takes_96_by_86_cells():
    found = arrangements(ferry_rack(), cell(), gap_mm=1.5)
    assert len(found[0]) >= 96 * 86
    assert len(found[0]) <= found[0].upper_bound


def test_housing_too_small_says_how_large_a_cell_could_be():
    # derived: 20 mm less 1 mm of clearance at either side
    with pytest.raises(NoRoomError, match=r"No cell of 21 mm .* 1 mm to the wall .* takes 1[78]\.\d\d mm"):
        arrangements(Housing(outline=Contour.rectangle(200, 20)), cell(), gap_mm=1.0)


@pytest.mark.parametrize("gap", [-0.1, math.nan, math.inf])
def test_gap_must_be_a_length(gap):
    with pytest.raises(LayoutError, match="gap"):
        arrangements(rover_tray(), cell(), gap_mm=gap)


def test_housing_in_wrong_units_is_refused_before_it_takes_minutes():
    with pytest.raises(LayoutError, match="units"):
        arrangements(Housing(outline=Contour.rectangle(60_000, 40_000)), cell(), gap_mm=1.0)


def test_cells_of_separate_rooms_are_all_found():
    waist = [(0, 0), (60, 0), (60, 25), (100, 25), (100, 0), (160, 0)]
    waist += [(160, 60), (100, 60), (100, 40), (60, 40), (60, 60), (0, 60)]
    # derived: centres go from 10.5 to 49.5 and from 110.5 to 149.5 mm; a square lattice of 22 mm has two columns in
    # either room, those at 10.5 + 22 k for k = 0, 1 and 5, 6, and two rows
    assert counts(bare(Contour(waist)), 21.0, 1.0, "square", [0.0]) == {0.0: 8}
