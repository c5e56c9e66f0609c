"""The registry: what runs, in which order, and what belongs to the module as a whole."""

import inspect
from dataclasses import replace

import numpy as np
import pytest

from layout_app.checks import (
    bonds,
    cells,
    corners,
    currents,
    faces,
    groups,
    metal,
    necks,
    rules,
    terminals,
    voltage,
    windows,
)
from layout_app.checks.findings import Finding, gravest_first, named


@pytest.fixture
def module(bench):
    """Two groups of one cell each and three hand-made segments that join them soundly."""
    layout = bench.lay([(0, 0), (22, 0)], [1, 2], n_series=2, n_parallel=1)
    left, right = bench.rectangle(-11, -11, 21, 22), bench.rectangle(12, -11, 21, 22)
    negative = bench.metal([left], [(0, 0, 5)], number=0, face="bottom", positive=False, bolt_hole_mm=(-8, 8, 0.5))
    link = bench.metal([bench.rectangle(-11, -11, 44, 22)], [(0, 0, 5), (22, 0, 5)], number=1, positive=[True, False])
    positive = bench.metal([right], [(22, 0, 5)], number=2, face="bottom", cells=[1], bolt_hole_mm=(30, 8, 0.5))
    return layout, (negative, link, positive)


def test_every_rule_of_every_module_is_registered_once():
    written = [
        function
        for subject in (bonds, cells, corners, currents, faces, groups, metal, necks, terminals, voltage, windows)
        for name, function in vars(subject).items()
        if inspect.isgeneratorfunction(function)
        and not name.startswith("_")
        and function.__module__ == subject.__name__
        and function not in (currents.no_currents, bonds.no_joint_faults)  # said in place of all that need these
    ]
    assert sorted(f.__qualname__ for f in rules.RULES) == sorted(f.__qualname__ for f in written)
    assert all(rule.__doc__ for rule in rules.RULES)


def test_a_sound_module_has_no_errors(module):
    found = rules.find(*module)
    assert [finding for finding in found if finding.severity == "error"] == []


def test_findings_of_all_kinds_arrive_errors_first(module):
    layout, (negative, link, positive) = module
    crossed = replace(positive, pieces=negative.pieces)
    broken = replace(layout, n_parallel=2, design_current_a=5.0, peak_current_a=40.0)
    found = rules.find(broken, (negative, link, crossed))
    kinds = {finding.rule for finding in found}
    assert {"uneven group", "peak current", "insulation gap", "web", "terminal"} <= kinds
    severities = [("error", "warning", "note").index(finding.severity) for finding in found]
    assert severities == sorted(severities)


def test_parts_asked_one_by_one_say_what_all_together_say(module):
    layout, segments = module
    whole = set(rules.find(layout, segments))
    parts = set(rules.layout_findings(layout)) | set(rules.module_findings(layout, segments))
    parts |= {finding for segment in segments for finding in rules.segment_findings(segment, layout)}
    parts |= set(rules.pair_findings(segments[0], segments[2], layout))
    assert parts == whole


def test_only_segments_of_one_face_within_reach_are_paired(bench):
    def at(x, face):
        return bench.metal([bench.rectangle(x, 0, 10, 10)], face=face)

    segments = [at(0, "top"), at(11, "top"), at(13, "bottom"), at(40, "top"), bench.metal([])]
    assert rules.facing_pairs(segments, 1.5) == [(0, 1)]
    assert rules.facing_pairs(segments, 0.5) == []


def test_a_cell_under_one_segment_only_is_not_joined(bench, module):
    layout, (negative, link, _) = module
    finding = next(f for f in rules.find(layout, (negative, link, bench.metal([], number=2))) if f.rule == "joint")
    assert finding.cells == (1,)
    assert finding.severity == "error"
    assert not list(faces.joints(*module))


def test_cells_contacted_at_one_end_get_one_plain_error_about_it(bench):
    layout = bench.lay([(0, 0), (22, 0)], [1, 2], n_series=2, cell_type=replace(bench.cell_type, contacts="one end"))
    segments = tuple(bench.metal([], number=k) for k in range(3))
    errors = [finding for finding in rules.find(layout, segments) if finding.severity == "error"]
    (finding,) = errors
    assert finding.rule == "contacts"
    assert finding.segments == (0, 1, 2)


def test_findings_can_be_written_as_json(module):
    import json

    layout, segments = module
    found = rules.find(replace(layout, n_parallel=3, n_series=30), segments)
    text = json.dumps([finding.as_json() for finding in found], allow_nan=False)
    assert {"rule", "severity", "message", "measured", "limit", "unit", "places_mm", "cells", "segments"} <= set(
        json.loads(text)[0]
    )


def test_findings_without_cells_and_layouts_without_cells_are_no_trouble(bench):
    layout = bench.lay(np.empty((0, 2)))
    found = rules.find(layout, tuple(bench.metal([], number=k) for k in range(2)))
    assert {"missing group", "segment missing"} <= {finding.rule for finding in found}


def test_cells_are_named_as_people_count_them():
    assert named([0]) == "cell 1"
    assert named([0, 1]) == "cells 1 and 2"
    assert named(list(range(10))) == "cells 1, 2, 3, 4 and 6 more"


def test_order_within_a_severity_is_kept():
    one, two, three = (
        Finding(rule=r, severity=s, message="") for r, s in (("a", "note"), ("b", "error"), ("c", "note"))
    )
    assert gravest_first([one, two, three]) == (two, one, three)
