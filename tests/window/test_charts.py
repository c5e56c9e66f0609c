"""The panel of charts: it follows edits while it can be seen, tells and chooses what is pointed at, and saves."""

import csv
import subprocess
import sys

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QAccessible, QColor, QImage
from PySide6.QtWidgets import QFileDialog

from layout_app.charting.charts import TITLES
from layout_app.charting.styles import FILLS, PAPER
from layout_app.edits import PaintCells
from layout_app.window import appearance
from layout_app.window.chart_style import LEAST_CONTRAST, style_of
from layout_app.window.charts import CHOICES
from layout_app.window.colours import TINTS, contrast

WAIT_MS = 15_000


@pytest.fixture
def panel(workbench, qtbot):
    """The panel, shown, with its first chart drawn."""
    workbench.window.show()
    workbench.actions["charts"].trigger()
    panel = workbench.docks["charts"].widget()
    qtbot.waitUntil(lambda: is_up_to_date(workbench, panel), timeout=WAIT_MS)
    return panel


def is_up_to_date(bench, panel):
    drawn = panel.drawn
    if drawn is None or drawn.layout is not bench.document.current or drawn.key != panel.key:
        return False
    size = panel.picture.size() * panel.picture.devicePixelRatioF()
    return (drawn.picture.width_px, drawn.picture.height_px) == (size.width(), size.height())


def show(qtbot, bench, panel, key):
    panel.choice.setCurrentIndex(panel.choice.findData(key))
    qtbot.waitUntil(lambda: is_up_to_date(bench, panel), timeout=WAIT_MS)


def test_hidden_charts_are_not_drawn_and_load_no_plotting_library():
    code = (
        "import os, sys; os.environ['QT_QPA_PLATFORM'] = 'offscreen'; from PySide6.QtWidgets import QApplication; "
        "app = QApplication([]); from layout_app.window.charts import ChartsPanel; "
        "from layout_app.window.document import Document; from layout_app.model.resources import sample_layouts; "
        "from layout_app.model.saved_file import load; "
        "document = Document(load(sample_layouts()['harbour_buoy'])); panel = ChartsPanel(document); document.start(); "
        "[app.processEvents() for _ in iter(lambda: document.currents is None, False)]; app.processEvents(); "
        "loaded = 'matplotlib' in sys.modules; panel.close_work(); document.close(); sys.exit(loaded)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60).returncode == 0


def test_every_chart_can_be_chosen_and_says_in_its_name_what_it_shows(workbench, panel, qtbot):
    for key, title in TITLES.items():
        show(qtbot, workbench, panel, key)
        name = QAccessible.queryAccessibleInterface(panel.picture).text(QAccessible.Text.Name)
        assert name.startswith(f"{title}. ")
        assert panel.drawn.chart.summary in name
        assert panel.summary.text() == panel.drawn.chart.summary


def test_a_chart_follows_an_edit(workbench, panel, qtbot):
    before = panel.drawn.chart.current_a
    workbench.document.request(PaintCells(cells=(0, 1), group=2))
    qtbot.waitUntil(lambda: is_up_to_date(workbench, panel), timeout=WAIT_MS)
    assert panel.drawn.chart.groups[0] == 2
    assert not np.allclose(panel.drawn.chart.current_a, before)


def test_a_hidden_chart_does_not_follow_until_it_is_seen_again(workbench, panel, qtbot):
    workbench.docks["charts"].hide()
    shown = panel.drawn
    workbench.document.request(PaintCells(cells=(0, 1), group=2))
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=WAIT_MS)
    qtbot.wait(150)
    assert panel.drawn is shown
    workbench.actions["charts"].trigger()
    qtbot.waitUntil(lambda: is_up_to_date(workbench, panel), timeout=WAIT_MS)
    assert panel.drawn.chart.groups[0] == 2


def test_pointing_at_a_cell_tells_it_and_a_click_chooses_it(workbench, panel, qtbot):
    spot = 7
    cell = int(panel.drawn.picture.cells[spot])
    place = panel.picture.place_of(spot)
    nearest = panel.picture.spot_at(place)
    assert panel.drawn.picture.cells[nearest] == cell
    qtbot.mouseMove(panel.picture, place.toPoint())
    qtbot.mouseClick(panel.picture, Qt.MouseButton.LeftButton, pos=place.toPoint())
    (chosen,) = workbench.canvas.chosen_cells
    assert panel.summary.text() == panel.picture.words
    assert panel.picture.words.startswith(f"Cell {chosen + 1}, group ")
    x, y = panel.drawn.picture.spots_px[np.flatnonzero(panel.drawn.picture.cells == chosen)[0]]
    assert np.hypot(x - place.x(), y - place.y()) < 4  # the one clicked, or one that lies on it


def test_pointing_at_nothing_says_what_the_chart_says(panel, qtbot):
    assert panel.picture.spot_at(QPointF(1, 1)) == -1
    qtbot.mouseMove(panel.picture, panel.picture.place_of(3).toPoint())
    qtbot.mouseMove(panel.picture, QPoint(1, 1))
    assert panel.summary.text() == panel.drawn.chart.summary


