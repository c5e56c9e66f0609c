"""The saved file: exact, stable, self-contained, and never trusted."""

import difflib
import json
import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model import saved_file
from layout_app.model.cells import Cells
from layout_app.model.errors import FileError
from layout_app.model.layouts import Layout
from layout_app.model.resources import sample_layouts
from tests.strategies import layouts

SAMPLE = Path(__file__).parents[1] / "data" / "layouts" / "version_1.busweave"
TEXT = SAMPLE.read_text(encoding="utf-8")


def refused(text: str) -> FileError:
    with pytest.raises(FileError) as caught:
        saved_file.loads(text, "buoy.busweave")
    assert "\n" not in str(caught.value)
    return caught.value


def with_change(old: str, new: str) -> str:
    assert TEXT.count(old) >= 1
    return TEXT.replace(old, new, 1)


# -- exact and stable -----------------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(layouts())
def test_any_valid_layout_comes_back_equal_and_saves_to_the_same_text(layout):
    text = saved_file.dumps(layout)
    again = saved_file.loads(text)
    assert again == layout
    assert saved_file.dumps(again) == text


def test_whole_numbers_given_as_lengths_save_as_they_will_read(sample):
    given_whole = Layout(**{**fields_of(sample), "design_current_a": 12, "peak_current_a": 30})
    text = saved_file.dumps(given_whole)
    assert saved_file.dumps(saved_file.loads(text)) == text


def test_moving_one_cell_changes_one_line(sample):
    centres = sample.cells.centres_mm.copy()
    centres[2] += (1 / 3, -0.001)
    moved = Layout(**{**fields_of(sample), "cells": Cells(centres, sample.cells.groups)})
    before, after = (saved_file.dumps(layout).split("\n") for layout in (sample, moved))
    changes = [line for line in difflib.ndiff(before, after) if line[:2] in ("- ", "+ ")]
    assert [line[0] for line in changes] == ["-", "+"]
    assert '"y_mm": 515.999000, "group": 2' in changes[1]


def test_every_cell_and_every_vertex_has_a_line_of_its_own(sample):
    lines = saved_file.dumps(sample).split("\n")
    assert sum('"group":' in line for line in lines) == 4
    assert sum('"bulge":' in line for line in lines) == 6


def test_a_lock_is_one_more_word_on_the_line_of_its_cell_and_none_is_written_for_the_others(sample):
    locked = Layout(**{**fields_of(sample), "cells": sample.cells.relocked([False, True, False, False])})
    before, after = (saved_file.dumps(layout).split("\n") for layout in (sample, locked))
    changes = [(one, other) for one, other in zip(before, after, strict=True) if one != other]
    assert changes == [(before[k], f'{before[k][:-2]}, "locked": true}},') for k in [before.index(changes[0][0])]]
    assert '"y_mm": 543.500000, "group": 1' in changes[0][0]
    assert '"locked"' not in saved_file.dumps(sample)
    assert saved_file.loads("\n".join(after)).cells.locked.tolist() == [False, True, False, False]


@pytest.mark.parametrize(
    ("lock", "says"),
    [
        ('"locked": 1', "found 1; it must be true or false"),
        ('"locked": null', "found None; it must be true or false"),
        ('"locked": "yes"', "found 'yes'; it must be true or false"),
        ('"lockd": true', "Did you mean locked?"),
    ],
)
def test_a_lock_that_is_none_is_refused_with_its_line(lock, says):
    assert '"group": 1}' in TEXT
    error = refused(TEXT.replace('"group": 1}', f'"group": 1, {lock}}}', 1))
    assert says in error.reason
    assert '"group": 1' in TEXT.split("\n")[error.line - 1]


def test_a_lock_that_is_not_one_may_be_written_out(sample):
    assert saved_file.loads(TEXT.replace('"group": 1}', '"group": 1, "locked": false}', 1)) == sample


def fields_of(layout):
    return {name: getattr(layout, name) for name in Layout.__dataclass_fields__}


@pytest.fixture
def sample():
    return saved_file.load(SAMPLE)


# -- the sample of version 1 ----------------------------------------------------------------------------------------


