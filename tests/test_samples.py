"""The finished samples: every one opens and is a module a colleague could build."""

import pytest

from layout_app.model import saved_file
from layout_app.model.resources import sample_layouts
from layout_app.workings import Workings

SAMPLES = sample_layouts()


def test_the_four_samples_are_there():
    assert {"orchard_rover", "canal_tender", "harbour_buoy", "ferry_rack"} <= {path.stem for path in SAMPLES.values()}


@pytest.mark.parametrize("path", SAMPLES.values(), ids=lambda path: path.stem)
def test_a_sample_has_even_groups_whole_segments_and_no_error(path):
    layout = saved_file.load(path)
    workings = Workings(layout)
    assert set(layout.group_sizes.tolist()) == {layout.n_parallel}
    assert all(len(segment.pieces) == 1 for segment in workings.segments)
    assert [finding.message for finding in workings.findings if finding.severity == "error"] == []
    assert saved_file.dumps(layout) == path.read_text(encoding="utf-8")


def test_the_ferry_rack_is_sixteen_of_the_modules_of_the_brief():
    path = next(path for path in SAMPLES.values() if path.stem == "ferry_rack")
    layout = saved_file.load(path)
    # common practice, no source: sixteen modules of 6 × 86 in series, over 8 000 cells and 16 000 connections
    assert (layout.n_series, layout.n_parallel, len(layout.cells)) == (16 * 6, 86, 8256)
    assert sum(len(segment.window_cells) for segment in Workings(layout).segments) == 2 * 8256
