"""The start page: recent files with pictures, samples, and ways to begin."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from layout_app.model.saved_file import save
from layout_app.window import memory

from .modules import module


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