def test_the_sample_of_version_1_still_opens(sample):
    # written by hand; every value below is read off the file
    half_arc = Contour([(1000, 500), (1060, 500), (1060, 560), (1000, 560)], [0, 1, 0, 0])
    assert sample.housing.outline == half_arc
    # derived: 60 × 60 square and half a disc of 30 mm radius
    assert sample.housing.outline.area_mm2 == pytest.approx(3600 + np.pi * 900 / 2, rel=1e-12)
    assert sample.housing.keep_outs[0].as_circle == pytest.approx((1075, 530, 5))
    assert sample.cells.centres_mm.tolist() == [[1016, 516], [1016, 543.5], [1043.5, 516], [1043.5, 543.5]]
    assert sample.cells.groups.tolist() == [1, 1, 2, 0]
    assert (sample.name, sample.n_series, sample.n_parallel) == ("Harbour buoy, lamp module", 2, 2)
    assert (sample.chain, sample.first_group_up) == ("folded", False)
    assert (sample.cell_type.capacity_ah, sample.cell_type.shoulder_diameter_mm) == (5.5, 23.4)
    assert (sample.lattice.kind, sample.lattice.origin_mm) == ("square", (1016, 516))
    assert (sample.plates.material.resistivity_ohm_m, sample.plates.borders) == (1.7241e-8, "straight")
    assert (sample.plates.positive_window_mm, sample.plates.negative_window_mm) == (14, None)
    assert [t.bolt for t in sample.terminals] == ["M4", "M5"]
    assert [t.near_mm for t in sample.terminals] == [(1000, 530), None]
    assert (sample.limits.touch_voltage_v, sample.limits.cell_gap_mm) == (30, 0.8)
    assert sample.notes == "Sealed after the lamp test.\nSpare site kept free."


def test_a_field_with_a_default_may_be_left_out():
    layout = saved_file.loads(with_change('    "cell_gap_mm": 0.8\n', '    "cell_gap_mm": 0.5\n'))
    assert layout == saved_file.loads(with_change('120.0,\n    "cell_gap_mm": 0.8\n', "120.0\n"))


def test_a_byte_order_mark_and_windows_line_ends_do_not_matter(sample, tmp_path):
    path = tmp_path / "buoy.busweave"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert saved_file.load(path) == sample


# -- what reading refuses, and how it says so -------------------------------------------------------------------------

LINE_OF = {line.strip().rstrip(","): number for number, line in enumerate(TEXT.split("\n"), 1)}


@pytest.mark.parametrize(
    ("old", "new", "place", "says"),
    [
        ('"thickness_mm": 0.3', '"thickness_mm": -0.3', "plates.thickness_mm", "more than 0"),
        ('"thickness_mm": 0.3', '"thickness_mm": "0.3"', "plates.thickness_mm", "found '0.3'; it must be a finite nu"),
        ('"thickness_mm": 0.3', '"thickness_mm": true', "plates.thickness_mm", "found True; it must be a finite"),
        ('"thickness_mm": 0.3', '"thickness_mm": NaN', "plates.thickness_mm", "found nan"),
        ('"thickness_mm": 0.3', '"thickness_mm": -Infinity', "plates.thickness_mm", "found -inf"),
        ('"thickness_mm": 0.3', '"thickness_mm": 1e999', "plates.thickness_mm", "found inf"),
        ('"mass_g": 92.0', '"mass_g": 1' + "0" * 5000, "cell_type.mass_g", "found inf"),
        ('"n_series": 2', '"n_series": 2.0', "n_series", "a whole number"),
        ('"n_series": 2', '"n_series": 1' + "0" * 5000, "n_series", "a whole number"),
        ('"n_series": 2', '"n_series": 1000000', "n_series", "from 1 to 1000"),
        ('"first_group_up": false', '"first_group_up": 0', "first_group_up", "true or false"),
        ('"chain": "folded"', '"chain": "zigzag"', "chain", "one of straight, folded"),
        ('"bolt": "M4"', '"bolt": "M7"', "terminals[0].bolt", "one of M3, M4"),
        ('"setback_mm"', '"setbak_mm"', "plates.setbak_mm", "Did you mean setback_mm?"),
        ('"origin_mm": [1016.0, 516.0]', '"origin_mm": [1016.0]', "lattice.origin_mm", "a list of 2"),
        ('"origin_mm": [1016.0, 516.0]', '"origin_mm": [1016.0, 1e300]', "lattice.origin_mm[1]", "at most 1e+08"),
        ('"row_mm": 27.5', '"row_mm": 2.5', "lattice", "closer than its pitch"),
        ('"name": "26650, example"', '"name": "26650\\ud800"', "cell_type.name", "whole Unicode characters"),
        ('"id": "copper"', '"id": " "', "plates.material.id", "a word"),
    ],
)
def test_a_bad_field_is_named_with_its_line(old, new, place, says):
    error = refused(with_change(old, new))
    assert error.place == place
    assert says in str(error)
    expected_line = LINE_OF[old] if old in LINE_OF else next(n for line, n in LINE_OF.items() if line.startswith(old))
    assert error.line in (expected_line, LINE_OF['"lattice": {'] if place == "lattice" else expected_line)


