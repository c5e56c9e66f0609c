"""What the program remembers between sittings: recent files, where the panels stood, work saved in an emergency."""

from __future__ import annotations

import time
from pathlib import Path

from platformdirs import user_config_path, user_data_path
from PySide6.QtCore import QSettings

from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.saved_file import save

MOST_RECENT = 8


def settings() -> QSettings:
    """Return the settings file of the user."""
    return QSettings(str(user_config_path("busweave") / "window.ini"), QSettings.Format.IniFormat)


def recent_files() -> list[Path]:
    """Return the files opened or saved last, newest first, those that are gone left out."""
    names = settings().value("recent", [], type=list)
    return [path for path in map(Path, names) if path.is_file()]


def remember_file(path: Path) -> None:
    """Put a file first among the recent ones."""
    path = path.resolve()
    files = [path, *(other for other in recent_files() if other != path)][:MOST_RECENT]
    settings().setValue("recent", [str(file) for file in files])


def recovery_folder() -> Path:
    """Return where copies go when the program fails."""
    return user_data_path("busweave") / "recovered"


def recovered_files() -> list[Path]:
    """Return the copies saved when the program failed, newest first."""
    return sorted(recovery_folder().glob("*.busweave"), key=lambda path: path.stat().st_mtime, reverse=True)


def save_recovery(layout: Layout) -> Path | None:
    """Save a copy of a layout in an emergency and return its path; None when even that fails."""
    word = "".join(letter if letter.isalnum() else "_" for letter in layout.name)[:40] or "layout"
    path = recovery_folder() / f"{word}-{time.strftime('%Y%m%d-%H%M%S')}.busweave"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        save(layout, path)
    except (OSError, LayoutError):
        return None
    return path
