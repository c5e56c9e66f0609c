"""The program: its windows, and what happens when something fails."""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from layout_app.window.icons import app_icon
from layout_app.window.main_window import MainWindow

STYLE = """
QDockWidget::title { padding: 6px 10px; }
QToolBar { spacing: 3px; padding: 3px 6px; border: 0; }
QStatusBar::item { border: 0; }
"""


class Program:
    """Keeps the windows. Failures that are our own bug come to `crash`."""

    def __init__(self) -> None:
        self.windows: list[MainWindow] = []
        self._is_failing = False

    def new_window(self) -> MainWindow:
        """Open one more window, a little beside the last one."""
        window = MainWindow(self)
        if self.windows:
            window.move(self.windows[-1].pos().x() + 32, self.windows[-1].pos().y() + 32)
        self.windows.append(window)
        window.show()
        return window

    def forget(self, window: MainWindow) -> None:
        """A window was closed."""
        if window in self.windows:
            self.windows.remove(window)

    def quit(self) -> None:
        """Close all windows, each asking about unsaved changes."""
        for window in list(self.windows):
            if not window.close():
                return

    def crash(self, error: BaseException) -> None:
        """Keep the work and say what happened."""
        self.excepthook(type(error), error, error.__traceback__)

    def excepthook(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """Take an exception nobody caught: keep a copy of every unsaved layout, then tell."""
        if issubclass(kind, KeyboardInterrupt):
            self.quit()
            return
        details = "".join(traceback.format_exception(kind, error, trace))
        sys.stderr.write(details)
        if self._is_failing:  # the dialog itself fails: do not open another
            return
        self._is_failing = True
        try:
            from layout_app.window.crash import keep_work, show_crash

            show_crash(keep_work(self.windows), details)
        finally:
            self._is_failing = False


def run(paths: Sequence[Path]) -> int:
    """Open one window for each path (a layout or a housing drawing), or the start page; return the exit code."""
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName("busweave")
    app.setApplicationDisplayName("Busweave")
    app.setDesktopFileName("busweave")
    app.setWindowIcon(app_icon())
    app.setStyleSheet(STYLE)
    program = Program()
    sys.excepthook = program.excepthook
    for path in paths:
        program.new_window().open_path(Path(path))
    if not paths:
        program.new_window()
    signal.signal(signal.SIGINT, lambda *_: program.quit())
    heartbeat = QTimer(interval=250)  # lets Python see Ctrl+C while Qt waits
    heartbeat.timeout.connect(lambda: None)
    heartbeat.start()
    return app.exec()
