"""Charts drawn: every mark where its number says, words as words, and nothing of the user's own settings."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.charting.charts import TITLES, chart_of
from layout_app.charting.labels import label_centres
from layout_app.charting.rendering import picture, png_file, svg, svg_file
from layout_app.charting.styles import PAPER
from layout_app.workings import Workings
from tests.window.modules import module

WIDTH_PX, HEIGHT_PX, DPI = 640, 560, 96.0


def shown(chart, style=PAPER, width_px=WIDTH_PX, height_px=HEIGHT_PX, dpi=DPI):
    """The picture, and its pixels as (height, width, 4)."""
    made = picture(chart, style, width_px, height_px, dpi)
    return made, np.frombuffer(made.rgba, np.uint8).reshape(made.height_px, made.width_px, 4)


@pytest.mark.parametrize("key", TITLES)
@pytest.mark.parametrize(("width_px", "height_px", "dpi"), [(420, 640, 96.0), (1900, 700, 192.0), (120, 90, 96.0)])
def test_a_picture_has_the_size_asked_for_and_every_spot_lies_in_it(charts, key, width_px, height_px, dpi):
    made, pixels = shown(charts[key], width_px=width_px, height_px=height_px, dpi=dpi)
    assert pixels.shape == (height_px, width_px, 4)
    if width_px > 200:  # in smaller ones there is no room for axes, yet they come out
        assert ((made.spots_px >= 0) & (made.spots_px <= [width_px, height_px])).all()
    assert len(made.words) == len(made.spots_px) == len(made.cells) == len(made.segments) > 0


@pytest.mark.parametrize("key", ["cell_currents", "opening_times"])
def test_at_every_spot_there_is_a_mark(charts, key):
    made, pixels = shown(charts[key])
    ground = np.array([255, 255, 255])
    for x, y in made.spots_px.round().astype(int).tolist():
        patch = pixels[max(y - 1, 0) : y + 2, max(x - 1, 0) : x + 2, :3].astype(int)
        assert np.abs(patch - ground).max() > 60


def test_each_cell_is_a_spot_in_both_panels(worked, charts):
    made, _ = shown(charts["cell_currents"])
    assert sorted(made.cells.tolist()) == sorted(2 * list(range(20)))
    first = int(made.cells[0])
    assert first == int(worked.currents.solved.cell_current_a.argmax())  # in the order of reading: the largest first
    assert made.words[0].startswith(f"Cell {first + 1}, group {worked.layout.cells.groups[first]}: ")


def test_higher_currents_lie_higher(worked, charts):
    made, _ = shown(charts["cell_currents"])
    current_a = worked.currents.solved.cell_current_a
    y = dict(zip(made.cells[:20].tolist(), made.spots_px[:20, 1].tolist(), strict=True))
    order = np.argsort(current_a)
    assert (np.diff([y[k] for k in order.tolist()]) <= 1e-9).all()


@pytest.mark.parametrize("key", TITLES)
def test_the_page_gets_drawings_that_keep_to_themselves(charts, key):
    drawn = svg(charts[key])
    root = ElementTree.fromstring(drawn)
    assert root.get("aria-label") == TITLES[key]
    assert "<style" not in drawn
    assert "<!--" not in drawn
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', drawn))
    ids = re.findall(r' id="([^"]+)"', drawn)
    assert len(ids) == len(set(ids))
    assert set(ids) == used
    assert all(name.startswith(TITLES[key].lower().replace(" ", "_")) for name in ids)  # no other chart has them
    assert len(root.findall(".//{*}text")) > 5  # words stay words
    assert svg(charts[key]) == drawn  # the same bytes every time


def test_words_in_a_drawing_are_not_rounded_with_its_coordinates(charts):
    texts = " ".join(element.text or "" for element in ElementTree.fromstring(svg(charts["loss_budget"])).iter())
    budget = charts["loss_budget"]
    for watts in budget.part_w.tolist():
        assert f"{100 * watts / budget.power_w:.2g} %" in texts


def test_the_chart_of_a_fuse_says_that_bench_tests_decide(charts):
    assert "bench tests decide" in svg(charts["opening_times"])


def test_settings_of_the_users_own_change_nothing(charts):
    import matplotlib as mpl

    before = svg(charts["loss_budget"])
    with mpl.rc_context({"font.size": 30, "svg.fonttype": "path", "axes.edgecolor": "red"}):
        assert svg(charts["loss_budget"]) == before


def test_many_cells_become_ranges_in_a_file(charts):
    few_marks = replace(PAPER, most_marks=10)
    whole, brief = svg(charts["cell_currents"]), svg(charts["cell_currents"], few_marks)
    assert "least to most" in brief
    assert len(brief) < len(whole)


def test_files_are_what_their_names_say(charts):
    drawn = svg_file(charts["voltage_drop"], "Voltage drop: canal tender")
    assert drawn.startswith(b"<?xml")
    assert "Voltage drop: canal tender" in [element.text for element in ElementTree.fromstring(drawn).iter()]
    assert png_file(charts["voltage_drop"], "Voltage drop").startswith(b"\x89PNG\r\n\x1a\n")


@pytest.mark.parametrize("name", ["a $x_1^{2$ module", "<b>&amp;</b>", "\u679c\u6811\u56ed", "\\frac{1}{2}", "$$"])
def test_names_are_shown_as_they_are(charts, name):
    drawn = svg_file(charts["loss_budget"], name)
    assert name in [element.text for element in ElementTree.fromstring(drawn).iter()]
    assert png_file(charts["loss_budget"], name)


@pytest.mark.parametrize(("n_series", "n_parallel"), [(1, 1), (1, 3), (4, 1), (45, 2)])
@pytest.mark.parametrize("current_a", [0.0, 5.0])
def test_every_chart_of_the_smallest_and_longest_modules_can_be_drawn(n_series, n_parallel, current_a):
    layout = replace(module(n_series, n_parallel, 2), design_current_a=current_a, peak_current_a=2 * current_a)
    worked = Workings(layout)
    for key in TITLES:
        chart = chart_of(key, layout, worked.segments, worked.currents, worked.joint_faults)
        assert "nan" not in chart.summary
        made, _ = shown(chart)
        assert np.isfinite(made.spots_px).all()
        assert chart.least_height_em(chart.least_width_em) >= chart.least_height_em(200.0) > 0


def test_limits_are_drawn_where_something_comes_near(worked, charts):
    chart = charts["cell_currents"]
    assert "lies above" in svg(chart)  # 4 A a cell, rated for more
    near = replace_rating(chart, 1.02 * chart.current_a.max())
    assert "lies above" not in svg(near)


def replace_rating(chart, rating_a):
    return type(chart)(
        module_a=chart.module_a, cells=chart.cells, groups=chart.groups, current_a=chart.current_a, limit=chart.limit,
        rating_a=float(rating_a),
    )  # fmt: skip


# -- labels -----------------------------------------------------------------------------------------------------

BOX = np.array([0.0, 0.0, 400.0, 300.0])
SIZE, MARK = (14.0, 11.0), 8.0


def overlap(one, other, half, other_half):
    return bool((np.abs(one - other) < half + other_half - 1e-9).all())


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 5)), min_size=1, max_size=14, unique=True))
@settings(deadline=None, max_examples=80)
def test_labels_of_points_that_stand_apart_cover_nothing(cells):
    points = np.array(cells, dtype=float) * [50.0, 50.0] + [25.0, 25.0]
    half = np.array(SIZE) / 2
    centres = label_centres(points, SIZE, MARK, BOX)
    for k, centre in enumerate(centres):
        assert (centre - half >= BOX[:2]).all()
        assert (centre + half <= BOX[2:]).all()
        assert not any(overlap(centre, point, half, MARK / 2) for point in points)
        assert not any(overlap(centre, other, half, half) for other in centres[:k])


def test_labels_of_points_on_one_another_find_places_of_their_own():
    points = np.array([[200.0, 150.0], [203.0, 150.0], [200.0, 152.0], [240.0, 150.0]])
    half = np.array(SIZE) / 2
    centres = label_centres(points, SIZE, MARK, BOX)
    pairs = [(one, other) for k, one in enumerate(centres) for other in centres[:k]]
    assert not any(overlap(one, other, half, half) for one, other in pairs)
    assert not any(overlap(centre, point, half, MARK / 2) for centre in centres for point in points)


def test_no_points_need_no_labels():
    assert label_centres(np.empty((0, 2)), SIZE, MARK, BOX).shape == (0, 2)
