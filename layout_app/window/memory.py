"""What the program remembers between sittings: recent files, and where the panels stood."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtGui import QScreen

from layout_app.model.catalogues import settings_folder

MOST_RECENT = 8


def settings() -> QSettings:
    """Return the settings file of the user."""
    return QSettings(str(settings_folder() / "window.ini"), QSettings.Format.IniFormat)


def recent_files() -> list[Path]:
    """Return the files opened or saved last, newest first, those that are gone left out."""
    names = settings().value("recent", [], type=list)
    return [path for path in map(Path, names) if path.is_file()]


def remember_file(path: Path) -> None:
    """Put a file first among the recent ones."""
    path = path.resolve()
    files = [path, *(other for other in recent_files() if other != path)][:MOST_RECENT]
    settings().setValue("recent", [str(file) for file in files])


def of_screen(name: str, screen: QScreen) -> str:
    """Return the key under which something is remembered for one screen: what fits a large one does not fit a small."""
    size = screen.size()
    return f"screens/{screen.name() or 'screen'}_{size.width()}x{size.height()}/{name}".replace(" ", "_")
