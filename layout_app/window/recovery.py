"""Recovery: where unsaved work is kept while it is being done, so that the next start can offer it after a crash.

Every open document has a folder of its own there: the layout, a note of the file it belongs to, and a lock that the
running program holds and the system lets go when the program ends, however it ends. What no one holds is offered.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
import tempfile
import threading
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from platformdirs import user_data_path
from PySide6.QtCore import QCoreApplication

from layout_app.model.atomic import replace_file
from layout_app.model.saved_file import ENDING

translate = QCoreApplication.translate

LAYOUT, NOTE, LOCK = f"layout{ENDING}", "note.json", "lock"
ABANDONED_AFTER_S = 3600.0  # a folder without a layout may be one that another program is just making


@dataclass(frozen=True, slots=True)
class Note:
    """What a kept layout is: its name, the file it belongs to if any, and what that file held when it was read."""

    name: str
    origin: str | None = None
    digest: str | None = None


@dataclass(frozen=True, slots=True)
class Offer:
    """Work that a program left behind."""

    folder: Path
    note: Note
    kept_at: float  # seconds since the epoch

    @property
    def layout_path(self) -> Path:
        """The layout as a plain file."""
        return self.folder / LAYOUT


class Slot:
    """The folder of one open document. While it is held, no other program offers what is in it."""

    def __init__(self, folder: Path, lock: IO[bytes]) -> None:
        self.folder, self._lock = folder, lock
        self._note: Note | None = None
        self._writing, self._newest, self._is_gone = threading.Lock(), 0, False

    @property
    def layout_path(self) -> Path:
        """Where the layout is kept."""
        return self.folder / LAYOUT

    def write(self, data: bytes, note: Note, order: int) -> None:
        """Keep a layout's file text in one step, unless one of a higher `order` is kept already. From any thread.

        Raises
        ------
        FileError : it could not be written; what was kept before still is
        """
        with self._writing:
            if self._is_gone or order < self._newest:
                return
            if note != self._note:
                replace_file(self.folder / NOTE, json.dumps(asdict(note)).encode())
                self._note = note
            replace_file(self.layout_path, data)
            self._newest = order

    def release(self) -> None:
        """Let go, leaving the work to be offered."""
        self._lock.close()

    def discard(self) -> None:
        """Take the work away and let go; the layout goes first, so that a half-emptied folder offers nothing."""
        with self._writing:
            self._is_gone = True
            with contextlib.suppress(OSError):
                self.layout_path.unlink(missing_ok=True)
            shutil.rmtree(self.folder, ignore_errors=True)
        self._lock.close()
        shutil.rmtree(self.folder, ignore_errors=True)  # where an open file cannot be deleted, now it can


def folder() -> Path:
    """Return where work is kept."""
    return user_data_path("busweave") / "recovered"


def new_slot(name: str) -> Slot:
    """Return a fresh folder for a document; raises OSError when none can be made."""
    word = "".join(letter if letter.isalnum() else "_" for letter in name)[:40] or "layout"
    folder().mkdir(parents=True, exist_ok=True)
    place = Path(tempfile.mkdtemp(prefix=f"{word}-{time.strftime('%Y%m%d-%H%M%S')}-", dir=folder()))
    lock = _locked(place)
    if lock is None:
        raise OSError(translate("recovery", "{place} cannot be locked").format(place=place))
    return Slot(place, lock)


def offers() -> list[Offer]:
    """Return the work that no running program holds, newest first."""
    found = []
    with contextlib.suppress(OSError):
        for place in folder().iterdir():
            offer = _offer(place)
            if offer is not None:
                found.append(offer)
    return sorted(found, key=lambda offer: offer.kept_at, reverse=True)


def claim(offer: Offer) -> Slot | None:
    """Return the folder of an offer as one's own; None when somebody else was quicker."""
    lock = _locked(offer.folder)
    if lock is not None and not offer.layout_path.is_file():
        lock.close()
        lock = None
    return None if lock is None else Slot(offer.folder, lock)


def _offer(place: Path) -> Offer | None:
    lock = _locked(place)
    if lock is None:
        return None
    try:
        layout = place / LAYOUT
        if layout.is_file():
            return Offer(place, _note(place / NOTE), layout.stat().st_mtime)
        if time.time() - place.stat().st_mtime > ABANDONED_AFTER_S:
            shutil.rmtree(place, ignore_errors=True)
        return None
    finally:
        lock.close()


def _note(path: Path) -> Note:
    """Return the note of a layout; a note that cannot be read must not keep the layout from being offered."""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return Note(str(told["name"]), told["origin"], told["digest"])
    except (OSError, ValueError, KeyError, TypeError):
        return Note("layout")


def _locked(place: Path) -> IO[bytes] | None:
    """Return the folder's lock file, locked; None when another program holds it or there is no such folder."""
    try:
        file = (place / LOCK).open("ab")
    except OSError:
        return None
    try:
        _lock(file)
    except OSError:
        file.close()
        return None
    return file


def _lock(file: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        os.lseek(file.fileno(), 0, os.SEEK_SET)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
