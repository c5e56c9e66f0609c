"""Unusable drawings: one clear message each, with the place and what to do; nothing on the terminal."""

import math
import os
import re
import struct
import time
from contextlib import suppress

import pytest

from layout_app.exchange.drawing_errors import (
    DrawingError,
    DrawingSizeError,
    NothingClosedError,
    OpenOutlineError,
    SelfCrossingError,
    UnreadableDrawingError,
)
from layout_app.exchange.drawings_in import read_drawing
from layout_app.model.errors import LayoutError
from tests.exchange.drawn import FOOTPRINTS, SQUARE, new, polyline, saved


def refused(path, kind=DrawingError, **options):
    """Read, expecting a refusal; return it after a look at its form."""
    with pytest.raises(kind) as caught:
        read_drawing(path, **options)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith(".")
    assert len(message) < 500
    return caught.value


# -- the file -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b" \r\n\n", "empty"),
        (b"\x00" * 500, "empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8, "PNG picture"),
        (b"%PDF-1.7\n...", "PDF"),
        (b"PK\x03\x04....", "ZIP"),
        (b"AC1032\x00\x00\x00" + bytes(500), "DWG file"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "SVG"),
        (b"Dear colleague, the drawing is on its way.\nRegards\n", "not a DXF"),
        ("Zeichnung über alles".encode("utf-16"), "not a DXF"),
        (b"0\nSECTION\n2\nENTITIES\n", "cut off"),
        (b"0\nSECTION\nEOF\n", "damaged|closed"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00", "cut off"),
    ],
)
def test_what_is_no_drawing_is_refused(tmp_path, content, word):
    path = tmp_path / "housing.dxf"
    path.write_bytes(content)
    assert re.search(word, str(refused(path)))


def test_missing_file_and_folder(tmp_path):
    assert "no such file" in str(refused(tmp_path / "none.dxf", UnreadableDrawingError))
    assert "folder" in str(refused(tmp_path, UnreadableDrawingError))
    assert "cannot be read" in str(refused(tmp_path / "null\x00.dxf", UnreadableDrawingError))


def test_pipe_is_refused_rather_than_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.dxf")
    assert "not a file" in str(refused(tmp_path / "pipe.dxf", UnreadableDrawingError))


def test_file_without_permission(tmp_path):
    path = saved(new(), tmp_path)
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    assert "cannot be read" in str(refused(path, UnreadableDrawingError))


def test_file_too_large_to_be_an_outline(tmp_path):
    path = tmp_path / "huge.dxf"
    with path.open("wb") as file:
        file.write(b"0\nSECTION\n")
        file.truncate(150_000_000)
    assert "150 MB" in str(refused(path, UnreadableDrawingError))


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6, 0.9, 0.999])
@pytest.mark.parametrize("fmt", ["asc", "bin"])
def test_cut_off_file(tmp_path, share, fmt):
    document = new()
    polyline(document.modelspace(), SQUARE)
    path = saved(document, tmp_path, fmt)
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    assert "cut off" in str(refused(path, UnreadableDrawingError))


def test_slight_damage_is_repaired_and_said(tmp_path):
    text = (FOOTPRINTS / "harbour_buoy_canister.dxf").read_text().replace("BLOCK_RECORD", "BLOCK_RECORX", 1)
    path = tmp_path / "housing.dxf"
    path.write_text(text)
    drawing = read_drawing(path)
    assert drawing.outline.as_circle == pytest.approx((0, 0, 132.5))
    assert "damaged" in drawing.notes[0]


def test_reading_leaves_the_terminal_alone(tmp_path, capfd):
    text = (FOOTPRINTS / "orchard_rover_tray.dxf").read_text()
    for number, (old, new_text) in enumerate([("CIRCLE", "CIRCEL"), ("AcDbLine", "AcDbXine"), ("ENDSEC", "ENDSAC")]):
        path = tmp_path / f"{number}.dxf"
        path.write_text(text.replace(old, new_text))
        with suppress(LayoutError):
            read_drawing(path)
    assert capfd.readouterr() == ("", "")


# -- the outline --------------------------------------------------------------------------------------------------


def test_broken_outline_says_where_and_how_far():
    error = refused(FOOTPRINTS / "broken_open_outline.dxf", OpenOutlineError)
    assert sorted(error.ends_mm) == [(0, 0), (0, 3)]
    assert error.gap_mm == 3
    assert "(0, 0) mm" in str(error)
    assert "(0, 3) mm" in str(error)
    assert "3 mm apart" in str(error)


