"""Drawings of current paths: what lies on which layer, where, and as other readers see it."""

import csv
import io
import os
import shutil
import subprocess
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layout_app.cli import main
from layout_app.exchange import dxf_layers as layers
from layout_app.exchange.export import KINDS, export
from layout_app.exchange.paths_out import NECK_LAYER, STREAM_LAYER, path_files, paths_path
from layout_app.model.errors import LayoutError
from layout_app.model.saved_file import save
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded

from .builders import rover_layout

VERSIONS = ("R2010", "R12")
PER_JOINT = 6  # lines, as the drawing's notes say


@pytest.fixture(scope="module")
def plates():
    return Plates(banded(n_columns=6, n_rows=4, n_series=3))


@pytest.fixture(scope="module", params=VERSIONS)
def drawings(request, plates, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    files = {}
    for path, data in path_files(plates, version=request.param):
        files[path] = folder / path.replace("/", "_")
        files[path].write_bytes(data)
    return files


def rows(path):
    """Return (layer, shape, text) of everything in a drawing, as GDAL reads it."""
    tool = shutil.which("ogr2ogr")
    if tool is None:
        message = "ogr2ogr is missing: install Debian's gdal-bin, the independent reader of our drawings"
        pytest.fail(message) if os.environ.get("CI") else pytest.skip(message)
    command = [tool, "-f", "CSV", "/vsistdout/", str(path), "-lco", "GEOMETRY=AS_WKT", "-dim", "XY"]
    table = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    return [(row["Layer"], shapely.from_wkt(row["WKT"]), row["Text"]) for row in csv.DictReader(io.StringIO(table))]


def test_there_is_one_drawing_a_face(drawings):
    assert list(drawings) == [paths_path("top"), paths_path("bottom")]


def test_an_independent_reader_finds_every_line_in_the_metal_and_in_the_housing(drawings, plates):
    for face in ("top", "bottom"):
        found = rows(drawings[paths_path(face)])
        segments = [segment for segment in plates.segments if segment.face == face]
        metal = shapely.union_all([segment.metal() for segment in segments])
        lines = [shape for layer, shape, _ in found if layer == STREAM_LAYER]
        joints = sum(int(s.is_positive_end.sum()) or len(s.window_cells) for s in segments)
        assert len(lines) == pytest.approx(PER_JOINT * joints, abs=0.1 * joints)
        assert shapely.covers(metal.buffer(1e-4), lines).all()  # coordinates are written to a tenth of a micrometre
        necks = [shape for layer, shape, text in found if layer == NECK_LAYER and not text]
        assert len(necks) >= len(segments)
        assert shapely.covers(metal.buffer(0.05), necks).all()


def test_nothing_lies_on_a_layer_that_is_cut(drawings):
    for path in drawings.values():
        used = Counter(layer for layer, *_ in rows(path))
        assert not set(layers.CUT_LAYERS) & set(used)
        assert used[layers.HOUSING] == 1
        text = path.read_text(encoding="utf-8", errors="replace")
        assert not any(f"\n{name}\n" in text for name in layers.CUT_LAYERS)  # not even as an empty layer


def test_notes_say_that_it_is_for_reference_and_what_a_line_stands_for(drawings):
    texts = [text for _, _, text in rows(drawings[paths_path("top")]) if text]
    assert any("FOR REFERENCE, NOT TO BE CUT" in text for text in texts)
    assert any("lines, each for" in text and "A/mm" in text for text in texts)


def test_paths_are_exported_only_when_named(tmp_path, plates):
    layout = plates.layout
    export(layout, plates.segments, (), (), tmp_path / "all")
    assert not list((tmp_path / "all").rglob("*current_paths*"))
    heard = []
    files = export(layout, plates.segments, (), (), tmp_path / "paths", only=["paths"], progress=heard.append)
    assert [file.parent.name for file in files] == ["paths", "paths"]
    assert heard == sorted(heard)
    assert heard[-1] == 1.0
    assert len(heard) > len(files)  # also while the currents are being found
    assert KINDS["paths"].is_asked_for


def test_the_work_can_be_ended_while_the_currents_are_being_found(tmp_path, plates):
    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        export(plates.layout, plates.segments, (), (), tmp_path, only=["paths"], progress=stop)
    assert not list(tmp_path.rglob("*.dxf"))


def test_the_same_layout_gives_the_same_bytes(plates):
    assert dict(path_files(plates)) == dict(path_files(plates))


def test_a_module_without_metal_is_refused_with_a_reason():
    layout = rover_layout()
    nobody = layout.cells.regrouped(np.zeros(len(layout.cells), dtype=np.int64))
    with pytest.raises(LayoutError, match=r"Segment|Group|metal"):
        list(path_files(Plates(replace(layout, cells=nobody))))


def test_the_command_line_writes_them(tmp_path, plates, capsys):
    file = tmp_path / "module.busweave"
    save(plates.layout, file)
    assert main(["export", str(file), "--to", str(tmp_path), "--only", "paths"]) == 0
    assert "2 files" in capsys.readouterr().out
    assert len(list(tmp_path.rglob("*_current_paths.dxf"))) == 2
