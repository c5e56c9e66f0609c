"""What the tests of the window share: a program that remembers into a scratch folder, and windows on small modules."""

import pytest

from .modules import module


@pytest.fixture(autouse=True)
def scratch_folders(tmp_path, monkeypatch):
    """Nothing a test does may reach the user's own settings."""
    monkeypatch.delenv("BUSWEAVE_CONFIG_DIR", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


class _CrashedError(Exception):
    """The window reported an exception that is our own bug."""


@pytest.fixture
def program(qapp):
    """A program whose crashes fail the test."""
    from layout_app.window.app import Program

    program = Program()
    crashes = []
    program.crash = crashes.append
    yield program
    for window in list(program.windows):
        if window.workbench is not None:
            window.workbench.document._saved = window.workbench.document.current
        window.close()
        window.deleteLater()
    # what a test copied must not meet the next one, nor outlive Python: Qt's offscreen platform would free it at exit
    qapp.clipboard().clear()
    if crashes:
        raise _CrashedError from crashes[0]


@pytest.fixture
def open_module(program, qtbot):
    """Open a window on a module and wait until everything is worked out."""

    def open_it(*size: int):
        window = program.new_window()
        window.resize(1280, 800)
        window.show_layout(module(*size), None)
        qtbot.waitUntil(lambda: window.workbench.document.is_settled, timeout=15_000)
        return window.workbench

    return open_it


@pytest.fixture
def workbench(open_module):
    """The workbench on a module of 6 x 20 cells."""
    return open_module(6, 20, 10)
