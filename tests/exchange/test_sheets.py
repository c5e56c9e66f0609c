"""Sheets: SVG read back as XML, lengths measured on paper."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.exchange.face_views import FaceView
from layout_app.exchange.sheets import SCALES, Paper, path, picture, sheet, sheets
from layout_app.exchange.stamps import Stamp
from layout_app.geometry.contours import Contour

from .builders import rover_layout, rover_segments

SVG = "{http://www.w3.org/2000/svg}"


def read_path(data: str) -> list[np.ndarray]:
    """Return the loops of SVG path data as points; arcs by the conversion in SVG 2, appendix B.2.4 (from memory)."""
    loops: list[np.ndarray] = []
    points: list[tuple[float, float]] = []
    for command, text in re.findall(r"([MLAaZ])([^MLAaZ]*)", data):
        numbers = [float(number) for number in text.split()]
        if command == "M":
            points = [(numbers[0], numbers[1])]
        elif command == "L":
            points.append((numbers[0], numbers[1]))
        elif command == "A":
            points += _arc(points[-1], numbers[0], int(numbers[3]), int(numbers[4]), (numbers[5], numbers[6]))
        elif command == "a":
            end = (points[-1][0] + numbers[5], points[-1][1] + numbers[6])
            points += _arc(points[-1], numbers[0], int(numbers[3]), int(numbers[4]), end)
        else:
            loops.append(np.array(points))
    return loops


def _arc(start, radius, large, sweep, end):
    chord = math.dist(start, end)
    height = math.sqrt(max(radius**2 - chord**2 / 4, 0.0)) * (1 if large != sweep else -1)
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    cx, cy = (start[0] + end[0]) / 2 - height * uy, (start[1] + end[1]) / 2 + height * ux
    first = math.atan2(start[1] - cy, start[0] - cx)
    turn = (math.atan2(end[1] - cy, end[0] - cx) - first) % (2 * math.pi) - (0 if sweep else 2 * math.pi)
    return [(cx + radius * math.cos(first + turn * k / 90), cy + radius * math.sin(first + turn * k / 90))
            for k in range(1, 91)]  # fmt: skip


def area(loop: np.ndarray) -> float:
    x, y = loop.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


ARCS = st.floats(0.05, 3.0).flatmap(lambda bulge: st.sampled_from([bulge, -bulge]))


@settings(max_examples=60, deadline=None)
@given(ARCS)
def test_arcs_bulge_to_the_same_side_and_as_far_on_paper(bulge):
    contour = Contour([(0, 0), (10, 0), (10, 10), (0, 10)], [bulge, 0, 0, 0])
    paper = Paper(scale=1.0, x_left_mm=0.0, y_top_mm=20.0, width_mm=1.0, height_mm=1.0)
    [loop] = read_path(path(contour, paper))
    # exact: the square, plus (or less) a circular segment of radius r and included angle a over one side
    included = 4 * math.atan(abs(bulge))
    radius = 5 / math.sin(included / 2)
    part = radius**2 * (included - math.sin(included)) / 2
    signed = 100 + math.copysign(part, bulge)
    x, y = loop.T
    assert -float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2 == pytest.approx(signed, rel=2e-3, abs=0.2)


def test_there_is_a_sheet_for_each_face_and_one_from_below_all_proper_xml():
    layout = rover_layout(name="tray <&> 'one'")
    made = dict(sheets(layout, rover_segments(layout)))
    assert sorted(made) == ["bottom_face.svg", "bottom_face_seen_from_below.svg", "top_face.svg"]
    for data in made.values():
        root = ElementTree.fromstring(data)
        words = " ".join(root.itertext())
        assert "not certified" in words
        assert "tray <&> 'one'" in words
        assert (root.get("width"), root.get("height")) == ("420mm", "297mm")  # ISO 216 A3
    assert "SEEN FROM BELOW" in made["bottom_face_seen_from_below.svg"].decode()


def test_date_and_revision_stand_in_the_title_block_or_leave_their_places_free():
    layout = rover_layout()
    stamp = Stamp(date="2031-05-04", revision="C <2>")
    for made, wanted in (
        (sheets(layout, rover_segments(layout), stamp), 1),
        (sheets(layout, rover_segments(layout)), 0),
    ):
        for _, data in made:
            words = [element.text for element in ElementTree.fromstring(data).iter(f"{SVG}text")]
            assert {"date", "revision"} <= set(words)
            assert words.count("2031-05-04") == words.count("C <2>") == wanted


@pytest.mark.parametrize("from_below", [False, True])
def test_metal_and_housing_have_their_true_areas_times_the_scale_squared(from_below):
    layout = rover_layout(3, 4)
    segments = rover_segments(layout)
    view = FaceView.of(layout, segments, "bottom", from_below=from_below)
    root = ElementTree.fromstring(sheet(view))
    scale = Paper.fitting(view, 380.0, 222.0).scale  # as the title block says
    assert f"1:{scale:g}" in " ".join(root.itertext())
    [housing] = [read_path(e.get("d")) for e in root.iter(f"{SVG}path") if e.get("class") == "housing"]
    housing_mm2 = 112.5 * 90.0 - (4 - math.pi) * 12**2
    assert area(housing[0]) * scale**2 == pytest.approx(housing_mm2, rel=1e-3)
    metals = [read_path(e.get("d")) for e in root.iter(f"{SVG}path") if e.get("class") == "metal"]
    on_face = [segment for segment in segments if segment.face == "bottom"]
    for loops, segment in zip(metals, on_face, strict=True):
        net = area(loops[0]) - sum(area(loop) for loop in loops[1:])
        assert net * scale**2 == pytest.approx(segment.metal(1e-4).area, rel=1e-3)


def test_a_view_from_below_puts_left_to_the_right():
    layout = rover_layout(3, 4)
    places = []
    for from_below in (False, True):
        view = FaceView.of(layout, rover_segments(layout), "bottom", from_below=from_below)
        circles = [e for e in ElementTree.fromstring(sheet(view)).iter(f"{SVG}circle") if e.get("class") == "cell"]
        places.append([float(circle.get("cx")) for circle in circles])
    # the middle of the sheet is the middle of the drawing, 210 mm from the left
    np.testing.assert_allclose(np.array(places[0]) + places[1], 420.0, atol=0.01)


def test_big_modules_are_drawn_smaller_at_a_standard_scale():
    small = FaceView.of(rover_layout(3, 4), (), "top")
    large = FaceView.of(rover_layout(6, 86), (), "top")
    assert Paper.fitting(small, 380.0, 222.0).scale == 1
    scale = Paper.fitting(large, 380.0, 222.0).scale  # 87 * 22.5 = 1957.5 mm over 380 mm of paper: 5.15, so 1:10
    assert scale == 10
    assert scale in SCALES


def test_everything_stays_within_the_frame():
    for n_series, n_parallel in ((3, 4), (6, 86), (40, 2)):
        layout = rover_layout(n_series, n_parallel)
        view = FaceView.of(layout, rover_segments(layout), "top")
        root = ElementTree.fromstring(sheet(view))
        shapes = [e for e in root.iter(f"{SVG}path") if e.get("class") in ("housing", "metal")]
        points = np.vstack([loop for e in shapes for loop in read_path(e.get("d"))])
        # frame 10 mm from the edge, title block 30 mm high above its lower line
        assert shapely.box(10, 10, 410, 257).covers(shapely.MultiPoint(points))


def test_a_layout_without_metal_still_has_its_sheet():
    layout = rover_layout()
    bare = replace(layout, cells=layout.cells.regrouped([0] * len(layout.cells)))
    assert ElementTree.fromstring(sheet(FaceView.of(bare, (), "top"))) is not None


def test_the_picture_for_a_page_is_as_wide_as_asked():
    layout = rover_layout()
    root = ElementTree.fromstring(picture(FaceView.of(layout, rover_segments(layout), "top"), 100.0))
    assert root.get("width") == "100mm"