def test_broken_outline_is_told_in_the_drawings_units_too(tmp_path):
    document = new(units=1)
    document.modelspace().add_lwpolyline([(0, 0), (10, 0), (10, 5), (0, 5), (0, 0.1)])
    error = refused(saved(document, tmp_path), OpenOutlineError)
    assert error.gap_mm == pytest.approx(2.54)
    assert "2.54 mm (0.1 inches)" in str(error)
    assert "(0, 2.54) mm = (0, 0.1) inches" in str(error)


def test_broken_outline_is_not_mistaken_for_its_bosses(tmp_path):
    document = new()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 80), (0, 80), (0, 2)])
    space.add_circle((20, 20), 4)
    space.add_line((-20, 40), (140, 40), dxfattribs={"layer": "CENTRE_LINES"})
    space.add_line(
        (-20, 40.5), (-10, 50), dxfattribs={"layer": "ANNOTATION"}
    )  # an arrow head, ends nearer than the gap
    error = refused(saved(document, tmp_path), OpenOutlineError)
    assert error.gap_mm == pytest.approx(2)
    assert sorted(error.ends_mm) == [(0, 0), (0, 2)]


def test_outline_broken_in_two_places_is_not_mistaken_for_its_bosses(tmp_path):
    document = new()
    space = document.modelspace()
    space.add_lwpolyline([(0, 1), (0, 80), (99.5, 80)])
    space.add_lwpolyline([(1, 0), (100, 0), (100, 80)])
    space.add_circle((20, 20), 4)
    error = refused(saved(document, tmp_path), OpenOutlineError)
    assert error.gap_mm == pytest.approx(0.5)
    assert error.n_ends == 4


def test_open_decoration_does_not_spoil_a_closed_outline(tmp_path):
    document = new()
    space = document.modelspace()
    polyline(space, SQUARE)
    space.add_lwpolyline([(-10, -10), (110, -10), (110, 60)])  # an L of a section line, larger than nothing here
    space.add_line((50, -20), (50, 120))
    drawing = read_drawing(saved(document, tmp_path))
    assert drawing.outline.area_mm2 == 1e4


def test_self_crossing_outline_says_where(tmp_path):
    document = new()
    polyline(document.modelspace(), [(0, 0), (100, 100), (100, 0), (0, 100)])
    error = refused(saved(document, tmp_path), SelfCrossingError)
    assert error.place_mm == pytest.approx((50, 50))
    assert "(50, 50) mm" in str(error)


def test_self_crossing_of_loose_lines_with_bosses(tmp_path):
    document = new()
    space = document.modelspace()
    points = [(0, 0), (100, 0), (100, 60), (-10, 30), (0, 60)]
    for start, end in zip(points, points[1:] + points[:1], strict=True):
        space.add_line(start, end)
    error = refused(saved(document, tmp_path), SelfCrossingError)
    # derived: the line from (100, 60) to (-10, 30) meets x = 0 at y = 30 + 10 x 30 / 110
    assert error.place_mm == pytest.approx((0, 30 + 300 / 110), abs=1e-6)


def test_self_crossing_keep_out_says_where(tmp_path):
    document = new()
    polyline(document.modelspace(), SQUARE)
    polyline(document.modelspace(), [(20, 20), (40, 40), (40, 20), (20, 40)], layer="BOSS")
    error = refused(saved(document, tmp_path), SelfCrossingError)
    assert "keep-out on layer BOSS" in str(error)
    assert error.place_mm == pytest.approx((30, 30))


def test_self_crossing_far_outside_does_not_matter(tmp_path):
    document = new()
    polyline(document.modelspace(), SQUARE)
    polyline(document.modelspace(), [(220, 20), (240, 40), (240, 20), (220, 40)])
    assert read_drawing(saved(document, tmp_path)).outline.area_mm2 == 1e4


def test_nothing_drawn_and_nothing_closed(tmp_path):
    document = new()
    assert "empty" in str(refused(saved(document, tmp_path), NothingClosedError))
    document.modelspace().add_text("WALL")
    assert "1 TEXT" in str(refused(saved(document, tmp_path), NothingClosedError))
    document.modelspace().add_line((0, 0), (50, 0))
    assert "1 LINE" in str(refused(saved(document, tmp_path), NothingClosedError))


def test_loop_without_area(tmp_path):
    document = new()
    polyline(document.modelspace(), [(0, 0), (100, 0), (50, 0)])
    refused(saved(document, tmp_path), DrawingError)


@pytest.mark.parametrize("units", [6, 2, 7, 20])
def test_larger_than_any_housing_says_in_which_units_it_would_fit(tmp_path, units):
    document = new(units=units)
    polyline(document.modelspace(), [(0, 0), (420, 0), (420, 236), (0, 236)])
    error = refused(saved(document, tmp_path), DrawingSizeError)
    assert "420 mm in millimetres" in str(error)
    assert "ask for the right units" in str(error)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e300, 1e12])
