"""Replacing a file so that a power cut, a full disk or a crash leaves the old one or the new one, never half of one."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from pathlib import Path

from layout_app.model.errors import FileError

BACKUP_ENDING = "~"


def backup_path(path: Path) -> Path:
    """Return where the previous file is kept: ``rover.busweave~`` beside ``rover.busweave``, links followed.

    >>> backup_path(Path("/nowhere/rover.busweave")).name
    'rover.busweave~'
    """
    target = Path(os.path.realpath(path))
    return target.with_name(target.name + BACKUP_ENDING)


def replace_file(path: Path, data: bytes) -> None:
    """Write `data` to `path` in one step and keep what was there as its backup.

    The data goes to a file beside it and onto the disk before it takes the name. Permissions stay as they were and
    symbolic links are followed.

    Raises
    ------
    FileError : it could not be written; the file that was there is as it was
    """
    try:
        _replace(Path(os.path.realpath(path)), data)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileError(
            path, f"not saved: {reason}. Nothing there was changed. Save to another place, or free this one."
        ) from error


def _replace(target: Path, data: bytes) -> None:
    import tempfile  # reading, which is what most runs do, should not pay for it

    mode = _mode_of(target)
    with tempfile.TemporaryDirectory(prefix=".busweave-", dir=target.parent, ignore_cleanup_errors=True) as room:
        new = Path(room) / "new"
        _write_through(new, data)
        if mode is not None:
            new.chmod(mode)
            _keep_previous(target, Path(room) / "previous")
        new.replace(target)
    with contextlib.suppress(OSError):  # the file is in place; some file systems cannot sync a folder
        _sync_folder(target.parent)


def _mode_of(target: Path) -> int | None:
    """Return the permissions of an existing file, None when there is none; raise when it may not be replaced."""
    if not target.exists():
        return None
    if not target.is_file():
        raise OSError(errno.EISDIR, "a folder or device has this name")
    if not os.access(target, os.W_OK):
        raise OSError(errno.EACCES, "the file is write-protected")
    return stat.S_IMODE(target.stat().st_mode)


def _write_through(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _keep_previous(target: Path, spare: Path) -> None:
    """Give the present file its backup name as well; it loses its own only when the new one takes it."""
    try:
        os.link(target, spare)
    except OSError:  # a file system without hard links
        _write_through(spare, target.read_bytes())
        spare.chmod(stat.S_IMODE(target.stat().st_mode))
    spare.replace(backup_path(target))


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
