"""Files, pages, panels and what happens when something fails."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QLabel, QMenu, QMessageBox, QWidget

from layout_app.edits import ChangePlates, EraseCells, PaintCells
from layout_app.model.saved_file import load, save
from layout_app.window import memory, recovery
from layout_app.window.app import Program

from .modules import module

DATA = Path(__file__).parents[1] / "data" / "footprints"


def texts(widget: QWidget) -> str:
    return "\n".join(label.text() for label in widget.findChildren(QLabel))


def test_the_start_page_offers_ways_to_begin_and_says_the_caution(program):
    window = program.new_window()
    said = texts(window.start_page)
    for words in ("housing drawing", "numbers", "Finished samples", "does not certify"):
        assert words in said


def test_a_saved_layout_opens_again_and_is_remembered(program, workbench, tmp_path, qtbot):
    path = tmp_path / "rover.busweave"
    workbench.document.request(EraseCells((0,)))
    assert workbench.window.isWindowModified()
    assert workbench.filing.save_to(path)
    assert not workbench.window.isWindowModified()
    assert load(path) == workbench.document.current
    assert memory.recent_files() == [path.resolve()]
    window = program.new_window()
    window.open_path(path)
    assert window.workbench.document.current == workbench.document.current
    assert not window.workbench.document.is_modified


def test_undoing_to_what_was_saved_is_no_change(workbench, tmp_path):
    workbench.filing.save_to(tmp_path / "a.busweave")
    workbench.document.request(EraseCells((0,)))
    assert workbench.document.is_modified
    workbench.document.undo()
    assert not workbench.document.is_modified


def test_a_file_that_cannot_be_read_gives_a_message_and_no_window_full_of_nothing(program, tmp_path):
    path = tmp_path / "broken.busweave"
    path.write_text("{ not json", encoding="utf-8")
    window = program.new_window()
    window.open_path(path)
    assert window.workbench is None
    assert "broken.busweave" in window.start_page.message.text


def test_a_layout_dropped_on_the_window_opens(program, tmp_path):
    path = tmp_path / "dropped.busweave"
    save(module(2, 3, 3), path)
    window = program.new_window()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    actions, buttons = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    window.dropEvent(QDropEvent(QPointF(50, 50), actions, data, buttons, Qt.KeyboardModifier.NoModifier))
    assert len(window.workbench.document.current.cells) == 6


@pytest.mark.parametrize(("answer", "closes"), [("Discard", True), ("Cancel", False)], ids=["discard", "cancel"])
def test_closing_with_unsaved_changes_asks(workbench, monkeypatch, answer, closes):
    workbench.document.request(EraseCells((0,)))
    monkeypatch.setattr(QMessageBox, "exec", lambda self: QMessageBox.StandardButton[answer])
    assert workbench.window.close() == closes
    assert workbench.window.isVisible() != closes


def test_a_drawing_becomes_a_module_in_three_clicks(program, qtbot):
    window = program.new_window()
    window.open_path(DATA / "orchard_rover_tray.dxf")
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: page.drawing is not None, timeout=20_000)
    assert "Millimetres" in page.words.text()
    assert "Keep-outs</b>: 6" in page.words.text()
    assert "ANNOTATION" in page.words.text()
    qtbot.mouseClick(page.use, Qt.MouseButton.LeftButton)
    brief = window.pages.currentWidget()
    qtbot.waitUntil(lambda: bool(brief.found), timeout=20_000)
    assert len(brief.found[0]) >= len(brief.found[-1])
    qtbot.keyClicks(brief.fields["n_parallel"].editor, "20")
    qtbot.mouseClick(brief.lay, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.workbench is not None, timeout=30_000)
    layout = window.workbench.document.current
    assert np.bincount(layout.cells.groups)[1:].tolist() == [20] * 6
    qtbot.waitUntil(lambda: window.workbench.document.is_settled, timeout=20_000)
    assert len(window.workbench.document.segments) == 7


def test_an_open_outline_is_explained_on_its_page(program, qtbot):
    window = program.new_window()
    window.open_path(DATA / "broken_open_outline.dxf")
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: bool(page.problem.text()), timeout=20_000)
    assert "open" in page.problem.text()
    assert not page.use.isEnabled()


def test_numbers_make_a_housing_and_wrong_ones_are_explained(program):
    window = program.new_window()
    window.start_from_numbers()
    page = window.pages.currentWidget()
    page.fields["width"]._ask(320.0)
    assert page.housing().outline.bounds_mm == pytest.approx((0, 0, 320, 200))
    page.fields["corner"]._ask(150.0)
    assert "at most 100" in page.fields["corner"].wrong
    page.shape._ask("circle")
    assert page.housing().outline.as_circle[2] == pytest.approx(125.0)


def test_settings_show_the_layout_and_change_it(workbench, qtbot):
    field = workbench.settings.fields["Insulation gap"]
    assert field.editor.text() == "1.5"
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, "2.5")
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    assert workbench.document.current.plates.gap_mm == 2.5
    workbench.document.undo()
    assert field.editor.text() == "1.5"


def test_a_wrong_setting_is_explained_beside_it_and_not_applied(workbench, qtbot):
    field, before = workbench.settings.fields["Sheet thickness"], workbench.document.current
    field.editor.selectAll()
    qtbot.keyClicks(field.editor, "-1")
    qtbot.keyClick(field.editor, Qt.Key.Key_Return)
    assert "sheet thickness" in field.wrong.lower()
    assert workbench.document.current is before


def test_every_setting_shows_a_value(workbench):
    for name, field in workbench.settings.fields.items():
        if field.isHidden():  # of the other kind of joint
            continue
        is_choice = hasattr(field.editor, "currentIndex")
        shown = field.editor.currentIndex() >= 0 if is_choice else field.editor.text() or field.editor.placeholderText()
        assert shown, name


def test_a_click_on_a_finding_goes_there_and_makes_it_pulse(workbench, qtbot):
    workbench.document.request(PaintCells((119,), 1))  # the last cell joins the first group: split, uneven
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=10_000)
    with_place = [f for f in workbench.document.findings if f.places_mm]
    item = next(
        workbench.findings.list.item(k)
        for k in range(workbench.findings.list.count())
        if workbench.findings.list.item(k).data(Qt.ItemDataRole.UserRole) in with_place
    )
    finding = item.data(Qt.ItemDataRole.UserRole)
    workbench.findings.list.itemClicked.emit(item)
    x0, y0, x1, y1 = workbench.canvas.view.visible_mm()
    assert all(x0 < x < x1 and y0 < y < y1 for x, y in finding.places_mm)
    assert workbench.canvas._flash_places


def test_figures_tell_formula_inputs_and_source(workbench):
    keys = [figure.key for figure in workbench.document.figures]
    workbench.figures.table.setCurrentCell(keys.index("energy_wh"), 0)
    figure = workbench.document.figures[keys.index("energy_wh")]
    said = workbench.figures.details.text()
    assert figure.formula in said
    assert figure.source in said
    assert all(value in said for _, value in figure.inputs)


def test_every_action_has_a_menu_place_a_tip_and_its_keys_are_its_own(workbench):
    placed = {action for menu in workbench.window.menuBar().findChildren(QMenu) for action in menu.actions()}
    keys = []
    for name, action in workbench.actions.items():
        assert action in placed, name
        assert action.toolTip(), name
        keys += [key.toString() for key in action.shortcuts()]
    assert len(keys) == len(set(keys))


def test_panels_have_accessible_names(workbench):
    assert workbench.canvas.accessibleName()
    for field in workbench.settings.fields.values():
        assert field.editor.accessibleName()


def test_a_failure_keeps_the_work_and_says_where(program, workbench, monkeypatch):
    from layout_app.window import crash

    workbench.document.request(ChangePlates({"gap_mm": 2.0}))
    shown = []
    monkeypatch.setattr(crash, "show_crash", lambda copies, details: shown.append((copies, details)))
    try:
        raise RuntimeError("our own bug")
    except RuntimeError as error:
        Program.excepthook(program, RuntimeError, error, error.__traceback__)
    ((copies, details),) = shown
    assert "our own bug" in details
    assert load(copies[0]) == workbench.document.current
    assert recovery.offers() == []  # the program goes on, so nothing is left behind


def test_export_writes_what_was_asked_for(workbench, tmp_path, qtbot):
    from layout_app.window.export_dialog import ExportDialog

    dialog = ExportDialog(workbench.window, workbench.document)
    qtbot.addWidget(dialog)
    dialog.folder.setText(str(tmp_path))
    for kind in ("report", "dxf"):
        dialog.kinds[kind].setChecked(False)
    dialog.revision.setText("B")
    dialog.date.setText("2031-05-04")
    dialog.go.click()
    qtbot.waitUntil(lambda: bool(dialog.told), timeout=20_000)
    assert [path.suffix for path in tmp_path.rglob("*.csv")]
    assert all("2031-05-04" in path.read_text(encoding="utf-8") for path in tmp_path.rglob("*.svg"))
    assert not list(tmp_path.rglob("*.dxf"))


def test_current_paths_are_exported_only_when_ticked(open_module, tmp_path, qtbot):
    from layout_app.window.export_dialog import ExportDialog

    bench = open_module(3, 8, 4)
    dialog = ExportDialog(bench.window, bench.document)
    qtbot.addWidget(dialog)
    assert not dialog.kinds["paths"].isChecked()
    dialog.folder.setText(str(tmp_path))
    for kind, box in dialog.kinds.items():
        box.setChecked(kind == "paths")
    dialog.go.click()
    qtbot.waitUntil(lambda: bool(dialog.told), timeout=60_000)
    assert len(list(tmp_path.rglob("paths/*.dxf"))) == 2


def test_panels_stand_where_they_stood(program, open_module, qtbot):
    first = open_module(2, 3, 3)
    first.docks["settings"].hide()
    first.places.remember()
    assert not open_module(2, 3, 3).docks["settings"].isVisible()


def test_a_copy_of_a_sample_leaves_the_sample_alone(program, tmp_path):
    path = tmp_path / "sample.busweave"
    save(module(2, 3, 3), path)
    shutil.copy(path, tmp_path / "kept")
    window = program.new_window()
    window.open_path(path, is_copy=True)
    document = window.workbench.document
    assert document.path is None
    assert not document.is_modified  # nothing is lost when it is closed
    document.request(EraseCells((0,)))
    assert document.is_modified
    assert load(path) != document.current


@pytest.mark.parametrize("width", [1280, 1000, 900])
def test_the_module_keeps_the_larger_part_of_a_window_made_narrow(workbench, qtbot, width):
    workbench.window.show()
    qtbot.waitExposed(workbench.window)
    workbench.window.resize(width, 640)
    qtbot.waitUntil(lambda: workbench.canvas.width() >= 0.38 * width, timeout=3000)
