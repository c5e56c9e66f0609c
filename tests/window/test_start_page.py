"""The start page: recent files with pictures, samples, and ways to begin."""

import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QLabel, QPushButton

from layout_app.model.saved_file import save
from layout_app.window import memory
from layout_app.window.message_bar import MessageBar

from .modules import module

DATA = Path(__file__).parents[1] / "data" / "footprints"


@pytest.fixture
def remembered(tmp_path, qapp):
    """Two recent files, one of them no layout any more; newest first."""
    good, bad = tmp_path / "canal_tender.busweave", tmp_path / "torn.busweave"
    save(module(2, 3, 3), good)
    bad.write_text("{ torn", encoding="utf-8")
    for path in (bad, good):
        memory.remember_file(path)
    return good, bad


def test_recent_files_get_small_pictures_and_a_torn_one_keeps_its_mark(program, remembered, qtbot):
    good, bad = (path.resolve() for path in remembered)
    page = program.new_window().start_page
    plain = page._recents[bad].pixmap().toImage()
    mark = page._recents[good]
    qtbot.waitUntil(lambda: mark.pixmap().toImage() != plain, timeout=15_000)
    assert mark.pixmap().deviceIndependentSize().width() == 64
    assert page._recents[bad].pixmap().toImage() == plain


def test_a_click_on_a_recent_file_opens_it(program, remembered, qtbot):
    window = program.new_window()
    ways = [b for b in window.start_page.findChildren(QPushButton) if b.accessibleName() == "canal_tender.busweave"]
    qtbot.mouseClick(ways[0], Qt.MouseButton.LeftButton)
    assert len(window.workbench.document.current.cells) == 6


def drop(window, *paths):
    """Drop files on a window, as a file manager would."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    copy, buttons, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(50, 50), copy, data, buttons, none)
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(window, QDropEvent(QPointF(50, 50), copy, data, buttons, none))


def test_a_drawing_dropped_on_the_window_is_shown_before_it_is_used(program, qtbot):
    window = program.new_window()
    drop(window, DATA / "orchard_rover_tray.dxf")
    page = window.pages.currentWidget()
    qtbot.waitUntil(lambda: getattr(page, "drawing", None) is not None, timeout=20_000)


def test_each_of_several_files_gets_a_window_of_its_own(program, tmp_path, qtbot):
    paths = [tmp_path / f"{name}.busweave" for name in ("rover", "tender")]
    for path in paths:
        save(module(2, 3, 3), path)
    window = program.new_window()
    drop(window, *paths)
    assert [w.workbench.document.path for w in program.windows] == paths


def test_a_file_dropped_on_an_open_layout_leaves_that_alone(program, open_module, tmp_path, qtbot):
    path = tmp_path / "buoy.busweave"
    save(module(2, 3, 3), path)
    bench = open_module(2, 3, 3)
    before = bench.document.current
    drop(bench.window, path)
    assert bench.document.current is before
    assert program.windows[-1].workbench.document.path == path


OPEN_AND_TELL = """
import sys
from pathlib import Path
from PySide6.QtWidgets import QApplication
from layout_app.window import app
program = app.Program()
app.Program = lambda: program
QApplication.exec = lambda *_: 0
assert app.run([Path(name) for name in sys.argv[1:]]) == 0
print(*(window.workbench.document.path for window in program.windows), sep="\\n")
sys.stdout.flush()
__import__("os")._exit(0)
"""


def test_several_files_named_on_the_command_line_open_a_window_each(tmp_path):
    """In a process of its own: running the program sets signals, colours and the like."""
    paths = [tmp_path / f"{name}.busweave" for name in ("rover", "tender")]
    for path in paths:
        save(module(2, 3, 3), path)
    command = [sys.executable, "-c", OPEN_AND_TELL, *map(str, paths)]
    ran = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.split() == [str(path) for path in paths]


def test_the_way_the_keyboard_is_on_looks_different(program, qtbot):
    window = program.new_window()
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    for way in [b for b in window.start_page.findChildren(QPushButton) if b.isFlat()]:
        window.start_page.setFocus()
        without = way.grab().toImage()
        way.setFocus(Qt.FocusReason.TabFocusReason)
        qtbot.waitUntil(way.hasFocus, timeout=2000)
        assert way.grab().toImage() != without, way.accessibleName()


def test_answers_stand_under_the_words_where_there_is_little_room(qtbot):
    bar = MessageBar()
    qtbot.addWidget(bar)
    bar.ask("left", "Busweave ended without saving; unsaved layouts kept from then: 1.", {"Show them": lambda: None})
    words = next(label for label in bar.findChildren(QLabel) if "unsaved" in label.text())
    bar.resize(1000, 60)
    button = bar.answers["Show them"]
    qtbot.waitUntil(lambda: button.x() > words.geometry().right(), timeout=2000)
    bar.resize(300, 120)
    qtbot.waitUntil(lambda: button.y() >= words.geometry().bottom(), timeout=2000)
    assert words.width() > 150
