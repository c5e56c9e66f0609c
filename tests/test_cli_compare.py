"""`busweave compare`: the differences for people and for programs, and how it ends."""

import json

import pytest

from layout_app.cli import main
from layout_app.edits import ChangePlates, EraseCells, LockCells, PaintCells
from layout_app.model.saved_file import save


@pytest.fixture(autouse=True)
def own_folders(tmp_path_factory, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))


@pytest.fixture
def tell(capsys):
    def run(*arguments):
        code = main(["compare", *map(str, arguments)])
        return code, *capsys.readouterr()

    return run


@pytest.fixture
def changed(rows, tmp_path):
    """The same module with a cell painted, one erased, and a wider insulation gap."""
    layout = ChangePlates({"gap_mm": 2.0}).apply(EraseCells((19,)).apply(PaintCells((0,), 2).apply(rows)))
    path = tmp_path / "changed.busweave"
    save(layout, path)
    return path


def test_the_same_file_twice_is_the_same(tell, saved):
    assert tell(saved, saved) == (0, "The two layouts are the same.\n", "")
    told = json.loads(tell(saved, saved, "--json")[1])
    assert told["same"]
    assert not any(told[part] for part in ("figures", "settings", "segments"))


def test_differences_are_told_in_words(tell, saved, changed):
    code, out, err = tell(saved, changed)
    assert (code, err) == (0, "")  # differences are no failure
    for words in (
        "Cells: 1 removed, 1 regrouped",
        "cell 1 (0.00, 0.00) from group 1 to 2",
        "20 → 19",
        "plates.gap_mm: 1.5 → 2",
        "new: error: uneven group",
    ):
        assert words in out


def test_json_carries_units_and_cells_by_number(tell, saved, changed):
    code, out, _ = tell(saved, changed, "--json")
    told = json.loads(out)
    assert code == 0
    assert not told["same"]
    assert told["figures"]["cells"] == {"a": 20, "b": 19, "difference": -1}
    assert told["figures"]["energy_wh"]["difference"] < 0
    assert told["cells"]["regrouped"] == [{"cell_a": 1, "cell_b": 1, "group_a": 1, "group_b": 2}]
    assert [cell["cell"] for cell in told["cells"]["removed"]] == [20]
    assert told["cells"]["removed"][0].keys() == {"cell", "place_mm", "group"}
    assert told["settings"]["plates.gap_mm"] == {"a": 1.5, "b": 2.0}
    assert {"rule", "severity", "message"} <= told["findings"]["new"][0].keys()
    assert {"face", "area_mm2", "mass_g"} <= told["segments"][0]["a"].keys()


@pytest.mark.parametrize("name", ["missing.busweave", "torn.busweave", "tray.dxf"])
def test_what_cannot_be_compared_ends_with_2_and_one_line(tell, saved, tmp_path, name):
    (tmp_path / "torn.busweave").write_text("{", encoding="utf-8")
    code, out, err = tell(saved, tmp_path / name)
    assert (code, out) == (2, "")
    (line,) = err.splitlines()
    assert name in line


def test_a_missing_second_file_is_asked_for(tell, saved):
    code, _, err = tell(saved)
    assert code == 2
    assert len(err.splitlines()) == 1


def test_locks_are_told_in_words_and_by_number(tell, saved, rows, tmp_path):
    path = tmp_path / "locked.busweave"
    save(LockCells((0, 1)).apply(rows), path)
    assert "Cells: 2 locked\n  cell 1 (0.00, 0.00) locked\n" in tell(saved, path)[1]
    assert "Cells: 2 unlocked\n" in tell(path, saved)[1]
    told = json.loads(tell(saved, path, "--json")[1])
    assert told["cells"]["locked"] == [{"cell_a": 1, "cell_b": 1}, {"cell_a": 2, "cell_b": 2}]
    assert told["cells"]["unlocked"] == []
    assert not told["same"]
