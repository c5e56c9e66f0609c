"""A document and its file: what others do to it is noticed, what hinders saving is explained, closing asks."""

import errno
import os
import subprocess
import sys
import time

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QSessionManager
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from layout_app.edits import EraseCells, PaintCells
from layout_app.model import atomic
from layout_app.model.saved_file import load, save
from layout_app.window import memory

from .modules import module

OTHER_PROGRAM = "import sys; from pathlib import Path; Path(sys.argv[1]).write_bytes(Path(sys.argv[2]).read_bytes())"


@pytest.fixture
def file(workbench, tmp_path):
    """The file the workbench's document is saved in."""
    path = tmp_path / "rover.busweave"
    assert workbench.filing.save_to(path)
    return path


@pytest.fixture
def elsewhere(tmp_path):
    """A file with another layout."""
    path = tmp_path / "other" / "tender.busweave"
    path.parent.mkdir()
    save(module(4, 5, 5), path)
    return path


def press(qtbot, bar, words):
    qtbot.mouseClick(bar.answers[words], Qt.MouseButton.LeftButton)


def changed_by_another_program(qtbot, workbench, file, elsewhere):
    subprocess.run([sys.executable, "-c", OTHER_PROGRAM, str(file), str(elsewhere)], check=True)
    qtbot.waitUntil(lambda: "Load it" in workbench.message.answers, timeout=5000)


def test_a_change_by_another_program_is_noticed_and_loading_it_can_be_undone(workbench, qtbot, file, elsewhere):
    workbench.document.request(EraseCells((0,)))
    mine = workbench.document.current
    changed_by_another_program(qtbot, workbench, file, elsewhere)
    assert "rover.busweave" in workbench.message.text
    press(qtbot, workbench.message, "Load it")
    assert workbench.document.current == load(elsewhere)
    assert not workbench.document.is_modified
    workbench.document.undo()
    assert workbench.document.current is mine
    assert workbench.document.is_modified


def test_keeping_ones_own_makes_it_unsaved_and_saving_then_asks_no_more(workbench, qtbot, file, elsewhere, monkeypatch):
    changed_by_another_program(qtbot, workbench, file, elsewhere)
    press(qtbot, workbench.message, "Keep mine")
    assert workbench.document.is_modified
    monkeypatch.setattr(QMessageBox, "exec", lambda self: pytest.fail("asked again"))
    assert workbench.save()
    assert load(file) == workbench.document.current


def test_saving_over_an_unnoticed_change_asks_first(workbench, file, elsewhere, monkeypatch):
    theirs = elsewhere.read_bytes()
    file.write_bytes(theirs)
    asked = []

    def cancel(box):
        asked.append(box.text())
        return 0

    monkeypatch.setattr(QMessageBox, "exec", cancel)
    assert not workbench.save()
    assert asked
    assert file.read_bytes() == theirs


def test_a_change_by_replacing_the_file_is_noticed_more_than_once(workbench, qtbot, file, elsewhere, tmp_path):
    for number in range(2):
        fresh = tmp_path / "fresh"
        fresh.write_bytes(elsewhere.read_bytes() + b"\n" * number)
        fresh.replace(file)  # as editors do: another inode under the same name
        qtbot.waitUntil(lambda: "Load it" in workbench.message.answers, timeout=5000)
        press(qtbot, workbench.message, "Load it")


def test_own_saves_and_mere_touching_are_no_change(workbench, qtbot, file):
    workbench.document.request(EraseCells((0,)))
    workbench.save()
    os.utime(file)
    qtbot.wait(900)
    assert not workbench.message.isVisible()
    assert not workbench.document.is_modified


def test_a_file_that_vanishes_is_told_and_saved_again_on_request(workbench, qtbot, file):
    file.unlink()
    qtbot.waitUntil(lambda: "no longer" in workbench.message.text, timeout=5000)
    assert workbench.document.is_modified
    press(qtbot, workbench.message, "Save it there again")
    assert load(file) == workbench.document.current


REASONS = {
    errno.ENOSPC: "disk is full", errno.EROFS: "only be read", errno.EACCES: "may not write",
    errno.ENAMETOOLONG: "too long", errno.ENOENT: "folder is no longer there",
}  # fmt: skip


@pytest.mark.parametrize("number", REASONS, ids=errno.errorcode.get)
def test_what_hinders_saving_is_explained_and_another_place_offered(workbench, qtbot, file, monkeypatch, number):
    before = file.read_bytes()
    workbench.document.request(EraseCells((0,)))

    def fail(path, data):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(atomic, "_write_through", fail)
    assert not workbench.save()
    assert REASONS[number] in workbench.message.text
    assert workbench.document.is_modified
    assert file.read_bytes() == before
    monkeypatch.undo()
    other = file.with_name("other.busweave")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(other), ""))
    press(qtbot, workbench.message, "Save elsewhere…")
    assert load(other) == workbench.document.current
    assert not workbench.document.is_modified


