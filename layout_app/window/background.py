"""Work beside the window: one job at a time, the newest waiting one replaces the one that waited before."""

from __future__ import annotations

import gc
import sys
import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal

COLLECT_EVERY_MS = 400
SWITCH_EVERY_S = 0.0005  # Python's 5 ms let the window wait that long for every call into Qt while a job runs
HandOver = Callable[[Any], bool]  # hands a result to the window's thread; tells whether more of it is wanted
Job = Callable[[HandOver], None]


class Background(QObject):
    """Runs jobs in a thread of its own. Results of a job that was replaced or cancelled are dropped.

    `delivered(ticket, result)` and `failed(ticket, error)` arrive in the thread this object lives in.
    """

    delivered = Signal(int, object)
    failed = Signal(int, object)
    finished = Signal(int)
    _result = Signal(int, object)
    _error = Signal(int, object)
    _end = Signal(int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._condition = threading.Condition()
        self._waiting: tuple[int, Job] | None = None
        self._newest, self._oldest_wanted, self._is_closed = 0, 0, False
        self._thread: threading.Thread | None = None
        self._result.connect(self._pass_result)
        self._error.connect(self._pass_error)
        self._end.connect(self._pass_end)

    def start(self, job: Job, *, drops_running: bool = True) -> int:
        """Queue a job, dropping any that waits and, unless told otherwise, what the running one still gives."""
        if self._thread is None:
            _collect_garbage_here()
            sys.setswitchinterval(SWITCH_EVERY_S)
            self._thread = threading.Thread(target=self._run, name="workings", daemon=True)
            self._thread.start()
        with self._condition:
            self._newest += 1
            if drops_running:
                self._oldest_wanted = self._newest
            self._waiting = (self._newest, job)
            self._condition.notify()
            return self._newest

    def cancel(self) -> None:
        """Drop the waiting job and the results of the running one."""
        with self._condition:
            self._newest += 1
            self._oldest_wanted, self._waiting = self._newest, None

    def close(self) -> None:
        """Let the thread end after the job it is at; nothing is delivered any more."""
        with self._condition:
            self._is_closed, self._waiting = True, None
            self._condition.notify()
        if self._thread is not None:
            self._thread.join(timeout=1.0)  # a longer job ends by itself, unheard

    def _run(self) -> None:
        while True:
            with self._condition:
                while self._waiting is None and not self._is_closed:
                    self._condition.wait()
                if self._is_closed:
                    return
                (ticket, job), self._waiting = self._waiting, None
            self._do(ticket, job)

    def _do(self, ticket: int, job: Job) -> None:
        def hand_over(result: Any) -> bool:
            self._tell(self._result, ticket, result)
            return ticket == self._newest and not self._is_closed

        try:
            job(hand_over)
        except Exception as error:  # shown by the window: as a message or in the crash dialog
            self._tell(self._error, ticket, error)
        finally:
            self._tell(self._end, ticket)

    def _tell(self, signal: Any, *values: Any) -> None:
        with self._condition:
            if not self._is_closed:
                signal.emit(*values)

    def _pass_result(self, ticket: int, result: object) -> None:
        if ticket >= self._oldest_wanted and not self._is_closed:
            self.delivered.emit(ticket, result)

    def _pass_error(self, ticket: int, error: object) -> None:
        if ticket >= self._oldest_wanted and not self._is_closed:
            self.failed.emit(ticket, error)

    def _pass_end(self, ticket: int) -> None:
        if ticket == self._newest and not self._is_closed:
            self.finished.emit(ticket)


def _collect_garbage_here() -> None:
    """From now on collect garbage in the window's thread only.

    Python collects cycles in whatever thread happens to allocate; a widget that is freed in any thread but the
    window's brings Qt down.
    """
    application = QCoreApplication.instance()
    if application is None or not gc.isenabled():
        return
    gc.disable()
    timer = QTimer(application, interval=COLLECT_EVERY_MS)
    timer.timeout.connect(_collect_if_due)
    timer.start()


def _collect_if_due() -> None:
    for generation in (2, 1, 0):
        if gc.get_count()[generation] > gc.get_threshold()[generation]:
            gc.collect(generation)
            return
