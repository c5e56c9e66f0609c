"""Maps of currents on the canvas, asked for with keys, menus and the panel as a user would."""

import time

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QFileDialog

from layout_app.edits import ChangePlates, EraseCells, PaintCells
from layout_app.model.errors import LayoutError
from layout_app.physics.current_figures import share_of_mean
from layout_app.window.maps import sheet_work
from layout_app.window.maps.colour_maps import UNKNOWN
from layout_app.window.maps.scene_map import FIRST_LOOK, PLAIN

from .gestures import cell_pixel, drag_to, pixel

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
NO_BUTTON = Qt.MouseButton.NoButton
PATIENCE_MS = 60_000


@pytest.fixture
def bench(open_module, qtbot):
    """A small module, 3 groups of 8, so that the sheet model takes a moment only; its panel of currents in front."""
    bench = open_module(3, 8, 4)
    bench.docks["currents"].raise_()
    return bench


@pytest.fixture
def desk(bench):
    return bench.docks["currents"].desk


@pytest.fixture
def panel(bench):
    return bench.docks["currents"].panel


def press(qtbot, bench, key, modifiers=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(bench.window, key, modifiers)


def wait(qtbot, desk):
    """Until nothing of what is chosen is still being worked out."""
    qtbot.waitUntil(lambda: desk.document.is_settled and desk.is_settled, timeout=PATIENCE_MS)


def type_into(qtbot, field, text):
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, text)
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)


def colour_at(canvas, spot):
    return QColor(canvas.grab().toImage().pixel(round(spot.x() * canvas.ratio), round(spot.y() * canvas.ratio)))


def is_near(one, other, reach=12):
    return all(abs(a - b) <= reach for a, b in zip(one.getRgb()[:3], other.getRgb()[:3], strict=True))


def metal_spot(bench):
    """A layout point with metal of the top face under it, amid three cells, away from their windows."""
    segment = next(s for s in bench.document.segments if s.face == "top")
    centres = segment.window_centres_mm
    apart = np.hypot(*(centres[:, None] - centres[None]).T)
    apart[apart == 0] = np.inf
    a, b = np.unravel_index(apart.argmin(), apart.shape)
    c = (apart[a] + apart[b]).argmin()
    return tuple(((centres[a] + centres[b] + centres[c]) / 3).tolist()), segment


# -- cells ------------------------------------------------------------------------------------------------------------


def test_a_key_colours_each_cell_by_its_share_and_another_brings_the_groups_back(bench, desk, qtbot):
    canvas = bench.canvas
    before = canvas.grab().toImage()
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    scene_map = canvas.scene.map
    share = share_of_mean(bench.document.layout, bench.document.currents.solved.cell_current_a)
    assert scene_map.span.low <= share.min()
    assert share.max() <= scene_map.span.high
    most = int(share.argmax())
    look = int(canvas.scene.cell_looks()[most])
    spot = cell_pixel(canvas, most)
    radius = canvas.scene.layout.cell_type.diameter_mm / 2 * canvas.view.px_per_mm / canvas.ratio
    spot.setX(spot.x() - round(0.7 * radius))  # beside sign and number
    assert is_near(colour_at(canvas, spot), scene_map.colour(look, canvas.theme))
    press(qtbot, bench, Qt.Key.Key_1, CTRL)
    assert canvas.scene.map is None
    qtbot.waitUntil(lambda: canvas.grab().toImage() == before, timeout=5000)


