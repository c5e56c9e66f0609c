"""A newcomer is led through a whole job on a sample and can leave or come back at any time."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog

from layout_app.edits import PaintCells
from layout_app.model.saved_file import load
from layout_app.window import export_dialog, memory, walk, walk_stages


@pytest.fixture
def bar(program, qtbot):
    program.new_window()
    program.walk()
    bench = program.windows[-1].workbench
    qtbot.waitUntil(lambda: bench.document.is_settled, timeout=15_000)
    return bench.walk


def test_the_whole_job_can_be_watched_from_first_to_last(bar, qtbot, tmp_path, monkeypatch):
    bench = bar._bench
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "mine.busweave"), ""))

    def exported(dialog):
        dialog.told = "20 files written"
        return QDialog.DialogCode.Accepted

    monkeypatch.setattr(export_dialog.ExportDialog, "exec", exported)
    for number in range(len(bar.stages)):
        assert bar.stage == number
        assert not bar.is_done, bar.stages[number].title
        qtbot.mouseClick(bar.show_me, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: bar.is_done and bench.document.is_settled, timeout=15_000)
        qtbot.mouseClick(bar.next, Qt.MouseButton.LeftButton)
    assert bench.walk is None
    assert load(tmp_path / "mine.busweave") == bench.document.current


def test_doing_it_oneself_counts(bar, qtbot):
    bench = bar._bench
    bar.go(2)
    bench.document.request(PaintCells((0,), 2))
    qtbot.waitUntil(lambda: "Done" in bar.state.text(), timeout=2000)
    assert not bar.halo.isVisible()


def test_every_stage_can_be_skipped_and_gone_back_to(bar, qtbot):
    for _ in range(3):
        qtbot.mouseClick(bar.next, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(bar.back, Qt.MouseButton.LeftButton)
    assert bar.stage == 2


def test_the_frame_lies_around_what_the_stage_speaks_of_and_lets_the_mouse_through(bar):
    bar.go(1)
    button = walk_stages._button(bar._bench, "flip")
    corner = button.mapTo(bar._bench.window, button.rect().center())
    assert bar.halo.isVisible()
    assert bar.halo.geometry().contains(corner)
    assert bar.halo.testAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)


def test_it_can_be_ended_and_begun_again_from_the_help_menu(bar, program, qtbot):
    bench = bar._bench
    qtbot.mouseClick(bar.end, Qt.MouseButton.LeftButton)
    assert bench.walk is None
    bench.actions["walk"].trigger()
    assert program.windows[-1].workbench.walk is not None


def test_a_newcomer_is_asked_once(program, qtbot):
    window = program.new_window()
    walk.offer(program)
    assert window.start_page.message.isVisible()
    qtbot.mouseClick(window.start_page.message.answers["Not now"], Qt.MouseButton.LeftButton)
    assert memory.settings().value(walk.SEEN) is not None
    walk.offer(program)
    assert not window.start_page.message.isVisible()
