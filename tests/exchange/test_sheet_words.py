"""Drawings and report say which segments are of another sheet."""

from layout_app.edits import OverrideSegment
from layout_app.exchange.sheet_words import setback_words, sheet_words
from layout_app.model.catalogues import material


def test_segments_of_another_sheet_are_named_where_they_are_shown(rows):
    copper = f"{rows.plates.material.name}, 0.5 mm"
    assert sheet_words(rows) == copper
    aluminium = material("aluminium-1050")
    other = OverrideSegment(3, {"material": aluminium, "thickness_mm": 1.0}).apply(rows)
    assert sheet_words(other) == f"{copper}; segment 3: {aluminium.name}, 1 mm"
    assert sheet_words(other, [0, 2, 4]) == copper
    assert setback_words(other) == ""


def test_setbacks_and_radii_of_their_own_are_said(rows):
    other = OverrideSegment(2, {"setback_mm": 3.0, "corner_radius_mm": 2.0}).apply(rows)
    assert setback_words(other) == "; segment 2: 3 mm to wall and keep-outs, corners of 2 mm radius"