def test_a_vanished_folder_and_a_name_without_end_are_explained_by_the_system_itself(workbench, tmp_path):
    assert not workbench.filing.save_to(tmp_path / "gone" / "rover.busweave")
    assert "folder is no longer there" in workbench.message.text
    assert not workbench.filing.save_to(tmp_path / ("n" * 300 + ".busweave"))
    assert "too long" in workbench.message.text


def test_a_full_disk_of_the_system_itself_loses_nothing(workbench, file):
    if not os.access("/dev/full", os.W_OK):
        pytest.skip("this system has no /dev/full")
    workbench.document.request(EraseCells((0,)))
    assert not workbench.filing.save_to(type(file)("/dev/full"))
    assert workbench.document.is_modified
    assert workbench.message.isVisible()


def test_a_name_without_the_ending_gets_it_and_an_existing_one_is_asked_about(workbench, tmp_path, monkeypatch):
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "rover.v2"), ""))
    assert workbench.save_as()
    assert (tmp_path / "rover.v2.busweave").is_file()
    asked = []
    monkeypatch.setattr(QMessageBox, "exec", lambda self: asked.append(self.text()))
    assert not workbench.save_as()
    assert asked


# -- every way to close asks -----------------------------------------------------------------------------------------


@pytest.fixture
def answer(monkeypatch):
    """Answers the question about unsaved changes; `asked` counts."""

    class Answer:
        button, asked = QMessageBox.StandardButton.Cancel, 0

        def give(self):
            self.asked += 1
            return self.button

    answer = Answer()
    monkeypatch.setattr(QMessageBox, "exec", lambda _box: answer.give())
    return answer


@pytest.mark.parametrize("way", ["close", "quit"])
def test_the_menu_asks_and_cancel_keeps_window_and_work(workbench, qtbot, answer, way):
    workbench.document.request(EraseCells((0,)))
    workbench.actions[way].trigger()
    assert answer.asked == 1
    assert workbench.window.isVisible()
    assert workbench.document.is_modified


def test_closing_all_windows_at_once_asks(workbench, answer):
    workbench.document.request(EraseCells((0,)))
    QApplication.closeAllWindows()
    assert answer.asked == 1
    assert workbench.window.isVisible()


def test_choosing_save_when_it_cannot_be_saved_keeps_the_window_open(workbench, answer, file, monkeypatch):
    workbench.document.request(EraseCells((0,)))
    answer.button = QMessageBox.StandardButton.Save
    file.unlink()
    file.mkdir()
    assert not workbench.window.close()
    assert workbench.window.isVisible()
    assert "Save elsewhere…" in workbench.message.answers
    file.rmdir()


class Session:
    """What a desktop hands over at its end (a QSessionManager cannot be made by hand)."""

    def __init__(self, may_ask: bool) -> None:
        self.may_ask, self.is_cancelled = may_ask, False

    def allowsInteraction(self) -> bool:
        return self.may_ask

    def release(self) -> None:
        pass

    def cancel(self) -> None:
        self.is_cancelled = True


def test_a_session_speaks_the_words_of_the_stand_in():
    assert all(hasattr(QSessionManager, name) for name in ("allowsInteraction", "release", "cancel"))


@pytest.mark.parametrize(("button", "ends"), [("Cancel", False), ("Discard", True)], ids=["cancel", "discard"])
def test_the_end_of_the_session_asks(program, workbench, answer, button, ends):
    workbench.document.request(EraseCells((0,)))
    answer.button = QMessageBox.StandardButton[button]
    session = Session(may_ask=True)
    program.end_session(session)
    assert answer.asked == 1
    assert session.is_cancelled != ends
    assert workbench.document.is_modified != ends


def test_a_session_that_ends_without_asking_leaves_the_work_to_be_offered(program, workbench, answer):
    workbench.document.request(EraseCells((0,)))
    program.end_session(Session(may_ask=False))
    assert answer.asked == 0
    assert load(workbench.filing.autosave._slot.layout_path) == workbench.document.current


def test_files_saved_are_remembered_as_recent(workbench, file):
    assert memory.recent_files()[0] == file.resolve()


def test_saving_in_the_middle_of_painting_saves_what_the_history_holds(workbench, file):
    current = workbench.document.current
    workbench.document.preview(PaintCells((0,), 2).apply(current))
    assert workbench.save()
    assert load(file) == current


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
def test_a_terminated_program_leaves_its_work_to_be_offered(tmp_path):
    import signal

    from layout_app.window import recovery

    from .test_recovery import start_worker, states, wait_for_edits

    file, diary = tmp_path / "rover.busweave", tmp_path / "diary"
    save(module(6, 20, 10), file)
    worker = start_worker(file, diary, 60_000)  # nothing is kept before the signal comes
    try:
        wait_for_edits(diary, 3)
        time.sleep(0.3)
        worker.send_signal(signal.SIGTERM)
        assert worker.wait(timeout=20) == 128 + signal.SIGTERM
    finally:
        worker.kill()
    (offer,) = recovery.offers()
    kept = load(offer.layout_path).cells.groups.tolist()
    assert kept in [groups for _, groups in states(diary)[-2:]]
