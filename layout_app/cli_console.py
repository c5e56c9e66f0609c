"""How the command line speaks: plain lines on stdout, trouble and progress on stderr, never a traceback."""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

PATIENCE_S = 1.0  # nobody needs to be told about anything quicker
TICK_S = 0.2


def prepare_streams() -> None:
    """Let characters that a terminal cannot show come out as question marks instead of ending the program."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def say(text: str = "") -> None:
    """Write a line to stdout; a reader that has gone away (`| head`) is no error."""
    try:
        sys.stdout.write(text + "\n")
    except BrokenPipeError:
        _let_go_of_stdout()


def finish_saying() -> None:
    """Write out what is still held back."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _let_go_of_stdout()


def _let_go_of_stdout() -> None:
    """Send the rest to nowhere, so that the interpreter's own last flush stays quiet too."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def say_json(value: object) -> None:
    """Write a value as JSON to stdout; plain ASCII, so that no terminal setting can spoil it."""
    say(json.dumps(value, indent=2, allow_nan=False))


def say_table(rows: Sequence[Sequence[str]], right: str = "") -> None:
    """Write rows as columns, the first row as heads; `right` has an r for each column flushed right, e.g. "l r"."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    sides = right.split()
    for row in rows:
        cells = [
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(row, widths, sides, strict=True)
        ]
        say("  ".join(cells).rstrip())


def complain(message: object) -> None:
    """Write one line about what went wrong to stderr."""
    sys.stderr.write(f"busweave: {' '.join(str(message).split())}\n")


def write_crash_log(text: str) -> Path | None:
    """Keep the details of a crash in a file of their own; None when nothing can be written anywhere."""
    import tempfile

    from platformdirs import user_log_path

    name = f"busweave-crash-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}.log"
    for folder in (user_log_path("busweave"), Path(tempfile.gettempdir())):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
        except OSError:
            continue
        return folder / name
    return None


class Progress:
    """Shows on a terminal what is being done and for how long, once it takes longer than a second.

    >>> with Progress("Filling the housing") as progress:
    ...     progress.now("Forming groups")
    """

    def __init__(self, what: str) -> None:
        self._what, self._share, self._started = what, "", time.monotonic()
        self._is_shown = sys.stderr is not None and sys.stderr.isatty()
        self._done = threading.Event()
        self._width = 0
        self._ticker = threading.Thread(target=self._tick, daemon=True)

    def __enter__(self) -> Progress:
        if self._is_shown:
            self._ticker.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._done.set()
        if self._is_shown:
            self._ticker.join()
            if self._width:
                sys.stderr.write(f"\r{' ' * self._width}\r")
                sys.stderr.flush()

    def now(self, what: str) -> None:
        """Say what comes next."""
        self._what, self._share = what, ""

    def done(self, share: float) -> None:
        """Say how much of it is done, 0 to 1."""
        self._share = f" {share:.0%}".replace("%", " %")

    def _tick(self) -> None:
        while not self._done.wait(TICK_S):
            seconds = time.monotonic() - self._started
            if seconds >= PATIENCE_S:
                line = f"{self._what} …{self._share} {seconds:.0f} s"
                sys.stderr.write(f"\r{line.ljust(self._width)}")
                sys.stderr.flush()
                self._width = max(self._width, len(line))
