"""Housing drawings in: areas against closed forms, coordinates in place, every kind of curve, units, layers, roles."""

import math
import subprocess
import sys

import numpy as np
import pytest

from layout_app.exchange.drawing_units import UNITS
from layout_app.exchange.drawings_in import read_drawing
from layout_app.model.errors import LayoutError, ValueOutOfRangeError
from tests.exchange.drawn import FOOTPRINTS, SQUARE, new, polyline, saved

QUARTER = math.tan(math.pi / 8)  # bulge of a quarter turn: values.md section 14
CORNER = 1 - math.pi / 4  # what a rounded corner takes away, over r²


def test_heavy_libraries_wait_until_a_drawing_is_read():
    code = (
        "import sys, layout_app.exchange.drawings_in; "
        "sys.exit(not {'ezdxf', 'shapely', 'scipy', 'PySide6'}.isdisjoint(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# -- the drawings of the scenario ---------------------------------------------------------------------------------


def test_tray_far_from_the_origin():
    drawing = read_drawing(FOOTPRINTS / "orchard_rover_tray.dxf")
    # derived: 420 x 236 less four corners of radius 14 and a notch of 80 x 30
    assert drawing.outline.area_mm2 == pytest.approx(420 * 236 - 4 * CORNER * 14**2 - 80 * 30, rel=1e-12)
    assert drawing.outline.bounds_mm == pytest.approx((1200, 350, 1620, 586), abs=1e-9)
    assert drawing.outline.is_arc.sum() == 4
    radii = sorted(round(boss.as_circle[2], 9) for boss in drawing.keep_outs)
    assert radii == [4, 4, 4, 4, 5, 5]
    assert (drawing.units, drawing.units_source) == ("millimetre", "from the drawing")
    assert drawing.used == ("1 LWPOLYLINE on layer INNER_WALL", "6 CIRCLE on layer BOSS")
    assert [line.split(":")[0] for line in drawing.ignored] == [
        "1 LINE on layer CENTRE_LINES", "1 TEXT on layer ANNOTATION",
    ]  # fmt: skip
    assert not drawing.notes


def test_locker_in_inches_of_loose_lines_and_arcs():
    drawing = read_drawing(FOOTPRINTS / "canal_tender_locker_inch.dxf")
    # derived: 17 x 14 in less 8 x 7, less four outer corners of 0.75 in, plus one inner corner; 25.4 mm to the inch
    square_inches = 17 * 14 - 8 * 7 - (4 - 1) * CORNER * 0.75**2
    assert drawing.outline.area_mm2 == pytest.approx(square_inches * 25.4**2, rel=1e-9)
    assert drawing.outline.bounds_mm == pytest.approx((0, 0, 17 * 25.4, 14 * 25.4), abs=1e-6)
    assert len(drawing.outline.bulges) == 11
    np.testing.assert_allclose(drawing.outline.arc_radii_mm[drawing.outline.is_arc], 0.75 * 25.4, rtol=1e-9)
    assert drawing.outline.chords_mm.min() > 1
    assert drawing.units == "inch"
    assert drawing.loops[0].layer == "LOCKER"
    assert any("CENTRE_LINES: open" in line for line in drawing.ignored)


def test_rack_of_the_oldest_release_without_units():
    drawing = read_drawing(FOOTPRINTS / "ferry_rack_r12.dxf")
    assert drawing.outline.area_mm2 == 2360 * 1660
    assert [keep_out.area_mm2 for keep_out in drawing.keep_outs] == [24 * 260, 24 * 260]
    assert drawing.units_source == "assumed: the drawing names none"
    assert "assumed" in drawing.summary()[0]


def test_canister_is_two_circles():
    drawing = read_drawing(FOOTPRINTS / "harbour_buoy_canister.dxf")
    assert drawing.outline.as_circle == pytest.approx((0, 0, 132.5))
    assert len(drawing.outline.bulges) == 2
    (pipe,) = drawing.keep_outs
    assert pipe.as_circle == pytest.approx((0, 0, 19))


def test_housing_carries_contours_clearances_and_source():
    drawing = read_drawing(FOOTPRINTS / "orchard_rover_tray.dxf")
    housing = drawing.housing(wall_clearance_mm=2.0, keep_out_clearance_mm=1.5)
    assert housing.outline == drawing.outline
    assert housing.keep_outs == drawing.keep_outs
    assert (housing.wall_clearance_mm, housing.keep_out_clearance_mm) == (2.0, 1.5)
    assert housing.source == "orchard_rover_tray.dxf, millimetres from the drawing"


# -- releases and formats -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("fmt", ["asc", "bin"])
@pytest.mark.parametrize("release", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_every_release_as_text_and_binary(tmp_path, release, fmt):
    document = new(release)
    space = document.modelspace()
    polyline(space, [(0, 0), (90, 0, QUARTER), (100, 10), (100, 50), (0, 50)])
    space.add_circle((30, 20), 5)
    space.add_text("WALL")
    drawing = read_drawing(saved(document, tmp_path, fmt))
    assert drawing.outline.area_mm2 == pytest.approx(5000 - CORNER * 100, rel=1e-12)
    assert [k.as_circle for k in drawing.keep_outs] == [pytest.approx((30, 20, 5))]
    assert drawing.release == f"DXF {release}"
    assert drawing.ignored == ("1 TEXT on layer 0: annotation",)


# -- kinds of curve -----------------------------------------------------------------------------------------------


def outline_of(tmp_path, draw, **options):
    """Read what `draw(modelspace, document)` draws."""
    document = new()
    draw(document.modelspace(), document)
    return read_drawing(saved(document, tmp_path), **options)


def test_polyline_mirrored_by_its_extrusion(tmp_path):
    points = [(10, 0), (90, 0, QUARTER), (100, 10), (100, 50), (10, 50)]
    drawing = outline_of(tmp_path, lambda space, _: polyline(space, points, extrusion=(0, 0, -1)))
    # derived: with extrusion (0, 0, -1) the arbitrary axis rule gives x the other way, y kept
    assert drawing.outline.bounds_mm == pytest.approx((-100, 0, -10, 50), abs=1e-9)
    assert drawing.outline.area_mm2 == pytest.approx(90 * 50 - CORNER * 100, rel=1e-12)
    (k,) = np.flatnonzero(drawing.outline.is_arc)
    assert drawing.outline.arc_centres_mm[k] == pytest.approx((-90, 10), abs=1e-9)


def test_arc_and_circle_mirrored_by_their_extrusion(tmp_path):
    def draw(space, _):
        space.add_arc((20, 0), 10, 0, 180, dxfattribs={"extrusion": (0, 0, -1)})  # upper half, about (-20, 0)
        space.add_line((-30, 0), (-10, 0))
        space.add_circle((20, 4), 1, dxfattribs={"extrusion": (0, 0, -1)})

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(50 * math.pi, rel=1e-12)
    assert drawing.outline.bounds_mm == pytest.approx((-30, 0, -10, 10), abs=1e-9)
    assert drawing.keep_outs[0].as_circle == pytest.approx((-20, 4, 1))


def test_ellipse_becomes_few_arcs(tmp_path):
    drawing = outline_of(tmp_path, lambda space, _: space.add_ellipse((5, 7), (80, 60), 0.5))
    a, b = 100.0, 50.0
    assert drawing.outline.area_mm2 == pytest.approx(math.pi * a * b, abs=0.002 * drawing.outline.perimeter_mm)
    half_width = math.hypot(a * 0.8, b * 0.6)  # derived: extent of a turned ellipse
    assert drawing.outline.bounds_mm[2] == pytest.approx(5 + half_width, abs=0.003)
    assert drawing.outline.is_arc.all()
    assert len(drawing.outline.bulges) < 150


def test_half_ellipse_and_chord(tmp_path):
    def draw(space, _):
        space.add_ellipse((0, 0), (60, 0), 0.5, math.pi, 2 * math.pi)
        space.add_line((60, 0), (-60, 0))

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(math.pi * 60 * 30 / 2, abs=0.5)
    assert drawing.outline.bounds_mm == pytest.approx((-60, -30, 60, 0), abs=0.003)


def test_round_ellipse_is_a_circle(tmp_path):
    drawing = outline_of(tmp_path, lambda space, _: space.add_ellipse((0, 0), (0, 50), 1.0))
    assert drawing.outline.as_circle == pytest.approx((0, 0, 50), abs=1e-9)


def test_rational_spline_of_a_circle_is_that_circle(tmp_path):
    w = math.sqrt(0.5)
    points = [(50, 0), (50, 50), (0, 50), (-50, 50), (-50, 0), (-50, -50), (0, -50), (50, -50), (50, 0)]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]  # textbook: a circle as four rational quadratic arcs

    def draw(space, _):
        space.add_rational_spline(points, weights=[1, w, 1, w, 1, w, 1, w, 1], degree=2, knots=knots)

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.as_circle == pytest.approx((0, 0, 50), abs=1e-6)


def test_spline_and_line_enclose_the_area_under_the_curve(tmp_path):
    def draw(space, _):
        space.add_open_spline([(0, 0), (0, 60), (100, 60), (100, 0)], degree=3)
        space.add_line((100, 0), (0, 0))

    drawing = outline_of(tmp_path, draw)
    # derived: x = 100 (3t² - 2t³), y = 180 t (1 - t); integral of y dx = 18000 x 6 B(3, 3) = 108000 / 30
    assert drawing.outline.area_mm2 == pytest.approx(108_000 / 30, abs=0.5)
    assert drawing.outline.bounds_mm == pytest.approx((0, 0, 100, 45), abs=0.003)  # y at t = 1/2


def test_spline_of_degree_one_stays_straight(tmp_path):
    def draw(space, _):
        space.add_open_spline([(0, 0), (100, 0), (100, 40), (0, 40), (0, 0)], degree=1)

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(4000, rel=1e-12)
    assert not drawing.outline.is_arc.any()


def test_spline_by_fit_points_passes_them(tmp_path):
    angles = np.linspace(0, 2 * math.pi, 25)
    points = np.column_stack([50 * np.cos(angles), 30 * np.sin(angles)])
    points[-1] = points[0]
    drawing = outline_of(tmp_path, lambda space, _: space.add_spline(points.tolist()))
    assert drawing.outline.area_mm2 == pytest.approx(math.pi * 1500, rel=5e-3)  # interpolation, not an exact ellipse


def test_polyline_of_3d_vertices_is_seen_from_above(tmp_path):
    drawing = outline_of(
        tmp_path, lambda space, _: space.add_polyline3d([(0, 0, 5), (40, 0, 5), (40, 30, 9), (0, 30, 5)], close=True)
    )
    assert drawing.outline.area_mm2 == 1200


def test_open_polyline_that_returns_to_its_start_is_closed(tmp_path):
    drawing = outline_of(tmp_path, lambda space, _: space.add_lwpolyline([*SQUARE, (0, 0.005)]))
    assert drawing.outline.area_mm2 == pytest.approx(1e4, abs=1)
    assert len(drawing.outline.bulges) == 4


def test_last_bulge_of_an_open_polyline_counts_for_nothing(tmp_path):
    # source: values.md section 14, last vertex' bulge used only when closed
    def draw(space, _):
        space.add_lwpolyline([(0, 0, 0), (40, 0, 0), (40, 30, 0), (0, 30, 5.0)], format="xyb")
        space.add_line((0, 30), (0, 0))

    assert outline_of(tmp_path, draw).outline.area_mm2 == pytest.approx(1200)


# -- blocks -------------------------------------------------------------------------------------------------------


def keyhole(document, name="KEYHOLE"):
    """A block of 30 x 20 with a round corner of radius 10 at its upper right, lower left at (0, 0)."""
    block = document.blocks.new(name)
    block.add_lwpolyline([(0, 0), (30, 0), (30, 10, QUARTER), (20, 20), (0, 20)], format="xyb", close=True)
    return block


def test_block_moved_turned_scaled_and_mirrored(tmp_path):
    def draw(space, document):
        keyhole(document)
        polyline(space, [(-500, -500), (500, -500), (500, 500), (-500, 500)])
        turned = {"rotation": 90, "xscale": 2, "yscale": 2}
        space.add_blockref("KEYHOLE", (100, 50), turned)
        space.add_blockref("KEYHOLE", (-100, 50), {"xscale": -1})

    drawing = outline_of(tmp_path, draw)
    large, small = drawing.keep_outs
    assert large.area_mm2 == pytest.approx(4 * (600 - CORNER * 100), rel=1e-12)
    assert large.bounds_mm == pytest.approx((60, 50, 100, 110), abs=1e-9)
    assert small.area_mm2 == pytest.approx(600 - CORNER * 100, rel=1e-12)
    assert small.bounds_mm == pytest.approx((-130, 50, -100, 70), abs=1e-9)
    (k,) = np.flatnonzero(small.is_arc)
    assert small.arc_centres_mm[k] == pytest.approx((-120, 60), abs=1e-9)


def test_block_squeezed_makes_ellipses_of_arcs(tmp_path):
    def draw(space, document):
        keyhole(document).add_circle((10, 10), 4)
        space.add_blockref("KEYHOLE", (0, 0), {"xscale": 3, "yscale": 1, "rotation": 30})

    drawing = outline_of(tmp_path, draw)
    # derived: areas grow by the product of the scales, here 3
    assert drawing.outline.area_mm2 == pytest.approx(3 * (600 - CORNER * 100), abs=0.3)
    assert drawing.keep_outs[0].area_mm2 == pytest.approx(3 * math.pi * 16, abs=0.1)


@pytest.mark.parametrize("sense", [1, -1])
def test_squeezed_wide_arc_bulges_to_the_right_side(tmp_path, sense):
    def draw(space, document):
        block = document.blocks.new("D")
        block.add_lwpolyline([(0, 0, 2.0 * sense), (10 * sense, 0, 0), (5 * sense, -3, 0)], format="xyb", close=True)
        space.add_blockref("D", (0, 0), {"xscale": 1, "yscale": 4})

    plain = outline_of(
        tmp_path,
        lambda space, _: space.add_lwpolyline(
            [(0, 0, 2.0 * sense), (10 * sense, 0, 0), (5 * sense, -3, 0)], format="xyb", close=True
        ),
    )
    squeezed = outline_of(tmp_path, draw)
    assert squeezed.outline.area_mm2 == pytest.approx(4 * plain.outline.area_mm2, rel=1e-3)
    x0, y0, x1, y1 = plain.outline.bounds_mm
    assert squeezed.outline.bounds_mm == pytest.approx((x0, 4 * y0, x1, 4 * y1), abs=0.003)


def test_blocks_within_blocks_with_base_points(tmp_path):
    def draw(space, document):
        inner = document.blocks.new("INNER", base_point=(5, 5))
        inner.add_circle((5, 5), 2)
        outer = document.blocks.new("OUTER", base_point=(1, 0))
        outer.add_blockref("INNER", (11, 0))
        outer.add_lwpolyline([(1, -10), (31, -10), (31, 10), (1, 10)], close=True)
        space.add_blockref("OUTER", (100, 200), {"rotation": 90})

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.bounds_mm == pytest.approx((90, 200, 110, 230), abs=1e-9)
    assert drawing.keep_outs[0].as_circle == pytest.approx((100, 210, 2), abs=1e-9)


def test_block_in_rows_and_columns(tmp_path):
    def draw(space, document):
        document.blocks.new("BOSS").add_circle((0, 0), 3)
        polyline(space, [(-300, -300), (300, -300), (300, 300), (-300, 300)])
        grid = {"row_count": 2, "column_count": 3, "row_spacing": 50, "column_spacing": 40, "rotation": 90}
        space.add_blockref("BOSS", (0, 0), grid)

    drawing = outline_of(tmp_path, draw)
    centres = sorted(tuple(round(v, 6) + 0.0 for v in k.as_circle[:2]) for k in drawing.keep_outs)
    # derived: columns along the turned x, rows along the turned y
    assert centres == [(-50, 0), (-50, 40), (-50, 80), (0, 0), (0, 40), (0, 80)]


def test_layer_0_of_a_block_is_the_layer_it_is_placed_on(tmp_path):
    def draw(space, document):
        document.blocks.new("BOSS").add_circle((0, 0), 3)
        polyline(space, SQUARE, layer="WALL")
        space.add_blockref("BOSS", (50, 50), {"layer": "BOSSES"})

    assert outline_of(tmp_path, draw).loops[1].layer == "BOSSES"


# -- units --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_every_unit_code_gives_the_same_housing(tmp_path, unit):
    document = new(units=unit.code)
    polyline(document.modelspace(), [(x / unit.mm, y / unit.mm) for x, y in SQUARE])
    drawing = read_drawing(saved(document, tmp_path))
    assert drawing.outline.area_mm2 == pytest.approx(1e4, rel=1e-9)
    assert (drawing.units, drawing.units_source) == (unit.name, "from the drawing")


def test_unit_lengths_are_those_of_the_standards():
    mm = {unit.name: unit.mm for unit in UNITS}
    # inch: 25.4 mm exactly (international yard and pound, 1959, from memory); the rest are multiples
    assert mm["foot"] == pytest.approx(12 * 25.4)
    assert mm["yard"] == pytest.approx(3 * mm["foot"])
    assert mm["mile"] == pytest.approx(5280 * mm["foot"])
    assert mm["mil"] == pytest.approx(25.4 / 1000)
    assert mm["parsec"] == pytest.approx(mm["astronomical unit"] * 648_000 / math.pi, rel=1e-12)  # IAU 2015 B2
    assert mm["US survey foot"] == pytest.approx(304.8006096, abs=1e-7)  # from memory


def test_units_on_request_override_the_header(tmp_path):
    document = new(units=1)
    polyline(document.modelspace(), SQUARE)
    drawing = read_drawing(saved(document, tmp_path), units="mm")
    assert drawing.outline.area_mm2 == 1e4
    assert (drawing.units, drawing.units_source) == ("millimetre", "as asked")
    assert drawing.notes == ("The drawing itself says inches.",)


@pytest.mark.parametrize("word", ["inch", "inches", "in", " Inch ", '"'])
def test_units_go_by_many_words(word):
    drawing = read_drawing(FOOTPRINTS / "harbour_buoy_canister.dxf", units=word)
    assert drawing.outline.as_circle == pytest.approx((0, 0, 132.5 * 25.4))
    assert drawing.units == "inch"


def test_unknown_unit_is_refused():
    with pytest.raises(ValueOutOfRangeError, match="drawing unit"):
        read_drawing(FOOTPRINTS / "ferry_rack_r12.dxf", units="cubit")


def test_meaningless_unit_code_is_said(tmp_path):
    document = new(units=77)
    polyline(document.modelspace(), SQUARE)
    drawing = read_drawing(saved(document, tmp_path))
    assert drawing.units == "millimetre"
    assert any("77" in note for note in drawing.notes)


def test_outline_too_small_for_a_cell_suggests_units(tmp_path):
    document = new("R12")
    polyline(document.modelspace(), [(0, 0), (17, 0), (17, 14), (0, 14)])
    drawing = read_drawing(saved(document, tmp_path))
    assert any("only 17 mm" in note and "431.8 mm in inches" in note for note in drawing.notes)


# -- layers -------------------------------------------------------------------------------------------------------


def two_walls(space, _):
    polyline(space, [(-5, -5), (105, -5), (105, 105), (-5, 105)], layer="OUTER_WALL")
    polyline(space, SQUARE, layer="INNER_WALL")
    space.add_circle((50, 50), 5, dxfattribs={"layer": "BOSS"})


def test_layers_asked_for_are_all_that_counts(tmp_path):
    drawing = outline_of(tmp_path, two_walls, layer=["inner_wall", "BOSS"])
    assert drawing.outline.area_mm2 == 1e4
    assert len(drawing.keep_outs) == 1
    assert drawing.layers == ("OUTER_WALL", "INNER_WALL", "BOSS")
    assert "1 LWPOLYLINE on layer OUTER_WALL: another layer was asked for" in drawing.ignored


def test_inner_wall_taken_for_a_keep_out_is_pointed_out(tmp_path):
    drawing = outline_of(tmp_path, two_walls)
    assert drawing.outline.area_mm2 == 110**2
    assert any("layer INNER_WALL fills 83%" in note for note in drawing.notes)  # derived: 100² / 110² = 0.826


def test_missing_layer_names_those_there_are(tmp_path):
    with pytest.raises(LayoutError, match=r"no layer 'WALL'.*BOSS, INNER_WALL, OUTER_WALL"):
        outline_of(tmp_path, two_walls, layer="WALL")


@pytest.mark.parametrize("state", ["off", "freeze"])
def test_hidden_layers_are_left_out_unless_named(tmp_path, state):
    def draw(space, document):
        polyline(space, SQUARE)
        getattr(document.layers.add("SPARE"), state)()
        polyline(space, [(-50, -50), (200, -50), (200, 200), (-50, 200)], layer="SPARE")

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == 1e4
    assert any("its layer is" in line for line in drawing.ignored)
    assert outline_of(tmp_path, draw, layer="SPARE").outline.area_mm2 == 250**2


def test_invisible_entities_and_paper_space_are_left_out(tmp_path):
    def draw(space, document):
        polyline(space, SQUARE)
        space.add_circle((50, 50), 5, dxfattribs={"invisible": 1})
        document.paperspace().add_circle((0, 0), 500)

    drawing = outline_of(tmp_path, draw)
    assert len(drawing.loops) == 1
    assert drawing.ignored == ("1 CIRCLE on layer 0: invisible",)


# -- roles --------------------------------------------------------------------------------------------------------


def test_every_loop_has_its_role_and_reason(tmp_path):
    def draw(space, _):
        polyline(space, SQUARE)
        polyline(space, [(20, 20), (50, 20), (50, 50), (20, 50)])  # keep-out
        space.add_circle((35, 35), 5)  # inside it
        space.add_circle((80, 80), 6)  # keep-out
        space.add_circle((80, 80), 6)  # the same again
        space.add_circle((100, 20), 4)  # grows out of the wall
        polyline(space, [(60, 0), (70, 0), (70, 10), (60, 10)])  # stands on the wall
        space.add_circle((150, 50), 7)  # outside
        polyline(space, list(reversed(SQUARE)))  # the outline again, the other way round

    drawing = outline_of(tmp_path, draw)
    roles = [(loop.role, loop.remark) for loop in drawing.loops]
    assert roles[0] == ("outline", "")
    assert sorted(roles[1:]) == [
        ("ignored", "a copy of another loop"),
        ("ignored", "a copy of another loop"),
        ("ignored", "inside a keep-out"),
        ("ignored", "outside the outline"),
        ("keep-out", ""),
        ("keep-out", ""),
        ("keep-out", "crosses the wall"),
        ("keep-out", "touches the wall"),
    ]
    assert len(drawing.keep_outs) == 4
    assert "A keep-out on layer 0 crosses the wall." in drawing.notes
    assert any(line.endswith("1 CIRCLE on layer 0: inside a keep-out") for line in drawing.ignored)


def test_outline_drawn_as_polyline_and_again_as_lines(tmp_path):
    def draw(space, _):
        polyline(space, SQUARE)
        for start, end in zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True):
            space.add_line(end, start)

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == 1e4
    assert not drawing.keep_outs