def test_cells_are_stepped_through_and_chosen_by_keys(workbench, panel, qtbot):
    order = panel.drawn.picture.cells
    for key, spot in (
        (Qt.Key.Key_Right, 0), (Qt.Key.Key_Right, 1), (Qt.Key.Key_Left, 0), (Qt.Key.Key_PageDown, 10),
        (Qt.Key.Key_End, len(order) - 1), (Qt.Key.Key_Home, 0),
    ):  # fmt: skip
        qtbot.keyClick(panel.picture, key)
        assert panel.picture.words == panel.drawn.picture.words[spot]
    assert panel.picture.accessibleDescription() == panel.drawn.picture.words[0]
    qtbot.keyClick(panel.picture, Qt.Key.Key_Return)
    assert workbench.canvas.chosen_cells == {int(order[0])}


def test_cells_chosen_on_the_canvas_are_ringed_in_the_chart(workbench, panel):
    workbench.canvas.choose(frozenset({3, 4}))
    ringed = panel.drawn.picture.cells[panel.picture._rings]
    assert sorted(ringed.tolist()) == [3, 3, 4, 4]
    workbench.canvas.choose()
    assert len(panel.picture._rings) == 0


def test_a_segment_of_the_loss_chart_is_chosen_on_its_face(workbench, panel, qtbot):
    show(qtbot, workbench, panel, "loss_budget")
    for segment in (1, 2):
        spot = int(np.flatnonzero(panel.drawn.picture.segments == segment)[0])
        qtbot.mouseClick(panel.picture, Qt.MouseButton.LeftButton, pos=panel.picture.place_of(spot).toPoint())
        assert workbench.canvas.chosen_segment == segment
        assert workbench.canvas.scene.side == workbench.document.current.face_of(segment)


def test_the_chart_remembers_which_was_chosen_last(workbench, panel, qtbot, open_module):
    show(qtbot, workbench, panel, "voltage_drop")
    other = open_module(2, 4, 4)
    assert other.docks["charts"].widget().key == "voltage_drop"


def test_without_currents_the_panel_says_why(workbench, panel, qtbot):
    groups = workbench.document.current.cells.groups
    workbench.document.request(PaintCells(cells=tuple(np.flatnonzero(groups == 3).tolist()), group=4))
    document = workbench.document
    qtbot.waitUntil(lambda: document.is_settled and document.currents is None, timeout=WAIT_MS)
    assert panel.pages.currentWidget() is panel.why_none
    assert panel.why_none.text() == document.no_currents
    assert "3" in document.no_currents
    assert not panel.save.isEnabled()


@pytest.mark.parametrize("look", [appearance.LIGHT, appearance.DARK, appearance.CONTRAST])
def test_marks_and_words_stand_out_from_their_ground_in_every_appearance(workbench, panel, qtbot, look):
    appearance.show(look)
    try:
        style = style_of(panel.picture)
        ground = QColor(style.ground)
        for line in (*style.lines, style.error):
            assert contrast(QColor(line), ground) >= LEAST_CONTRAST
        assert contrast(QColor(style.ink), ground) >= 7  # WCAG 2.1, 1.4.6 (from memory)
        qtbot.waitUntil(lambda: corner(panel) == ground.name(), timeout=WAIT_MS)  # drawn anew in the new colours
    finally:
        appearance.show(appearance.FOLLOW)


def corner(panel):
    shown = panel.drawn.picture
    image = QImage(shown.rgba, shown.width_px, shown.height_px, 4 * shown.width_px, QImage.Format.Format_RGBA8888)
    return image.pixelColor(1, 1).name()


def test_the_choices_are_the_titles_of_the_charts():
    assert CHOICES == TITLES


def test_paper_wears_the_tints_of_the_program():
    assert FILLS == TINTS
    assert all(contrast(QColor(line), QColor(PAPER.ground)) >= LEAST_CONTRAST for line in PAPER.lines)
    assert set(PAPER.lines) <= set(TINTS)


def test_words_grow_with_the_font_of_the_system(panel):
    before = style_of(panel.picture).font_pt
    font = panel.picture.font()
    font.setPointSizeF(2 * font.pointSizeF())
    panel.picture.setFont(font)
    assert style_of(panel.picture).font_pt == pytest.approx(2 * before)


@pytest.mark.parametrize(("ending", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("csv", b"rank,cell,")])
def test_a_chart_is_saved_as_drawing_picture_or_numbers(panel, qtbot, tmp_path, monkeypatch, ending, begins):
    path = tmp_path / f"chart.{ending}"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    with qtbot.waitSignal(panel.told, timeout=WAIT_MS) as told:
        panel.save.click()
    assert told.args == [f"Saved {path}.", False]
    assert path.read_bytes().startswith(begins)


def test_numbers_saved_are_those_of_every_cell(workbench, panel, qtbot, tmp_path):
    with qtbot.waitSignal(panel.told, timeout=WAIT_MS):
        panel.save_to(tmp_path / "cells.csv")
    with (tmp_path / "cells.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    current_a = workbench.document.currents.solved.cell_current_a
    assert {int(row["cell"]): float(row["current_a"]) for row in rows} == {
        k + 1: pytest.approx(a, rel=1e-6) for k, a in enumerate(current_a.tolist())
    }


def test_a_file_that_cannot_be_written_is_told(workbench, panel, qtbot, tmp_path):
    with qtbot.waitSignal(panel.told, timeout=WAIT_MS) as told:
        panel.save_to(tmp_path / "no_such_folder" / "chart.svg")
    assert told.args[1]
    assert "chart.svg" in told.args[0]
    with qtbot.waitSignal(panel.told, timeout=WAIT_MS) as told:
        panel.save_to(tmp_path / "chart.bmp")
    assert ".svg, .png or .csv" in told.args[0]
