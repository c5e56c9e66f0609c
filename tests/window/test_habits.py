"""What is remembered of the window, and how it follows the system's font."""

import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QApplication

from layout_app.window import memory


class Screen:
    """A stand-in for a QScreen: only the system makes those."""

    def __init__(self, name: str, width: int, height: int) -> None:
        self._name, self._size = name, QSize(width, height)

    def name(self) -> str:
        return self._name

    def size(self) -> QSize:
        return self._size


def test_panels_are_remembered_for_each_screen(program, open_module, monkeypatch):
    first = open_module(2, 3, 3)
    desk, lap = Screen("desk", 2560, 1440), Screen("lap", 1366, 768)
    monkeypatch.setattr(type(first.window), "screen", lambda _: lap)
    first.docks["findings"].hide()
    first.places.remember()
    assert not open_module(2, 3, 3).docks["findings"].isVisible()
    monkeypatch.setattr(type(first.window), "screen", lambda _: desk)
    assert open_module(2, 3, 3).docks["findings"].isVisible()


def test_the_same_screen_by_another_resolution_is_another_place():
    assert memory.of_screen("panels", Screen("desk", 2560, 1440)) != memory.of_screen(
        "panels", Screen("desk", 1920, 1080)
    )


@pytest.fixture
def large_font(qapp):
    """As a system with its text at twice the size."""
    before = qapp.font()
    font = QFont(before)
    font.setPointSizeF(2 * before.pointSizeF())
    QApplication.setFont(font)
    yield font
    QApplication.setFont(before)


def test_fields_grow_with_the_font(open_module, qapp, request):
    field = open_module(2, 3, 3).settings.fields["Insulation gap"]
    small = field.editor.minimumWidth(), field.sizeHint().height()
    request.getfixturevalue("large_font")
    large = open_module(2, 3, 3).settings.fields["Insulation gap"]
    assert large.editor.minimumWidth() > 1.5 * small[0]
    assert large.sizeHint().height() > 1.4 * small[1]


def test_with_large_text_the_window_still_fits_a_small_screen(open_module, large_font):
    window = open_module(2, 3, 3).window
    hint = window.minimumSizeHint()
    assert hint.height() <= 1080
    assert hint.width() <= 1920
