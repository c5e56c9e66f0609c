"""Tables, read back with the csv module as any other program would."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.exchange.tables import FORMULA_STARTS, csv_bytes, plain, tables
from layout_app.model.layouts import Layout
from layout_app.physics.min_cuts import Cut

from .builders import COPPER, rover_layout, rover_segments


def read(layout: Layout) -> dict[str, list[dict[str, str]]]:
    made = dict(tables(layout, rover_segments(layout)))
    return {name: list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline=""))) for name, data in made.items()}


def test_every_length_in_a_header_names_its_unit():
    lengths = ("x", "y", "diameter", "perimeter", "cut_length", "thickness", "border", "area", "mass")
    for data in dict(tables(rover_layout(), rover_segments(rover_layout()))).values():
        header = data.decode().splitlines()[0].split(",")
        for name in header:
            if any(name.startswith(word) or f"_{word}" in name for word in lengths):
                assert name.endswith(("_mm", "_mm2", "_g")), name


def test_every_cell_has_a_row_with_its_place_group_end_and_both_segments():
    layout = rover_layout(3, 4)  # rows of 4: cell 5 is the first of group 2, which stands the other way up
    rows = read(layout)["cells.csv"]
    assert len(rows) == 12
    # group 1 up joins top segment 1 with its positive end, bottom segment 0 with its negative one (design.md section 3)
    assert rows[0] == {"cell": "1", "x_mm": "1250.0", "y_mm": "-430.0", "group": "1", "positive_end": "up",
                       "top_segment": "1", "bottom_segment": "0"}  # fmt: skip
    assert rows[4] == {"cell": "5", "x_mm": "1250.0", "y_mm": "-407.5", "group": "2", "positive_end": "down",
                       "top_segment": "1", "bottom_segment": "2"}  # fmt: skip


def test_each_cell_has_one_joint_at_either_end():
    rows = read(rover_layout(3, 4))["joints.csv"]
    assert len(rows) == 24  # 2 per cell; bolt holes are no joints
    assert {(row["cell"], row["end"]) for row in rows} == {
        (str(cell), end) for cell in range(1, 13) for end in ("positive", "negative")
    }
    assert {row["window_diameter_mm"] for row in rows if row["end"] == "positive"} == {"8.0"}


def test_joints_seen_from_below_are_the_bottom_ones_mirrored_about_the_line_the_table_names():
    made = read(rover_layout(3, 4))
    above = {row["hole"]: row for row in made["joints.csv"] if row["face"] == "bottom"}
    below = made["joints_bottom_seen_from_below.csv"]
    assert len(below) == len(above) == 12
    for row in below:
        middle_mm = float(row["mirrored_about_x_mm"])
        # the housing reaches from 1250 - 22.5 to 1250 + 4 * 22.5
        assert middle_mm == 1283.75
        same = above[row["hole"]]
        assert float(row["x_from_below_mm"]) + float(same["x_mm"]) == pytest.approx(2 * middle_mm)
        assert row["y_mm"] == same["y_mm"]
        assert (row["cell"], row["segment"], row["end"]) == (same["cell"], same["segment"], same["end"])


def test_segments_give_what_can_be_worked_out_by_hand():
    rows = read(rover_layout(3, 4))["segments.csv"]
    assert [row["joins"] for row in rows] == [
        "negative terminal to group 1 negative",
        "group 1 positive to group 2 negative",
        "group 2 positive to group 3 negative",
        "group 3 positive to positive terminal",
    ]
    # segment 2: a strip 88.5 x 43.5 mm, corners of 2 mm, four windows of 8 and four of 14 mm, no boss; copper 0.5 mm
    width, height, windows = 88.5, 43.5, 4 * math.pi * (4**2 + 7**2)
    area = width * height - (4 - math.pi) * 2**2 - windows
    perimeter = 2 * (width + height) - 8 * 2 + 2 * math.pi * 2
    assert float(rows[2]["area_mm2"]) == pytest.approx(area, abs=0.005)
    assert float(rows[2]["mass_g"]) == pytest.approx(area * 0.5 * COPPER.density_kg_m3 * 1e-6, abs=5e-4)
    assert float(rows[2]["perimeter_mm"]) == pytest.approx(perimeter, abs=0.005)
    assert float(rows[2]["cut_length_mm"]) == pytest.approx(perimeter + 4 * 2 * math.pi * 11, abs=0.005)


def test_a_known_neck_is_told_with_its_current_density():
    layout = rover_layout(3, 4)  # 40 A through 0.5 mm of sheet
    segments = rover_segments(layout)
    neck = Cut(2, 10.0, (), -30.0, 6.0, np.array([0]))  # of the 40 A, 30 cross: 30 / (10 × 0.5)
    rows = list(csv.DictReader(io.StringIO(dict(tables(layout, segments, (None, neck)))["segments.csv"].decode())))
    told = [[row["neck_mm"], row["neck_current_a"], row["neck_density_a_mm2"]] for row in rows]
    assert told[2] == ["10.0", "30.0", "6.0"]
    assert told[1] == ["", "", ""]


def test_steps_climb_by_one_cell_voltage_a_group():
    rows = read(rover_layout(3, 4))["steps.csv"]
    assert [row["nominal_v"] for row in rows] == ["3.6", "7.2", "10.8"]  # 3.6 V a cell
    assert [row["full_v"] for row in rows] == ["4.2", "8.4", "12.6"]
    # square lattice: each cell faces one of the next row across a border one pitch long
    assert [row["pairs_to_next_group"] for row in rows] == ["4", "4", ""]
    # the outer two of the four borders are cut off by the reach: 1.5 pitch across, so (√(0.75² - 0.5²)) + 0.5 pitches
    border_mm = (2 * 1.0 + 2 * (0.5 + math.sqrt(0.75**2 - 0.5**2))) * 22.5
    assert float(rows[0]["border_to_next_group_mm"]) == pytest.approx(border_mm, abs=0.001)


def test_unassigned_cells_are_counted_apart():
    layout = rover_layout(3, 4)
    groups = [0] + layout.cells.groups.tolist()[1:]
    loose = replace(layout, cells=layout.cells.regrouped(groups))
    made = read(loose)
    assert made["steps.csv"][-1]["group"] == "unassigned"
    assert made["steps.csv"][-1]["cells"] == "1"
    assert made["cells.csv"][0]["top_segment"] == ""


def test_negative_coordinates_stay_numbers():
    assert plain(-430.0) == "-430.0"


@settings(deadline=None)
@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_no_text_is_taken_for_a_formula_and_every_row_stays_one_row(text):
    rows = list(csv.reader(io.StringIO(csv_bytes(["a", "b"], [[text, 1]]).decode(), newline="")))
    assert len(rows) == 2
    assert not rows[1][0].startswith(FORMULA_STARTS)


def test_a_material_named_like_a_formula_is_defused_in_the_file():
    layout = rover_layout()
    hostile = replace(COPPER, name='=HYPERLINK("x")')
    layout = replace(layout, plates=replace(layout.plates, material=hostile))
    assert {row["material"] for row in read(layout)["segments.csv"]} == {'\'=HYPERLINK("x")'}
