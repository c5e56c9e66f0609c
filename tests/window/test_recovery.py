"""Unsaved work outlives the program: kept while one works, offered at the next start, never offered while in use."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from layout_app.edits import EraseCells
from layout_app.model.saved_file import load, save
from layout_app.window import autosave, recovery
from layout_app.window.recovery_offers import offer_text

from .modules import module

WORKER = Path(__file__).with_name("work_until_killed.py")
WORST_LOSS_S = 10.0  # what issue and help page promise


@pytest.fixture(autouse=True)
def soon(monkeypatch):
    monkeypatch.setattr(autosave, "AFTER_EDIT_MS", 20)


def start_worker(file: Path, diary: Path, autosave_ms: int) -> subprocess.Popen:
    command = [sys.executable, str(WORKER), str(file), str(diary), str(autosave_ms)]
    return subprocess.Popen(command, env={**os.environ, "QT_QPA_PLATFORM": "offscreen"}, stderr=subprocess.DEVNULL)


def wait_for_edits(diary: Path, n_edits: int) -> None:
    end = time.monotonic() + 40
    while not diary.exists() or diary.read_text(encoding="ascii").count("\n") < n_edits:
        assert time.monotonic() < end, "the program under test did not start"
        time.sleep(0.05)


def states(diary: Path) -> list[tuple[float, list[int]]]:
    """The complete lines of a diary: when, and the groups of all cells then."""
    lines = diary.read_text(encoding="ascii").split("\n")[:-1]
    return [(float(at), [int(group) for group in groups.split(",")]) for at, groups in map(str.split, lines)]


def kill_and_look(file: Path, diary: Path, autosave_ms: int, wait_s: float) -> float:
    """Kill a working program; return how many seconds of work what is offered lacks."""
    worker = start_worker(file, diary, autosave_ms)
    try:
        wait_for_edits(diary, 3)
        time.sleep(wait_s)
        assert recovery.offers() == []  # a living program's work is nobody else's
        os.kill(worker.pid, signal.SIGKILL)
    finally:
        worker.kill()
        worker.wait()
    done = states(diary)
    (offer,) = recovery.offers()
    kept = load(offer.layout_path).cells.groups.tolist()  # raises when the file is broken
    assert offer.note.origin == str(file)
    known_at = [at for at, groups in done if groups == kept]
    assert known_at, "what is offered is no state the program was in"
    recovery.claim(offer).discard()
    return done[-1][0] - known_at[-1]


def test_killed_at_any_moment_the_work_of_all_but_the_last_seconds_is_offered(tmp_path):
    file = tmp_path / "rover.busweave"
    save(module(6, 20, 10), file)
    before = file.read_bytes()
    moments = random.Random(20_26)
    for number in range(3):
        # kept every 100 ms, so that many kills fall into the writing
        lost_s = kill_and_look(file, tmp_path / f"diary{number}", 100, 0.5 + moments.random())
        assert lost_s < WORST_LOSS_S
    assert file.read_bytes() == before


def test_the_promise_leaves_time_for_a_slow_disk():
    import importlib

    assert importlib.reload(autosave).AFTER_EDIT_MS / 1000 <= WORST_LOSS_S / 2


def kept(workbench, qtbot) -> Path:
    """Edit, wait until it is kept, and return where."""
    workbench.document.request(EraseCells((0,)))
    saving = workbench.filing.autosave
    qtbot.waitUntil(lambda: saving._kept is workbench.document.current, timeout=10_000)
    return saving._slot.layout_path


def leave_behind(qtbot, workbench) -> None:
    """As a crash would: the lock goes, the work stays."""
    kept(workbench, qtbot)
    workbench.filing.autosave.end(leaves_work=True)


def test_an_edit_is_kept_and_what_is_in_use_is_offered_to_nobody(workbench, qtbot):
    path = kept(workbench, qtbot)
    assert load(path) == workbench.document.current
    assert recovery.offers() == []


def test_saving_undoing_and_closing_leave_nothing_behind(workbench, qtbot, tmp_path, monkeypatch):
    path = kept(workbench, qtbot)
    assert workbench.filing.save_to(tmp_path / "rover.busweave")
    assert not path.parent.exists()
    path = kept(workbench, qtbot)
    workbench.document.undo()
    assert not path.parent.exists()
    path = kept(workbench, qtbot)
    monkeypatch.setattr(QMessageBox, "exec", lambda self: QMessageBox.StandardButton.Discard)
    assert workbench.window.close()
    assert not path.parent.exists()
    assert recovery.offers() == []


def test_the_next_start_offers_what_was_there_and_opens_it_as_unsaved_work(program, workbench, qtbot, tmp_path):
    file = tmp_path / "rover.busweave"
    workbench.filing.save_to(file)
    leave_behind(qtbot, workbench)
    left = workbench.document.current
    window = program.new_window()
    (row,) = window.start_page.recovered.rows
    assert window.start_page.recovered.isVisible()
    for words in ("orchard rover", "today at", "rover.busweave"):
        assert words in offer_text(row.offer)
    qtbot.mouseClick(row.open, Qt.MouseButton.LeftButton)
    document = window.workbench.document
    assert document.current == left
    assert document.is_modified
    assert document.path == file
    assert load(file) != left
    assert "recovered" in window.workbench.message.text
    assert recovery.offers() == []
    assert window.workbench.save()
    assert load(file) == left


def test_work_can_be_discarded_when_confirmed_only(program, workbench, qtbot, monkeypatch):
    leave_behind(qtbot, workbench)
    page = program.new_window().start_page
    answers = iter([QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Discard])
    monkeypatch.setattr(QMessageBox, "exec", lambda self: next(answers))
    qtbot.mouseClick(page.recovered.rows[0].discard, Qt.MouseButton.LeftButton)
    assert len(recovery.offers()) == 1
    qtbot.mouseClick(page.recovered.rows[0].discard, Qt.MouseButton.LeftButton)
    assert recovery.offers() == []
    assert page.recovered.isHidden()


def test_of_two_windows_that_offer_the_same_work_one_gets_it_and_the_other_says_so(program, workbench, qtbot):
    leave_behind(qtbot, workbench)
    one, other = program.new_window(), program.new_window()
    qtbot.mouseClick(one.start_page.recovered.rows[0].open, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(other.start_page.recovered.rows[0].open, Qt.MouseButton.LeftButton)
    assert one.workbench is not None
    assert other.workbench is None
    assert "meanwhile" in other.start_page.message.text


def test_started_on_a_file_the_window_asks_about_work_left_behind(program, workbench, open_module, qtbot):
    leave_behind(qtbot, workbench)
    bench = open_module(2, 3, 3)
    bench.window.offer_recovered()
    qtbot.mouseClick(bench.message.answers["Show them"], Qt.MouseButton.LeftButton)
    assert program.windows[-1].start_page.recovered.rows


def test_a_layout_whose_note_is_damaged_is_offered_all_the_same(workbench, qtbot):
    leave_behind(qtbot, workbench)
    (offer,) = recovery.offers()
    (offer.folder / recovery.NOTE).write_text("{", encoding="utf-8")
    (again,) = recovery.offers()
    assert again.note.origin is None


def test_a_place_where_nothing_can_be_kept_is_told(open_module, qtbot):
    recovery.folder().parent.mkdir(parents=True, exist_ok=True)
    recovery.folder().write_text("a file where the folder should be", encoding="utf-8")
    workbench = open_module(2, 3, 3)
    workbench.document.request(EraseCells((0,)))
    qtbot.waitUntil(lambda: "Save often" in workbench.message.text, timeout=5000)