def test_colours_follow_an_edit_without_being_asked(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    before = bench.canvas.scene.map.cell_levels
    bench.document.request(PaintCells((8,), 1))
    wait(qtbot, desk)
    share = share_of_mean(bench.document.layout, bench.document.currents.solved.cell_current_a)
    scene_map = bench.canvas.scene.map
    assert not np.array_equal(before, scene_map.cell_levels)
    told = scene_map.span.low + (scene_map.cell_levels + 0.5) / scene_map.colours.n_levels * (
        scene_map.span.high - scene_map.span.low
    )
    assert told == pytest.approx(share, abs=(scene_map.span.high - scene_map.span.low) / 200)


def test_cells_in_no_group_and_cells_that_came_meanwhile_get_no_colour_of_the_map(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    bench.document.request(PaintCells((3,), 0))
    wait(qtbot, desk)
    assert bench.canvas.scene.map.cell_levels[3] == UNKNOWN
    bench.document.request(EraseCells((0,)))
    looks = bench.canvas.scene.cell_looks()  # whether the currents are there yet or not
    assert len(looks) == 23
    assert set(looks[looks < FIRST_LOOK - 10]) <= {PLAIN, -1}
    wait(qtbot, desk)
    assert len(bench.canvas.scene.map.cell_levels) == 23


def test_a_range_that_is_typed_in_holds_and_marks_what_lies_outside(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    type_into(qtbot, panel.low, "0.9999")
    type_into(qtbot, panel.high, "1.0001")
    scene_map = bench.canvas.scene.map
    assert (scene_map.span.low, scene_map.span.high) == (0.9999, 1.0001)
    assert scene_map.has_above
    assert scene_map.has_below
    most = int(scene_map.cell_levels.argmin())  # marks are negative
    assert scene_map.colour(int(scene_map.looks(np.zeros(24, dtype=int))[most]), bench.canvas.theme).name() in (
        scene_map.colours.above,
        scene_map.colours.below,
    )
    type_into(qtbot, panel.high, "0.5")
    assert "below its end" in panel.high.wrong
    assert desk.choice.high == 1.0001
    panel.high.editor.selectAll()
    qtbot.keyClick(panel.high.editor, Qt.Key.Key_Delete)
    qtbot.keyClick(panel.high.editor, Qt.Key.Key_Return)
    assert desk.choice.high is None


def test_looking_at_another_current_scales_losses_with_its_square(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_3, CTRL)
    before = bench.canvas.scene.map.span
    type_into(qtbot, panel.current, "160")  # twice the design current
    after = bench.canvas.scene.map.span
    assert after.high == pytest.approx(4 * before.high, rel=0.05)  # source: Joule's law; ranges are round numbers
    assert "160" in bench.canvas.scene.map.title
    type_into(qtbot, panel.current, "1e9")
    assert panel.current.wrong
    assert desk.choice.current_a == 160.0


def test_the_pointer_tells_current_and_share_of_the_cell_under_it(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    drag_to(bench.canvas, cell_pixel(bench.canvas, 5), NO_BUTTON)
    current = bench.document.currents.solved.cell_current_a[5]
    assert f"{current:.3g} A, " in bench.readout.text()
    assert "of the mean" in bench.readout.text()


# -- sheet ------------------------------------------------------------------------------------------------------------


def test_choosing_a_map_of_metal_works_the_sheet_out_beside_the_window(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    assert desk.sheet.is_working
    assert panel.progress.isVisibleTo(panel)
    assert "Being worked out" in bench.canvas.scene.map.title
    wait(qtbot, desk)
    assert desk.is_current
    assert set(bench.canvas.scene.map.pictures) == {"top", "bottom"}
    spot_mm, segment = metal_spot(bench)
    drag_to(bench.canvas, pixel(bench.canvas, spot_mm), NO_BUTTON)
    text = bench.readout.text()
    assert "A/mm²" in text
    assert "°" in text
    assert "mW/cm²" in text
    field = desk.result.fields[segment.number]
    told = float(text.split(" A/mm²")[0].split("  ·  ")[-1])
    middles = field.mesh.points_mm[field.mesh.triangles].mean(axis=1)
    near = np.hypot(*(middles - spot_mm).T).argsort()[:30]
    assert field.density_size_a_mm2[near].min() * 0.9 <= told <= field.density_size_a_mm2[near].max() * 1.1


def test_metal_carries_the_colour_of_its_potential_on_either_face(bench, desk, qtbot):
    canvas = bench.canvas
    press(qtbot, bench, Qt.Key.Key_4, CTRL)
    wait(qtbot, desk)
    for key in (Qt.Key.Key_1, Qt.Key.Key_2):  # from above, and mirrored from below
        press(qtbot, bench, key)
        wait(qtbot, desk)
        scene_map = canvas.scene.map
        shown = [s for s in bench.document.segments if s.face == canvas.scene.faces[-1]]
        segment = next(s for s in shown if s.bolt_hole_mm is None)
        field = desk.result.fields[segment.number]
        mean_v = np.average(field.potential_v[field.mesh.triangles].mean(axis=1), weights=field.mesh.areas_mm2)
        middles = field.mesh.points_mm[field.mesh.triangles].mean(axis=1)
        away = np.hypot(*(middles[:, None] - segment.window_centres_mm[None]).T).min(axis=0)
        for k in np.argsort(-away)[:: len(away) // 5][:2]:  # metal far from windows, whose edge may be drawn over it
            value = 1e3 * (field.potential_v[field.mesh.triangles[k]].mean() - mean_v)
            share = (value - scene_map.span.low) / (scene_map.span.high - scene_map.span.low)
            wanted = QColor(scene_map.colours.codes[int(share * 255 * 0.999)])
            if away[k] > 10:
                assert is_near(colour_at(canvas, pixel(canvas, middles[k])), wanted, 20)


def test_an_edit_pales_the_map_until_it_is_worked_out_anew(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    wait(qtbot, desk)
    first = desk.result
    bench.document.request(ChangePlates({"thickness_mm": 1.0}))
    assert not desk.is_current
    assert bench.canvas.scene.map.is_before
    assert "of before" in bench.canvas.scene.map.title.lower()
    assert "of before" in panel.state.text().lower()
    qtbot.waitUntil(lambda: desk.result is not first and desk.is_settled, timeout=PATIENCE_MS)
    assert desk.is_current
    assert not bench.canvas.scene.map.is_before
    bench.document.undo()
    assert not desk.is_current


def test_a_large_module_is_worked_out_anew_only_when_asked(bench, desk, panel, qtbot, monkeypatch):
    monkeypatch.setattr("layout_app.window.maps.desk.RENEWED_UP_TO", 10)
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    wait(qtbot, desk)
    first = desk.result
    bench.document.request(ChangePlates({"thickness_mm": 1.0}))
    qtbot.waitUntil(lambda: bench.document.is_settled, timeout=PATIENCE_MS)
    qtbot.wait(600)
    assert desk.result is first
    assert not desk.sheet.is_working
    qtbot.mouseClick(panel.work, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: desk.is_current, timeout=PATIENCE_MS)


def test_the_work_can_be_stopped_and_taken_up_again_by_key(bench, desk, panel, qtbot, monkeypatch):
    plain = sheet_work.SheetModel

    def slow(*values, progress, **more):
        for k in range(200):  # what gives the hand time to reach the button
            progress(k / 400)
            time.sleep(0.01)
        return plain(*values, progress=progress, **more)

    monkeypatch.setattr(sheet_work, "SheetModel", slow)
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    assert panel.work.text() == "Stop"
    qtbot.mouseClick(panel.work, Qt.MouseButton.LeftButton)
    assert not desk.sheet.is_working
    assert desk.result is None
    assert panel.work.text() == "Work it out"
    monkeypatch.setattr(sheet_work, "SheetModel", plain)
    press(qtbot, bench, Qt.Key.Key_F5)
    qtbot.waitUntil(lambda: desk.is_current, timeout=PATIENCE_MS)


def test_a_map_that_cannot_be_says_why_beside_the_tool(bench, desk, qtbot):
    bench.document.request(EraseCells(tuple(range(8))))  # group 1
    qtbot.waitUntil(lambda: desk.document.is_settled and bool(desk.document.no_currents), timeout=PATIENCE_MS)
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    assert bench.tool_line.hint.text() == desk.document.no_currents


def test_the_sheet_can_be_asked_for_while_no_map_shows_it(bench, desk, panel, qtbot):
    assert not desk.choice.wants_sheet
    qtbot.mouseClick(panel.work, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: desk.is_current, timeout=PATIENCE_MS)


def test_the_panel_tells_the_sheets_error_and_how_the_network_differs(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    wait(qtbot, desk)
    rows = {name.text(): value.text() for name, value in panel._rows if not name.isHidden()}
    assert "Sheet's error of a share" in rows
    ours, theirs = (desk.network, desk.result.found)
    ratio = 100 * (ours.interconnect_resistance_ohm / theirs.interconnect_resistance_ohm - 1)
    told = float(rows["Network beside sheet, added resistance"].split(" %")[0].replace("−", "-"))
    assert told == pytest.approx(ratio, rel=1e-3)
    assert "±" in rows["Densest, away from feet"]


def test_cell_currents_by_the_sheet_model_replace_those_of_the_network(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    bench.actions["map_sheet"].trigger()
    wait(qtbot, desk)
    share = share_of_mean(bench.document.layout, desk.result.found.solved.cell_current_a)
    assert desk.found is desk.result.found
    assert bench.canvas.scene.map.span.high >= share.max()
    assert "sheet" in bench.canvas.scene.map.title


# -- lines, marks ---------------------------------------------------------------------------------------------------


def test_lines_ways_and_necks_are_drawn_when_switched_on_and_gone_when_off(bench, desk, panel, qtbot):
    canvas = bench.canvas
    press(qtbot, bench, Qt.Key.Key_I)
    wait(qtbot, desk)
    qtbot.waitUntil(lambda: canvas.scene.map is not None and bool(canvas.scene.map.lines), timeout=PATIENCE_MS)
    assert panel.switches["map_lines"].isChecked()
    assert set(canvas.scene.map.lines) == {0, 1, 2, 3}
    type_into(qtbot, panel.current, "-80")  # charging: all heads turn round
    assert canvas.scene.map.flows_back
    press(qtbot, bench, Qt.Key.Key_I)
    assert canvas.scene.map is None
    box = panel.switches["map_necks"]
    qtbot.mouseClick(box, Qt.MouseButton.LeftButton, pos=QPoint(8, box.height() // 2))
    assert bench.actions["map_necks"].isChecked()
    qtbot.waitUntil(lambda: bool(desk.marks.cuts), timeout=PATIENCE_MS)
    densities = [cut.density_a_mm2 for cut in desk.marks.cuts]
    assert densities == sorted(densities, reverse=True)
    before = canvas.grab().toImage()
    press(qtbot, bench, Qt.Key.Key_N)
    assert canvas.grab().toImage() != before
    press(qtbot, bench, Qt.Key.Key_V)
    qtbot.waitUntil(lambda: bool(desk.marks.ways), timeout=PATIENCE_MS)
    assert {pair.group for pair in desk.marks.ways} == {1, 2, 3}


# -- where nothing flows, and keeping pictures ------------------------------------------------------------------------


def test_where_no_current_can_flow_the_panel_says_why_and_nothing_is_coloured(bench, desk, panel, qtbot):
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    wait(qtbot, desk)
    members = tuple(bench.document.layout.cells.of_group(2).tolist())
    bench.document.request(PaintCells(members, 0))
    wait(qtbot, desk)
    assert bench.document.currents is None
    assert panel.trouble.text() == bench.document.no_currents != ""
    assert bench.canvas.scene.map is None
    assert not bench.desk.bar.isVisibleTo(bench.window)
    assert not any(name.isVisibleTo(panel) for name, _ in panel._rows)
    assert not bench.actions["work_sheet"].isEnabled()
    drag_to(bench.canvas, cell_pixel(bench.canvas, 1), NO_BUTTON)
    assert "nan" not in bench.readout.text().lower()


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_a_picture_carries_map_and_bar_on_white(bench, desk, qtbot, tmp_path, monkeypatch, ending):
    press(qtbot, bench, Qt.Key.Key_4, CTRL)
    wait(qtbot, desk)
    path = tmp_path / f"map.{ending}"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    press(qtbot, bench, Qt.Key.Key_E, CTRL | SHIFT)
    assert path.stat().st_size > 5000
    if ending == "png":
        image = QImage(str(path))
        assert QColor(image.pixel(3, 3)).name() == "#ffffff"
        scene_map = bench.canvas.scene.map
        wanted = {QColor(code).rgb() for code in scene_map.colours.codes}
        shown = {image.pixel(x, y) for x in range(0, image.width(), 3) for y in range(0, image.height(), 3)}
        assert len(wanted & shown) > 20
        spot_mm, _ = metal_spot(bench)  # twice as many pixels as the screen, else the same picture
        spot = pixel(bench.canvas, spot_mm)
        assert is_near(QColor(image.pixel(2 * spot.x(), 2 * spot.y())), colour_at(bench.canvas, spot), 20)
    elif ending == "svg":
        text = path.read_text(encoding="utf-8")
        assert "mV" in text
        assert "<image" in text
    else:
        assert path.read_bytes().startswith(b"%PDF")


def test_a_picture_in_another_form_or_place_is_refused_in_words(bench, desk, tmp_path):
    from layout_app.window.maps.canvas_picture import save_picture

    with pytest.raises(LayoutError, match=r"\.png, \.svg or \.pdf"):
        save_picture(bench.canvas, tmp_path / "map.gif")
    with pytest.raises(LayoutError, match="cannot be written"):
        save_picture(bench.canvas, tmp_path / "no folder" / "map.png")


def test_the_bar_stands_beside_the_drawing_and_grows_with_the_font(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_2, CTRL)
    bar, canvas = bench.desk.bar, bench.canvas
    bench.window.show()
    QApplication.processEvents()
    assert not bar.geometry().intersects(canvas.geometry())
    width = bar.sizeHint().width()
    assert "from 0.9" in bar.accessibleDescription()
    font = bar.font()
    font.setPointSizeF(font.pointSizeF() * 1.6)
    bar.setFont(font)
    assert bar.sizeHint().width() > 1.4 * width


def test_the_picture_brought_up_to_date_by_panning_is_that_painted_afresh(bench, desk, qtbot):
    canvas = bench.canvas
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    wait(qtbot, desk)
    canvas.zoom_by(2.0)
    wait(qtbot, desk)
    canvas.grab()
    canvas.pan_by(37, -21)
    shifted = canvas.grab().toImage()
    canvas.picture.forget()
    afresh = canvas.grab().toImage()
    differ = sum(
        shifted.pixel(x, y) != afresh.pixel(x, y)
        for x in range(0, shifted.width(), 7) for y in range(0, shifted.height(), 7)
    )  # fmt: skip
    assert differ <= 0.01 * shifted.width() * shifted.height() / 49


def test_a_window_closes_while_the_sheet_is_worked_out(bench, desk, qtbot):
    press(qtbot, bench, Qt.Key.Key_5, CTRL)
    assert desk.sheet.is_working
    bench.document.mark_untouched()
    bench.window.close()
    qtbot.wait(300)
    assert desk.result is None  # and no crash is told, which would fail the test
