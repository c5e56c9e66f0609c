"""Our colour maps: even steps, one way in lightness, legible with every kind of sight, and marks that stand apart."""

import importlib.util
import itertools
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtGui import QColor

from layout_app.model.resources import resource
from layout_app.window.maps.colour_maps import ABOVE, BELOW, UNKNOWN, Range, colour_map

from .test_colours import SIGHTS, linear

MAPS = ("sequential", "diverging")
# sRGB to XYZ, D65. Source: IEC 61966-2-1:1999, four digits as printed there (from memory)
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def lab(code, sight="normal"):
    """CIE 1976 L*a*b* of a colour. Source: CIE 15:2004, 8.2.1; its constants 903.3 and 0.008856 (from memory)."""
    seen = np.clip(np.array(SIGHTS[sight]) @ linear(code), 0, 1)
    ratio = TO_XYZ @ seen / TO_XYZ.sum(axis=1)
    f = np.where(ratio > 0.008856, np.cbrt(ratio), (903.3 * ratio + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one, other):
    """Colour difference. Source: CIE 142-2001, with unit weights (from memory; checked against a published pair)."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7))) / 2
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    turn = (h2 - h1 + 180) % 360 - 180 if c1 * c2 else 0.0
    middle = (h1 + turn / 2) % 360 if c1 * c2 else h1 + h2
    dl, dc, dh = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    ml, mc = (l1 + l2) / 2, (c1 + c2) / 2
    cosine = [np.cos(np.radians(k * middle - shift)) for k, shift in ((1, 30), (2, 0), (3, -6), (4, 63))]
    t = 1 - 0.17 * cosine[0] + 0.24 * cosine[1] + 0.32 * cosine[2] - 0.20 * cosine[3]
    sl = 1 + 0.015 * (ml - 50) ** 2 / np.sqrt(20 + (ml - 50) ** 2)
    sc, sh = 1 + 0.045 * mc, 1 + 0.015 * mc * t
    around = np.radians(30 * np.exp(-(((middle - 275) / 25) ** 2)))
    rt = -2 * np.sqrt(mc**7 / (mc**7 + 25.0**7)) * np.sin(2 * around)
    return np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * dc / sc * dh / sh)


def stretches(name):
    """The monotone stretches of a map: the whole of it, or its two arms from the middle outwards."""
    codes = colour_map(name).codes
    middle = len(codes) // 2
    return [codes] if name == "sequential" else [codes[middle::-1], codes[middle:]]


def test_the_formulas_are_those_of_the_standard():
    # source: CIE 1976: white is 100, 0, 0; sRGB red is 53.24, 80.09, 67.20 (commonly published)
    assert lab("#ffffff") == pytest.approx([100, 0, 0], abs=0.02)
    assert lab("#ff0000") == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    # source: Sharma, Wu, Dalal 2005, table 1, first pair: 2.0425 (from memory)
    assert ciede2000((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485)) == pytest.approx(2.0425, abs=1e-4)


@pytest.mark.parametrize("name", MAPS)
def test_steps_are_even(name):
    for codes in stretches(name):
        seen = [lab(code) for code in codes[::15]]  # so far apart that eight bits leave little of their rounding
        steps = np.array([np.linalg.norm(b - a) for a, b in itertools.pairwise(seen)])
        assert steps.max() / steps.min() < 1.16
        later = np.array([ciede2000(a, b) for a, b in itertools.pairwise(seen)])
        assert later.max() / later.min() < 2.6  # another formula of difference, not what the maps were made for


@pytest.mark.parametrize("name", MAPS)
@pytest.mark.parametrize("sight", SIGHTS)
def test_lightness_tells_the_order_with_every_kind_of_sight(name, sight):
    for codes in stretches(name):
        lightness = np.array([lab(code, sight)[0] for code in codes[::5]])
        steps = np.diff(lightness)
        assert (np.sign(steps) == np.sign(steps[0])).all()
        assert abs(lightness[-1] - lightness[0]) > 50


@pytest.mark.parametrize("sight", SIGHTS)
def test_both_sides_of_the_middle_are_told_apart_and_equally_dark(sight):
    codes = colour_map("diverging").codes
    assert len(codes) % 2 == 1
    middle = lab(codes[len(codes) // 2])
    assert np.hypot(*middle[1:]) < 1  # grey
    for k in (20, 60, 100):
        assert np.linalg.norm(lab(codes[127 - k], sight) - lab(codes[127 + k], sight)) > 0.5 * k
    assert lab(codes[0])[0] == pytest.approx(lab(codes[-1])[0], abs=1)


@pytest.mark.parametrize("sight", SIGHTS)
def test_marks_of_values_outside_stand_apart(sight):
    shown = colour_map("sequential")
    marks = [lab(code, sight) for code in (shown.below, shown.above)]
    colours = [lab(code, sight) for name in MAPS for code in colour_map(name).codes]
    for mark in marks:
        assert min(np.linalg.norm(mark - colour) for colour in colours) > 20  # ten just visible differences, or so
    assert np.linalg.norm(marks[0] - marks[1]) > 20


def test_the_files_are_those_the_script_beside_them_derives():
    spec = importlib.util.spec_from_file_location("derive_colour_maps", resource("colour_maps/derive.py"))
    derive = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(derive)
    for name, make in derive.MAPS.items():
        told = json.loads(resource(f"colour_maps/{name}.json").read_text(encoding="utf-8"))
        assert told["steps"] == make()


@settings(deadline=None)
@given(low=st.floats(-1e3, 1e3), width=st.floats(1e-3, 1e3), share=st.floats(-2, 3))
def test_a_value_has_the_colour_of_its_place_in_the_range(low, width, share):
    shown, span = colour_map("sequential"), Range(low, low + width)
    (level,) = shown.levels(np.array([low + share * width]), span).tolist()
    if share < -1e-4:
        assert level == BELOW
    elif share > 1 + 1e-4:
        assert level == ABOVE
    elif 0 <= share <= 1:
        assert level == pytest.approx(share * shown.n_levels, abs=1.01) or level in (BELOW, ABOVE)


def test_a_range_next_to_nothing_sends_all_else_outside():
    levels = colour_map("sequential").levels(np.array([-1.0, 0.0, 5.0, np.nan]), Range(0.0, 1e-310))
    assert levels.tolist() == [BELOW, 0, ABOVE, UNKNOWN]


def test_pixels_carry_the_colours_and_leave_what_is_not_known_clear():
    shown = colour_map("diverging")
    values = np.array([0.0, 1.0, 2.0, -1.0, 3.0, np.nan])
    pixels = shown.pixels(values, Range(0.0, 2.0)).tolist()
    wanted = [shown.codes[0], shown.codes[127], shown.codes[-1], shown.below, shown.above]
    assert [QColor(pixel & 0xFFFFFF).name() for pixel in pixels[:5]] == wanted
    assert pixels[5] == 0
    assert shown.levels(values, Range(0.0, 2.0))[5] == UNKNOWN
