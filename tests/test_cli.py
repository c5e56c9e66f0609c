"""The command line: what it prints, how it ends, and that no input shows a traceback."""

import csv
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout_app import __version__, cli, cli_commands
from layout_app.cli import main
from layout_app.cli_console import Progress
from layout_app.model.lattices import LatticeKind
from layout_app.model.resources import resource
from layout_app.model.saved_file import load, save

FIGURE_KEYS = {  # what other tools rely on: the design's list
    "cells", "series", "parallel", "voltage_min_v", "voltage_nominal_v", "voltage_max_v", "capacity_ah", "energy_wh",
    "cell_mass_kg", "segments_top", "segments_bottom", "joints", "packing_fraction",
}  # fmt: skip
FINDING_KEYS = {"rule", "severity", "message", "measured", "limit", "unit", "places_mm", "cells", "segments"}


@pytest.fixture(autouse=True)
def own_folders(tmp_path_factory, monkeypatch):
    """Keep settings and crash logs of the tests away from the user's."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
    monkeypatch.setenv("BUSWEAVE_CONFIG_DIR", str(tmp_path_factory.mktemp("config")))


@pytest.fixture
def tell(capsys):
    """Run a command in this process; return exit code, stdout and stderr."""

    def run(*arguments):
        code = main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return run


@pytest.fixture
def no_screen(monkeypatch):
    """Take the display away."""
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)


def one_line(err):
    """Return the only line on stderr, which must be ours."""
    (line,) = err.splitlines()
    assert line.startswith("busweave: ")
    assert "Traceback" not in line
    return line


def spoiled(layout):
    """Return the layout with one cell of group 1 painted into group 4: an error."""
    groups = layout.cells.groups.copy()
    groups[0] = 4
    return replace(layout, cells=layout.cells.regrouped(groups))


# -- figures, check, cells ------------------------------------------------------------------------------------------


def test_figures_as_json_carry_the_keys_other_tools_rely_on(tell, saved):
    code, out, err = tell("figures", saved, "--json")
    told = json.loads(out)
    assert (code, err) == (0, "")
    assert set(told) >= FIGURE_KEYS
    assert (told["cells"], told["series"], told["parallel"], told["joints"]) == (20, 4, 5, 40)
    assert told["voltage_nominal_v"] == pytest.approx(14.4)  # derived: 4 × 3.6 V
    assert all(isinstance(value, int | float) for value in told.values())


def test_figures_for_people_can_explain_themselves(tell, saved):
    plain, explained = tell("figures", saved)[1], tell("figures", saved, "--explain")[1]
    assert re.search(r"^Nominal voltage +14\.4 V$", plain, re.MULTILINE)
    assert "Source:" not in plain
    assert "groups in series × nominal cell voltage (groups: 4; cell voltage: 3.6 V)" in explained


def test_check_of_a_sound_layout_ends_with_0(tell, saved):
    code, out, err = tell("check", saved)
    assert (code, err) == (0, "")
    assert out.splitlines()[-1].startswith("0 errors")


def test_check_of_a_layout_with_errors_ends_with_1_and_tells_places(tell, rows, tmp_path):
    save(spoiled(rows), tmp_path / "bad.busweave")
    code, out, err = tell("check", tmp_path / "bad.busweave")
    assert (code, err) == (1, "")
    assert re.search(r"^error: uneven group: Group 1 has 4 cells.* \[at \(\d", out, re.MULTILINE)
    code, out, err = tell("check", tmp_path / "bad.busweave", "--json")
    found = json.loads(out)
    assert code == 1
    assert set(found[0]) >= FINDING_KEYS
    assert found[0]["severity"] == "error"
    split = next(finding for finding in found if finding["rule"] == "split group")
    assert split["cells"] == [1]  # cells count from 1


def test_cells_lists_the_catalogue(tell):
    code, out, err = tell("cells", "--json")
    cells = {cell["id"]: cell for cell in json.loads(out)}
    assert (code, err) == (0, "")
    assert {"diameter_mm", "height_mm", "capacity_ah", "contacts", "source"} <= set(cells["21700-energy"])
    assert all("typical" in cell["source"] for cell in cells.values())
    assert "21700-energy" in tell("cells")[1]


def test_trouble_in_the_users_own_cells_is_told_beside_the_list(tell, tmp_path, monkeypatch):
    monkeypatch.setenv("BUSWEAVE_CONFIG_DIR", str(tmp_path))
    (tmp_path / "cells.toml").write_text("[mine]\ndiameter_mm = 'wide'\n")
    code, out, err = tell("cells", "--json")
    assert code == 0
    assert json.loads(out)
    assert "cells.toml, line 1" in one_line(err)  # the table begins there, fields are missing


# -- capacity and lay -----------------------------------------------------------------------------------------------


def test_capacity_of_a_rectangle_agrees_with_counting_rows(tell):
    code, out, err = tell("capacity", "--rectangle", "300x200", "--cell", "21700-energy", "--wall", "0", "--json")
    rows = json.loads(out)
    assert (code, err) == (0, "")
    assert set(rows[0]) == {"lattice", "rotation_deg", "cells", "fraction_of_bound"}
    most = {kind: max(row["cells"] for row in rows if row["lattice"] == kind) for kind in ("hexagonal", "square")}
    assert most == {"hexagonal": 130, "square": 117}  # trade.md row 10: derived, 21 mm cells on a 22 mm pitch
    assert all(0 < row["fraction_of_bound"] <= 1 for row in rows)
    assert [row["cells"] for row in rows] == sorted((row["cells"] for row in rows), reverse=True)


def test_capacity_of_a_drawing_says_what_was_read(tell):
    tray = resource(cli_commands.SAMPLE_HOUSING)
    code, out, _ = tell("capacity", tray, "--cell", "21700-energy", "--gap", 1)
    assert code == 0
    assert "orchard_rover_tray.dxf" in out
    assert "millimetres, from the drawing" in out


def test_lay_saves_a_layout_that_figures_and_check_accept(tell, tmp_path):
    out_file = tmp_path / "rover.busweave"
    code, out, err = tell(
        "lay", "--rectangle", "300x200x12", "--cell", "21700-energy", "--series", 6, "--parallel", 20, "--gap", "1",
        "--lattice", "hexagonal", "--chain", "straight", "--current", 80, "--peak", 160, "--out", out_file,
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "6 × 20 = 120 cells" in out
    layout = load(out_file)
    assert (layout.name, layout.n_series, layout.n_parallel, len(layout.cells)) == ("rover", 6, 20, 120)
    assert (layout.design_current_a, layout.peak_current_a) == (80.0, 160.0)
    assert layout.lattice.kind == "hexagonal"
    assert layout.housing.outline.area_mm2 == pytest.approx(300 * 200 - (4 - 3.14159265) * 12**2)
    assert tell("check", out_file)[0] == 0
    assert json.loads(tell("figures", out_file, "--json")[1])["cells"] == 120


def test_lay_starts_the_chain_at_the_edge_asked_for(tell, tmp_path):
    for start, axis, sign in (("left", 0, 1), ("right", 0, -1)):
        out_file = tmp_path / f"{start}.busweave"
        tell("lay", "--rectangle", "300x100", "--cell", "21700-energy", "--series", 4, "--parallel", 8,
             "--start", start, "--out", out_file)  # fmt: skip
        cells = load(out_file).cells
        first, last = (cells.centres_mm[cells.of_group(k), axis].mean() for k in (1, 4))
        assert sign * (last - first) > 0


def test_lay_says_how_many_fit_when_too_many_are_asked_for(tell, tmp_path):
    code, out, err = tell("lay", "--circle", 100, "--cell", "21700-energy", "--series", 10, "--parallel", 10,
                          "--out", tmp_path / "x.busweave")  # fmt: skip
    assert (code, out) == (2, "")
    assert "100" in one_line(err)
    assert not (tmp_path / "x.busweave").exists()


def test_lay_keeps_the_layout_it_replaces(tell, tmp_path):
    out_file = tmp_path / "x.busweave"
    for parallel in (4, 5):
        assert tell("lay", "--circle", 200, "--cell", "21700-energy", "--series", 4, "--parallel", parallel,
                    "--out", out_file)[0] == 0  # fmt: skip
    assert load(out_file).n_parallel == 5
    kept = tmp_path / "kept.busweave"
    kept.write_bytes((tmp_path / "x.busweave~").read_bytes())
    assert load(kept).n_parallel == 4


def test_lattices_offered_are_those_of_the_model():
    assert set(cli.LATTICES) == set(get_args(LatticeKind))


# -- export and demo ------------------------------------------------------------------------------------------------


def test_export_writes_only_what_is_asked_for(tell, saved, tmp_path):
    code, out, _ = tell("export", saved, "--to", tmp_path / "out", "--only", "dxf,tables")
    kinds = {path.suffix for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert code == 0
    assert "files written" in out
    assert ".dxf" in kinds
    assert ".html" not in kinds


def test_export_marks_sheets_and_report_with_date_and_revision(tell, saved, tmp_path):
    given = ("--only", "drawings,report", "--revision", "B", "--date", "4 May 2031")
    assert tell("export", saved, "--to", tmp_path / "out", *given)[0] == 0
    made = [
        path.read_text(encoding="utf-8") for path in (tmp_path / "out").rglob("*") if path.suffix in (".svg", ".html")
    ]
    assert len(made) == 4
    assert all("4 May 2031" in text for text in made)


def test_export_tells_the_neck_and_the_current_density_of_every_segment(tell, saved, tmp_path):
    layout = load(saved)
    save(replace(layout, design_current_a=40.0), tmp_path / "loaded.busweave")
    assert tell("export", tmp_path / "loaded.busweave", "--to", tmp_path / "out", "--only", "tables")[0] == 0
    (table,) = (tmp_path / "out").rglob("*segments*.csv")
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == layout.n_segments
    for row in rows:
        area_mm2, current_a = float(row["neck_mm"]) * float(row["thickness_mm"]), float(row["neck_current_a"])
        assert 0 < current_a <= 40.01
        assert float(row["neck_density_a_mm2"]) == pytest.approx(current_a / area_mm2, rel=0.01)  # derived: I / (w t)


def test_export_of_a_layout_with_errors_says_so(tell, rows, tmp_path):
    save(spoiled(rows), tmp_path / "bad.busweave")
    code, _, err = tell("export", tmp_path / "bad.busweave", "--to", tmp_path / "out", "--only", "tables")
    assert code == 0
    assert "error" in one_line(err)


def test_demo_without_a_display_does_the_whole_job_and_leaves_the_drawings(tell, no_screen, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, err = tell("demo")
    assert (code, err) == (0, "")
    assert "no display" in out
    assert list(Path("busweave_demo").rglob("*.dxf"))
    layout = load("busweave_demo/orchard_rover.busweave")
    assert (layout.n_series, layout.n_parallel) == (6, 32)
    assert tell("check", "busweave_demo/orchard_rover.busweave")[0] == 0
    assert tell("demo")[0] == 0
    assert Path("busweave_demo_2").is_dir()  # a second run takes nothing away from the first


def test_demo_goes_where_it_is_told_and_opens_no_window_when_asked(tell, tmp_path):
    code, out, _ = tell("demo", "--to", tmp_path / "trial", "--no-window")
    assert code == 0
    assert "as asked" in out
    assert list((tmp_path / "trial").rglob("*.dxf"))


def test_demo_survives_a_qt_that_cannot_start(tell, tmp_path, monkeypatch):
    monkeypatch.setenv("QT_QPA_PLATFORM", "no-such-platform")
    code, out, _ = tell("demo", "--to", tmp_path / "trial")
    assert code == 0
    assert "Qt does not start" in out
    assert list((tmp_path / "trial").rglob("*.dxf"))


def test_the_window_without_a_library_of_its_display_is_one_line(tell, saved, tmp_path, monkeypatch):
    broken = tmp_path / "libqxcb.so"
    broken.write_text("no library at all")
    monkeypatch.setattr("layout_app.cli_window._x_plugin", lambda: broken)
    monkeypatch.setenv("QT_QPA_PLATFORM", "xcb")
    monkeypatch.setenv("DISPLAY", ":4711")
    code, _, err = tell(saved)
    assert code == 2
    assert "a system library that is missing" in one_line(err)
    assert "README" in err


# -- what is not usable ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["lay"], "required"),
        (["lay", "--out", "x.busweave", "--cell", "21700-energy", "--series", "two", "--parallel", "2"], "'two'"),
        (["capacity", "--cell", "21700-energy"], "Name one housing"),
        (["capacity", "x.dxf", "--circle", "100", "--cell", "21700-energy"], "Name one housing"),
        (["capacity", "--circle", "100", "--cell", "no-such-cell"], "no-such-cell"),
        (["capacity", "--circle", "nan", "--cell", "21700-energy"], "'nan'"),
        (["capacity", "--circle", "100", "--units", "inch", "--cell", "21700-energy"], "--units"),
        (["capacity", "--rectangle", "3y4", "--cell", "21700-energy"], "WxH"),
        (["capacity", "--rectangle", "30x40", "--cell", "21700-energy", "--wall", "-1"], "wall clearance"),
        (["capacity", "--circle", "10", "--cell", "21700-energy"], "No cell"),
        (["capacity", "missing.dxf", "--cell", "21700-energy"], "missing.dxf"),
        (["figures", "missing.busweave"], "missing.busweave"),
        (["check", "tray.dxf"], "drawing"),
        (["figures"], "FILE"),
        (["export", "missing.busweave"], "--to"),
        (["export", "missing.busweave", "--to", "x", "--only", "dxf,paintings"], "'paintings'"),
        (["chek", "x"], "Did you mean 'check'"),
        (["rover"], "neither a command nor a file"),
        (["missing.busweave"], "no such file"),
        (["--colour"], "--help"),
        (["figures", "x.busweave", "--js"], "--js"),
    ],
)
def test_what_cannot_be_used_ends_with_2_and_one_line(tell, arguments, told):
    code, out, err = tell(*arguments)
    assert (code, out) == (2, "")
    assert told in one_line(err)


def test_a_folder_or_a_torn_file_in_place_of_a_layout_gives_one_line(tell, saved, tmp_path):
    assert one_line(tell("figures", tmp_path)[2])
    torn = tmp_path / "torn.busweave"
    torn.write_bytes(saved.read_bytes()[:300])
    code, _, err = tell("check", torn)
    assert code == 2
    assert "torn.busweave" in one_line(err)


def test_lay_wants_a_layouts_name_for_what_it_writes(tell, tmp_path):
    drawing = tmp_path / "precious.dxf"
    drawing.write_text("keep me")
    code, _, err = tell("lay", "--circle", 200, "--cell", "21700-energy", "--series", 2, "--parallel", 2,
                        "--out", drawing)  # fmt: skip
    assert code == 2
    assert ".busweave" in one_line(err)
    assert drawing.read_text() == "keep me"


def test_the_window_without_a_display_is_one_line(tell, no_screen, saved):
    code, _, err = tell(saved)
    assert code == 2
    assert "no display" in one_line(err)


def test_a_file_the_window_cannot_open_is_named(tell, tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("")
    assert "notes.txt" in one_line(tell(other)[2])


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    words=st.lists(
        st.sampled_from(["capacity", "lay", "figures", "--circle", "--rectangle", "--cell", "21700-energy", "--gap",
                         "--wall", "--series", "--parallel", "--out", "0", "-1", "1e309", "x", "×", "3x", "--json"])
        | st.text(max_size=4),
        max_size=7,
    )
)  # fmt: skip
def test_no_words_whatever_bring_a_traceback(capsys, no_screen, words):
    code = main(words)
    err = capsys.readouterr().err
    assert code in (0, 1, 2)
    assert "Traceback" not in err
    assert "the program failed" not in err


def test_a_fault_of_ours_leaves_a_log_and_no_traceback(tell, saved, tmp_path, monkeypatch):
    def fail(_):
        raise ZeroDivisionError("a slip")

    monkeypatch.setattr(cli_commands, "_layout", fail)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    code, _, err = tell("figures", saved)
    assert code == 2
    line = one_line(err)
    assert "ZeroDivisionError" in line
    log = Path(re.search(r"in (\S+\.log)", line)[1])
    assert "Traceback" in log.read_text()
    log.unlink()
    monkeypatch.setenv("BUSWEAVE_DEBUG", "1")
    shown = tell("figures", saved)[2]
    assert "Traceback" in shown
    Path(re.search(r"in (\S+\.log)", shown)[1]).unlink()


# -- as a process of its own ----------------------------------------------------------------------------------------


def busweave(*arguments, **options):
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "import sys; from layout_app.cli import main; sys.exit(main())", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        **options,
    )


def test_the_installed_command_tells_its_version_and_help():
    ran = busweave("--version")
    assert (ran.returncode, ran.stdout) == (0, f"busweave {__version__}\n")
    helped = busweave("--help")
    assert helped.returncode == 0
    assert "exit codes" in helped.stdout
    assert all(name in helped.stdout for name in ("demo", "lay", "capacity", "cells", "figures", "check", "export"))


def test_a_reader_that_stops_reading_is_no_trouble(saved):
    code = "import sys; from layout_app.cli import main; sys.exit(main())"
    read_end, write_end = os.pipe()
    os.close(read_end)
    ran = subprocess.run(
        [sys.executable, "-c", code, "figures", str(saved), "--explain"],
        stdout=write_end, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    os.close(write_end)
    assert (ran.returncode, ran.stderr) == (0, "")


def test_a_terminal_without_the_signs_we_print_shows_others_instead(saved):
    ran = busweave("figures", saved, "--explain", env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert ran.returncode == 0
    assert "Nominal voltage" in ran.stdout


def test_progress_keeps_quiet_where_nobody_watches(capsys):
    with Progress("Working") as progress:
        progress.now("Working harder")
    assert capsys.readouterr() == ("", "")