def test_boss_drawn_as_an_arc_from_wall_to_wall(tmp_path):
    def draw(space, _):
        for start, end in zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True):
            space.add_line(start, end)
        space.add_arc((50, 0), 8, 0, 180)

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(1e4)
    assert drawing.keep_outs[0].area_mm2 == pytest.approx(32 * math.pi)
    assert drawing.loops[1].remark == "touches the wall"


def test_boss_drawn_as_an_arc_on_a_wall_of_one_polyline(tmp_path):
    def draw(space, _):
        polyline(space, SQUARE)
        space.add_arc((50, 0), 8, 0, 180)  # a boss inside
        space.add_arc((50, 100), 8, 0, 180)  # an ear outside
        space.add_lwpolyline([(100, 30), (80, 30), (80, 50), (100, 50)])  # a post on the right wall

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(1e4)
    assert len(drawing.outline.bulges) == 4
    assert sorted(k.area_mm2 for k in drawing.keep_outs) == pytest.approx([32 * math.pi, 400])
    assert drawing.ignored == ("1 ARC on layer 0: open, part of no closed loop",)


def test_partition_is_ignored_and_said(tmp_path):
    def draw(space, _):
        for start, end in zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True):
            space.add_line(start, end)
        space.add_line((50, 0), (50, 100))

    drawing = outline_of(tmp_path, draw)
    assert drawing.outline.area_mm2 == pytest.approx(1e4)
    assert any("(50, 0) mm to (50, 100) mm was ignored" in note for note in drawing.notes)


