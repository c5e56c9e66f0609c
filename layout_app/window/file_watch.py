"""FileWatch: notices when another program changes, replaces or removes the file that is open here."""

from __future__ import annotations

from hashlib import blake2b
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

SETTLED_MS = 300  # programs often write in several steps; the last one counts
NEVER, GONE = (), (0,)  # stamps of a file not looked at yet, and of none


def digest(data: bytes) -> str:
    """Return a short text that only the same bytes give."""
    return blake2b(data, digest_size=16).hexdigest()


def digest_of(path: Path) -> str | None:
    """Return the digest of a file, None when it cannot be read."""
    try:
        return digest(path.read_bytes())
    except OSError:
        return None


class FileWatch(QObject):
    """Follows one file. What we write ourselves is told to it by `follow` and makes no signal."""

    changed = Signal()
    vanished = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._path: Path | None = None
        self._known: str | None = None
        self._told: str | None = None  # what was last signalled
        self._seen: tuple[int, ...] = NEVER
        self._watcher = QFileSystemWatcher(self)
        self._timer = QTimer(self, singleShot=True, interval=SETTLED_MS)
        self._timer.timeout.connect(self.look)
        self._watcher.fileChanged.connect(lambda _: self._timer.start())
        self._watcher.directoryChanged.connect(lambda _: self._timer.start())

    def follow(self, path: Path, known: str | None) -> None:
        """From now on watch this file; `known` is the digest of what is known to be in it."""
        watched = self._watcher.files() + self._watcher.directories()
        if watched:
            self._watcher.removePaths(watched)
        self._path, self._known, self._told, self._seen = path, known, known, NEVER
        self._watch()

    def accept(self) -> None:
        """What was signalled is known now: it may be replaced without another word."""
        self._known = self._told

    def is_changed(self) -> bool:
        """Whether the file is there and holds something we do not know."""
        found = digest_of(self._path) if self._path is not None else None
        return found is not None and found != self._known

    def look(self) -> None:
        """Compare the file with what is known of it; drives that tell nothing are looked at when a window is used."""
        if self._path is None:
            return
        self._watch()
        seen = _stamp(self._path)
        if seen == self._seen:
            return
        self._seen = seen
        found = digest_of(self._path)
        if found == self._told:
            return
        self._told = found
        (self.changed if found is not None else self.vanished).emit()

    def _watch(self) -> None:
        """A file that was replaced is no longer watched, so it is named anew; its folder tells when it comes back."""
        wanted = [str(self._path), str(self._path.parent)]
        watched = self._watcher.files() + self._watcher.directories()
        fresh = [name for name in wanted if name not in watched and Path(name).exists()]
        if fresh:
            self._watcher.addPaths(fresh)


def _stamp(path: Path) -> tuple[int, ...]:
    """Return what changes when a file does, without reading it."""
    try:
        status = path.stat()
    except OSError:
        return GONE
    return status.st_ino, status.st_size, status.st_mtime_ns
