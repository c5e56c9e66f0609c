"""The program: its windows, and what happens when something fails."""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QSessionManager
from PySide6.QtWidgets import QApplication

from layout_app.window import appearance, walk
from layout_app.window.help_window import Help
from layout_app.window.icons import app_icon
from layout_app.window.main_window import MainWindow
from layout_app.window.words import install_translations


class Program:
    """Keeps the windows. Failures that are our own bug come to `crash`."""

    def __init__(self) -> None:
        self.windows: list[MainWindow] = []
        self.help = Help()
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
        if not self.windows:
            self.help.close()

    def walk(self) -> None:
        """Lead through a whole job on a sample, in a window of its own."""
        walk.begin(self)

    def quit(self) -> None:
        """Close all windows, each asking about unsaved changes."""
        for window in list(self.windows):
            if not window.close():
                return

    def keep_work(self) -> None:
        """Keep all unsaved work for the next start, at once."""
        from layout_app.window.crash import keep_work

        keep_work(self.windows)

    def end_session(self, session: QSessionManager) -> None:
        """The desktop ends the session: ask about unsaved changes if it lets us, keep the work in any case."""
        self.keep_work()
        if session.allowsInteraction():
            is_free = all(window.may_close() for window in list(self.windows))
            session.release()
            if not is_free:
                session.cancel()
                return
            for window in self.windows:
                if window.workbench is not None:  # saved, or given up when asked
                    window.workbench.document.mark_untouched()

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
    install_translations(app)
    appearance.show(appearance.chosen())
    appearance.follow_desktop()
    program = Program()
    sys.excepthook = program.excepthook
    for path in paths:
        program.new_window().open_path(Path(path))
    if not paths:
        program.new_window()
        walk.offer(program)
    if paths and program.windows:
        program.windows[0].offer_recovered()
    app.commitDataRequest.connect(program.end_session, Qt.ConnectionType.DirectConnection)
    _heed_signals(app, program)
    heartbeat = QTimer(interval=250)  # lets Python see Ctrl+C while Qt waits
    heartbeat.timeout.connect(lambda: None)
    heartbeat.start()
    return app.exec()


def _heed_signals(app: QApplication, program: Program) -> None:
    """Ctrl+C asks as closing does; where nobody can be asked any more the work is kept for the next start."""

    def end(number: int, _frame: object) -> None:
        program.keep_work()
        app.exit(128 + number)

    signal.signal(signal.SIGINT, lambda *_: program.quit())
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