@pytest.mark.parametrize(
    ("old", "new", "place", "says"),
    [
        ('"x_mm": 1043.500000, "y_mm": 516.000000, "group": 2', '"x_mm": 1, "y_mm": 2, "group": 3',
         "cells[2]", "Cell 3 is in group 3, but the chain has only 2 groups"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": "a", "group": 2', "cells[2].y_mm", "found 'a'"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": NaN, "group": 2', "cells[2].y_mm", "found nan"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": 1e12, "group": 2', "cells[2]", "Cell 3 stands at"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": 516, "group": true', "cells[2].group", "found True"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": 516, "group": -1', "cells[2]", "Cell 3 is in group -1"),
        ('"y_mm": 516.000000, "group": 2', '"group": 2', "cells[2].y_mm", "missing"),
        ('"y_mm": 516.000000, "group": 2', '"y_mm": 5, "group": 2, "hue": 1', "cells[2].hue", "no such field"),
        ('{"x_mm": 1043.500000, "y_mm": 516.000000, "group": 2}', "[1, 2, 3]", "cells[2]", "an object with the fields"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_with_its_line(old, new, place, says):
    error = refused(with_change(old, new))
    assert error.place == place
    assert says in str(error)
    assert error.line == LINE_OF['{"x_mm": 1043.500000, "y_mm": 516.000000, "group": 2}']


def test_a_missing_field_is_named_with_the_line_of_what_lacks_it():
    error = refused(with_change('    "kind": "square",\n', ""))
    assert (error.place, error.line) == ("lattice.kind", LINE_OF['"lattice": {'])
    assert "missing" in str(error)


def test_a_field_that_stands_twice_is_refused_not_chosen_from():
    error = refused(with_change('"gap_mm": 1.2,', '"gap_mm": 1.2, "gap_mm": 2.1,'))
    assert (error.place, error.line) == ("plates.gap_mm", LINE_OF['"gap_mm": 1.2'])


def test_a_loop_without_area_is_refused():
    on_a_line = [{"x_mm": x_mm, "y_mm": 0, "bulge": 0} for x_mm in (0, 9, 5)]
    flat = f'"outline": {json.dumps(on_a_line)},'
    start, end = TEXT.index('"outline"'), TEXT.index('"keep_outs"')
    assert "encloses no area" in str(refused(TEXT[:start] + flat + TEXT[end:]))
    assert "three straight edges" in str(refused(TEXT[:start] + '"outline": [],' + TEXT[end:]))


def test_broken_json_is_told_with_line_and_column():
    error = refused(with_change('"n_parallel": 2,', '"n_parallel": 2'))
    assert error.line == LINE_OF['"n_parallel": 2'] + 1
    assert "damaged here, at column" in str(error)


def test_a_file_of_another_kind_is_told_as_such_and_damage_names_a_backup_only_where_there_is_one(tmp_path):
    other, torn = tmp_path / "note.busweave", tmp_path / "rover.busweave"
    other.write_text("Dear all, the tray is late.", encoding="utf-8")
    torn.write_text(TEXT[: len(TEXT) // 2], encoding="utf-8")
    with pytest.raises(FileError, match=r"not a layout of this program\. Choose another file"):
        saved_file.load(other)
    with pytest.raises(FileError, match="Fetch the file anew"):
        saved_file.load(torn)
    (tmp_path / "rover.busweave~").write_text(TEXT, encoding="utf-8")
    with pytest.raises(FileError, match=r"kept beside it as rover\.busweave~"):
        saved_file.load(torn)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("  \n", "empty"),
        ("[]", "another file"),
        ("null", "another file"),
        ('{"version": 1}', "another file"),
        (with_change('"busweave-layout"', '"knitting-pattern"'), "found 'knitting-pattern'"),
        (with_change('"version": 1', '"version": "1"'), "found '1'"),
        (with_change('"version": 1', '"version": true'), "found True"),
        (with_change('"version": 1', '"version": 0'), "found 0"),
        ("[" * 200_000, "without end"),
        ('{"a":' * 200_000, "without end"),
    ],
)
def test_other_files_are_refused_clearly(text, says):
    assert says in str(refused(text))


def test_a_newer_version_is_refused_naming_both():
    message = str(refused(with_change('"version": 1', '"version": 7')))
    assert "version 7" in message
    assert f"up to version {saved_file.VERSION}" in message


def test_an_older_version_is_carried_forward_step_by_step(sample, monkeypatch):
    def to_2(data):  # as if version 1 had called the name "title"
        data["title2"] = data.pop("title")
        return data

    def to_3(data):
        data["name"] = data.pop("title2")
        return data

    monkeypatch.setattr(saved_file, "VERSION", 3)
    monkeypatch.setattr(saved_file, "UPGRADES", {1: to_2, 2: to_3})
    old = TEXT.replace('"name": "Harbour', '"title": "Harbour')
    assert saved_file.loads(old) == sample
    second = old.replace('"title"', '"title2"').replace('"version": 1', '"version": 2')
    assert saved_file.loads(second) == sample


def test_every_older_version_has_its_upgrade():
    assert sorted(saved_file.UPGRADES) == list(range(1, saved_file.VERSION))


def test_files_that_are_none_are_refused_clearly(tmp_path):
    (tmp_path / "binary.busweave").write_bytes(bytes(range(256)))
    os.mkfifo(tmp_path / "pipe.busweave")
    for name, says in (
        ("missing.busweave", "no such file"),
        ("", "this is a folder"),
        ("binary.busweave", "not UTF-8 text (byte 128)"),
        ("pipe.busweave", "not a plain file"),
        ("nul\0.busweave", "cannot be read"),
        ("x" * 5000, "cannot be read"),
    ):
        with pytest.raises(FileError, match=says.replace("(", r"\(").replace(")", r"\)")):
            saved_file.load(tmp_path / name)


# -- fuzz -----------------------------------------------------------------------------------------------------------

NASTY = [None, True, -1, 0, 1e308, -1e-320, 10**30, float("nan"), float("inf"), "", "M5", "\0", "x" * 5000, [], {},
         [[]], [1, 2], [1, 2, 3], {"x_mm": 0}, 2**63, -0.0]  # fmt: skip


def require_layout_or_clear_error(opening) -> None:
    outcome = outcome_of(opening)
    if isinstance(outcome, Layout):
        assert saved_file.loads(saved_file.dumps(outcome)) == outcome
    else:
        assert "fuzzed.busweave" in str(outcome)
        assert "\n" not in str(outcome)
        assert len(str(outcome)) < 1000


def outcome_of(opening) -> Layout | FileError:
    try:
        return opening()
    except FileError as error:
        return error


def slots_of(data):
    """Yield (container, key) of every value in parsed JSON."""
    for key in list(data) if isinstance(data, dict) else range(len(data)):
        yield data, key
        if isinstance(data[key], dict | list):
            yield from slots_of(data[key])


N_SLOTS = len(list(slots_of(json.loads(TEXT))))


@settings(deadline=None, max_examples=400)
@given(st.integers(0, N_SLOTS - 1), st.sampled_from(NASTY), st.sampled_from(["replace", "remove", "rename"]))
def test_fuzz_any_value_replaced_removed_or_renamed(slot, nasty, how):
    data = json.loads(TEXT)
    container, key = list(slots_of(data))[slot]
    if how == "replace":
        container[key] = nasty
    elif how == "remove":
        del container[key]
    elif isinstance(container, dict):
        container[str(nasty)[:300]] = container.pop(key)
    require_layout_or_clear_error(partial(saved_file.loads, json.dumps(data), "fuzzed.busweave"))


N_LINES = TEXT.count("\n")


@settings(deadline=None, max_examples=200)
@given(st.integers(0, N_LINES - 1), st.integers(0, N_LINES), st.booleans())
def test_fuzz_lines_removed_duplicated_or_moved(first, second, keep):
    lines = TEXT.split("\n")
    line = lines[first] if keep else lines.pop(first)
    lines.insert(second, line)
    require_layout_or_clear_error(partial(saved_file.loads, "\n".join(lines), "fuzzed.busweave"))
    require_layout_or_clear_error(partial(saved_file.loads, "\n".join(lines[:second]), "fuzzed.busweave"))


@settings(deadline=None, max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, len(TEXT.encode()) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_fuzz_bytes_flipped(tmp_path, flips):
    data = bytearray(TEXT.encode())
    for place, byte in flips:
        data[place] = byte
    path = tmp_path / "fuzzed.busweave"
    path.write_bytes(bytes(data))
    require_layout_or_clear_error(partial(saved_file.load, path))


# -- light ----------------------------------------------------------------------------------------------------------


def test_opening_a_layout_as_it_is_saved_now_loads_no_heavy_library():
    heavy = "'scipy', 'shapely', 'ezdxf', 'PySide6', 'platformdirs', 'tempfile', 'difflib', 'tomllib'"
    code = (
        "import sys, layout_app.model.saved_file as f, layout_app.model.catalogues;"
        f"f.load({str(sample_layouts()['orchard_rover'])!r}); sys.exit(', '.join({{{heavy}}} & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