def test_impossible_coordinates(tmp_path, value):
    document = new()
    space = document.modelspace()
    polyline(space, SQUARE)
    space.add_line((0, 0), (value, 5), dxfattribs={"layer": "WALL"})
    error = refused(saved(document, tmp_path), DrawingSizeError)
    assert "LINE on layer WALL" in str(error)


@pytest.mark.parametrize(
    "draw",
    [
        lambda space: space.add_circle((0, 0), 1e300),
        lambda space: space.add_circle((math.nan, 0), 5),
        lambda space: space.add_arc((0, 0), math.inf, 0, 90),
        lambda space: space.add_ellipse((0, 0), (1e250, 0), 0.5),
        lambda space: space.add_ellipse((math.nan, 0), (50, 0), 0.5),
        lambda space: space.add_open_spline([(0, 0), (math.nan, 5), (9, 9), (5, 7)]),
        lambda space: space.add_open_spline([(0, 0), (1e200, 5), (9, 9), (5, 7)]),
        lambda space: space.add_lwpolyline([(0, 0, 1e300), (50, 0, 0), (50, 50, 0)], format="xyb", close=True),
        lambda space: space.add_lwpolyline([(0, 0, math.nan), (50, 0, 0), (50, 50, 0)], format="xyb", close=True),
    ],
)
def test_impossible_numbers_in_curves_end_quickly(tmp_path, draw):
    document = new()
    polyline(document.modelspace(), SQUARE)
    draw(document.modelspace())
    begin = time.monotonic()
    with suppress(LayoutError):
        read_drawing(saved(document, tmp_path))
    assert time.monotonic() - begin < 20  # a hang guard, not a measurement


# -- blocks -------------------------------------------------------------------------------------------------------


def test_block_that_contains_itself_is_opened_once(tmp_path):
    document = new()
    block = document.blocks.new("LOOP")
    block.add_circle((0, 0), 5)
    block.add_blockref("LOOP", (20, 0))
    polyline(document.modelspace(), SQUARE)
    document.modelspace().add_blockref("LOOP", (50, 50))
    drawing = read_drawing(saved(document, tmp_path))
    assert len(drawing.keep_outs) == 1
    assert any("contains itself" in line for line in drawing.ignored)


def test_blocks_that_contain_each_other_end(tmp_path):
    document = new()
    document.blocks.new("A").add_blockref("B", (1, 0))
    document.blocks.new("B").add_blockref("A", (1, 0))
    polyline(document.modelspace(), SQUARE)
    document.modelspace().add_blockref("A", (0, 0))
    assert read_drawing(saved(document, tmp_path)).outline.area_mm2 == 1e4


def test_blocks_that_double_thirty_times_are_refused(tmp_path):
    document = new()
    document.blocks.new("B0").add_point((0, 0))
    for level in range(1, 30):
        block = document.blocks.new(f"B{level}")
        block.add_blockref(f"B{level - 1}", (0, 0))
        block.add_blockref(f"B{level - 1}", (2**level, 0))
    document.modelspace().add_blockref("B29", (0, 0))
    assert "entities" in str(refused(saved(document, tmp_path)))


def test_a_billion_rows_and_columns_are_refused(tmp_path):
    document = new()
    document.blocks.new("B").add_circle((0, 0), 1)
    document.modelspace().add_blockref("B", (0, 0), {"row_count": 32000, "column_count": 32000})
    assert "entities" in str(refused(saved(document, tmp_path)))


def test_missing_block_is_ignored_and_said(tmp_path):
    document = new()
    polyline(document.modelspace(), SQUARE)
    document.modelspace().add_blockref("LOST", (0, 0))
    path = saved(document, tmp_path)
    assert any("LOST" in line for line in read_drawing(path).ignored)


def test_binary_with_a_wrong_number_is_refused_or_read(tmp_path):
    document = new()
    polyline(document.modelspace(), SQUARE)
    path = saved(document, tmp_path, "bin")
    path.write_bytes(path.read_bytes().replace(struct.pack("<d", 100.0), struct.pack("<d", math.nan)))
    refused(path, DrawingError)


@pytest.mark.parametrize("join_mm", [-1.0, math.nan, 1e9])
def test_impossible_joining_distance(join_mm):
    with pytest.raises(LayoutError, match="joining distance"):
        read_drawing(FOOTPRINTS / "orchard_rover_tray.dxf", join_mm=join_mm)


def test_no_joining_distance_at_all_still_joins_what_coincides(tmp_path):
    document = new()
    for start, end in zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True):
        document.modelspace().add_line(start, end)
    assert read_drawing(saved(document, tmp_path), join_mm=0.0).outline.area_mm2 == 1e4