def test_annotation_of_all_kinds_is_ignored(tmp_path):
    def draw(space, _):
        polyline(space, SQUARE)
        space.add_text("A")
        space.add_mtext("B")
        space.add_point((1, 1))
        space.add_hatch().paths.add_polyline_path([(0, 0), (500, 0), (500, 500)])
        space.add_linear_dim(base=(0, 120), p1=(0, 0), p2=(100, 0)).render()
        space.add_leader([(0, 0), (10, 10)])
        space.add_solid([(0, 0), (5, 0), (0, 5)])

    drawing = outline_of(tmp_path, draw)
    assert len(drawing.loops) == 1
    kinds = {line.split()[1] for line in drawing.ignored}
    assert kinds == {"TEXT", "MTEXT", "POINT", "HATCH", "DIMENSION", "LEADER", "SOLID"}


def test_joining_distance_is_settable(tmp_path):
    def draw(space, _):
        polyline_open = [(0, 0.4), *SQUARE[1:], (0, 1)]
        space.add_lwpolyline(polyline_open)

    with pytest.raises(LayoutError, match="open"):
        outline_of(tmp_path, draw)
    assert outline_of(tmp_path, draw, join_mm=1.0).outline.area_mm2 == pytest.approx(1e4, abs=60)


def test_ignored_lines_are_kept_for_the_preview():
    drawing = read_drawing(FOOTPRINTS / "orchard_rover_tray.dxf")
    assert drawing.ignored_lines.starts_mm.tolist() == [[1180, 350]]
    assert drawing.ignored_lines.ends_mm.tolist() == [[1400, 350]]
