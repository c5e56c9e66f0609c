"""The report, read as a browser would."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser

from layout_app.charting.charts import TITLES
from layout_app.checks.findings import Finding
from layout_app.exchange.report import report
from layout_app.exchange.stamps import Stamp
from layout_app.physics.figures import Figure
from layout_app.workings import Workings

from .builders import rover_layout, rover_segments

ENERGY = Figure(
    key="energy_wh", label="Energy", value=207.36, unit="Wh", formula="cells × capacity × nominal voltage",
    inputs=(("cells", "12"), ("capacity", "4.8 Ah")), source="definition",
)  # fmt: skip
NARROW = Finding(
    rule="insulation gap", severity="error", message="Segments 1 and 3 come within 0.8 mm.", measured=0.8, limit=1.5,
    unit="mm", places_mm=((1250.0, -396.0),), segments=(1, 3), source="chosen by the user",
)  # fmt: skip
VOID = {"meta", "br", "hr", "img", "link"}


class Page(HTMLParser):
    """Collects text and tags, and checks that what is opened is closed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text, self.tags, self.attributes, self._open = "", [], [], []
        self.feed(html)
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        self.text += data + "\n"


def page(layout=None, figures=(ENERGY,), findings=(NARROW,)) -> Page:
    layout = layout or rover_layout()
    return Page(report(layout, rover_segments(layout), figures, findings))


def test_the_brief_tells_borders_the_pitch_along_compressed_rows_and_where_group_1_lies():
    layout = rover_layout()
    lattice = layout.lattice
    told = page(layout).text
    assert "zigzag: between segments around every cell" in told
    assert "along its rows" not in told
    assert "group 1 at the bottom, its positive ends up" in told  # group g is row g, from below
    narrow = type(lattice).compressed(lattice.pitch_mm, 1.1 * lattice.pitch_mm)
    assert f"along its rows {1.1 * lattice.pitch_mm:.2f} mm" in page(replace(layout, lattice=narrow)).text
    smooth = replace(layout, plates=replace(layout.plates, borders="straight"))
    assert "smoothed where there is room" in page(smooth).text


def test_date_and_revision_are_told_when_given():
    layout = rover_layout()
    made = report(layout, rover_segments(layout), (), (), stamp=Stamp(date="2031-05-04", revision="C"))
    assert "revision C, 2031-05-04" in Page(made).text
    assert "revision" not in page(layout).text


def test_the_caution_comes_before_anything_else():
    text = page().text.split("</style>")[-1]
    assert text.index("not certified") < text.index("Brief")


def test_a_figure_tells_its_formula_inputs_and_source():
    text = page().text
    for words in ("Energy", "207.4 Wh", "cells × capacity × nominal voltage", "cells: 12, capacity: 4.8 Ah"):
        assert words in text


def test_a_finding_tells_what_where_and_the_limit():
    text = page().text
    for words in ("1 error", "Segments 1 and 3 come within 0.8 mm.", "(1250.0, -396.0) mm", "1.5 mm", "by the user"):
        assert words in text
    assert "nothing to say" in page(findings=()).text


def test_both_faces_are_pictured_the_bottom_one_from_below():
    made = page()
    assert made.tags.count("svg") == 2
    assert "Top face, seen from above" in made.text
    assert "Bottom face, seen from below" in made.text


def test_the_page_leans_on_no_other_file_and_runs_nothing():
    made = page()
    assert not {"script", "link", "img", "iframe", "object"} & set(made.tags)
    assert not [name for name, _ in made.attributes if name in ("src", "href") or name.startswith("on")]


def test_user_text_is_shown_and_never_obeyed():
    hostile = "<script>alert('x')</script> & \"co\""
    layout = replace(rover_layout(name=hostile), notes=hostile)
    finding = replace(NARROW, message=hostile, source=hostile)
    figure = replace(ENERGY, label=hostile, formula=hostile, inputs=((hostile, hostile),), source=hostile)
    made = page(layout, (figure,), (finding,))
    assert "script" not in made.tags
    assert made.text.count("<script>alert('x')</script> & \"co\"") >= 7


def test_segments_steps_and_assumptions_are_there():
    text = page().text
    for words in ("group 1 positive to group 2 negative", "Series order", "typical; replace by your data sheet"):
        assert words in text
    assert "touch voltage 60 V" in text


def page_with_charts() -> Page:
    worked = Workings(rover_layout())
    return Page(
        report(
            worked.layout, worked.segments, worked.figures, worked.findings, worked.necks, worked.currents,
            worked.joint_faults,
        )
    )  # fmt: skip


def test_where_currents_are_known_every_chart_is_there_and_says_what_it_shows():
    made = page_with_charts()
    assert made.tags.count("svg") == 2 + len(TITLES)
    assert [value for name, value in made.attributes if name == "aria-label"] == list(TITLES.values())
    for title in TITLES.values():
        assert f"{title}." in made.text
    assert "bench tests decide" in made.text
    assert "times its group's mean" in made.text


def test_charts_do_not_meddle_with_one_another_or_with_the_page():
    made = page_with_charts()
    names = [value for name, value in made.attributes if name == "id"]
    assert len(names) == len(set(names))
    assert made.tags.count("style") == 1


def test_without_currents_there_is_no_chart():
    assert "in charts" not in page().text
