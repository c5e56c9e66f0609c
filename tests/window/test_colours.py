"""Group tints: told apart by everyone, and different on groups that touch."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtGui import QColor, QPalette

from layout_app.window import appearance
from layout_app.window.colours import (
    CONTRAST_DARK,
    CONTRAST_LIGHT,
    DARK,
    LIGHT,
    NO_GROUP,
    TINTS,
    contrast,
    group_tints,
    ink_on,
    theme_of,
)  # fmt: skip

# Simulation matrices for linear RGB, full severity: Machado, Oliveira and Fernandes 2009 (from memory).
SIGHTS = {
    "normal": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
LEAST_DISTANCE = 0.1  # in OKLab; 0.02 is about the least difference seen side by side (common practice, no source)


def oklab(linear_rgb):
    """OKLab of linear sRGB (Ottosson 2020, from memory)."""
    to_cones = [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
    to_lab = [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
    return np.cbrt(np.clip(np.array(to_cones) @ linear_rgb, 0, None)) @ np.array(to_lab).T


def linear(code):
    channels = np.array([int(code[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def test_tints_are_told_apart_with_every_kind_of_sight():
    for sight, matrix in SIGHTS.items():
        seen = {tint: oklab(np.clip(np.array(matrix) @ linear(tint), 0, 1)) for tint in TINTS}
        for a, b in itertools.combinations(TINTS, 2):
            assert np.linalg.norm(seen[a] - seen[b]) > LEAST_DISTANCE, (sight, a, b)


def grid_pairs(n_columns, n_rows):
    """Neighbours in a square grid of cells."""
    index = np.arange(n_columns * n_rows).reshape(n_rows, n_columns)
    across = np.column_stack([index[:, :-1].ravel(), index[:, 1:].ravel()])
    along = np.column_stack([index[:-1].ravel(), index[1:].ravel()])
    return np.vstack([across, along])


@given(groups=st.lists(st.integers(0, 12), min_size=36, max_size=36))
@settings(deadline=None, max_examples=50)
def test_bands_that_touch_differ_however_they_are_numbered(groups):
    bands = np.repeat(np.array(groups[:6]), 6)  # six rows, each of one group: no group touches more than four others
    tints = group_tints(bands, grid_pairs(6, 6))
    for a, b in itertools.pairwise(groups[:6]):
        assert a == b or tints[a] != tints[b]


def test_painting_a_cell_recolours_no_other_group():
    groups = np.repeat(np.arange(1, 7), 6)
    first = group_tints(groups, grid_pairs(6, 6))
    groups[13] = 2
    assert group_tints(groups, grid_pairs(6, 6), first) == first


def test_cells_in_no_group_wear_no_tint():
    assert group_tints(np.zeros(4, dtype=np.int64), grid_pairs(2, 2)) == {0: NO_GROUP}


@pytest.mark.parametrize(
    ("choice", "theme"),
    [("light", LIGHT), ("dark", DARK), ("contrast", CONTRAST_DARK)],
    ids=["light", "dark", "contrast"],
)
def test_a_palette_leads_to_its_theme(choice, theme):
    assert theme_of(appearance.palette(choice)) is theme


def test_a_desktop_of_black_on_white_gets_the_light_theme_of_high_contrast():
    assert theme_of(QPalette(QColor("#ffffff"), QColor("#ffffff"))) is CONTRAST_LIGHT


def test_contrast_is_that_of_the_published_examples():
    # source: WCAG 2.1: black on white is 21:1; #777777 on white is 4.48:1 (commonly quoted as just failing 4.5)
    assert contrast(QColor("#000000"), QColor("#ffffff")) == pytest.approx(21.0)
    assert contrast(QColor("#777777"), QColor("#ffffff")) == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", [CONTRAST_DARK, CONTRAST_LIGHT], ids=["dark", "light"])
def test_everything_written_in_high_contrast_reads_at_seven_to_one(theme):
    for name in ("ink", "wall", "accent", "error", "warning", "note"):  # source: WCAG 2.1, 1.4.6, level AAA
        assert contrast(theme.colour(name), theme.colour("page")) >= 7.0, name


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_texts_of_every_appearance_read_at_four_and_a_half_to_one(choice):
    palette, role = appearance.palette(choice), QPalette.ColorRole
    pairs = [
        (role.WindowText, role.Window), (role.Text, role.Base), (role.ButtonText, role.Button),
        (role.HighlightedText, role.Highlight), (role.Link, role.Base), (role.PlaceholderText, role.Base),
    ]  # fmt: skip
    for ink, ground in pairs:  # source: WCAG 2.1, 1.4.3, level AA
        assert contrast(palette.color(ink), palette.color(ground)) >= 4.5, ink


def test_the_choice_is_kept_and_changes_every_window(workbench, qtbot):
    before = workbench.canvas.theme
    try:
        appearance.choose("contrast")
        qtbot.waitUntil(lambda: workbench.canvas.theme is CONTRAST_DARK, timeout=3000)
        assert appearance.chosen() == "contrast"
    finally:
        appearance.choose("follow")
    qtbot.waitUntil(lambda: workbench.canvas.theme is before, timeout=3000)


@pytest.mark.parametrize("theme", [LIGHT, DARK, CONTRAST_LIGHT, CONTRAST_DARK])
def test_signs_and_numbers_read_on_every_tint(theme):
    for tint in (NO_GROUP, *range(len(TINTS))):
        ground = theme.tint(tint)
        assert contrast(ink_on(ground), ground) >= 4.5, tint  # source: WCAG 2.1, 1.4.3, level AA
