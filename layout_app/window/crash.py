"""When the program fails: keep the work, then say plainly what happened."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QMessageBox

if TYPE_CHECKING:
    from layout_app.window.main_window import MainWindow

translate = QCoreApplication.translate


def keep_work(windows: Sequence[MainWindow]) -> list[Path]:
    """Keep every layout with unsaved changes for the next start and return where."""
    benches = [window.workbench for window in windows if window.workbench is not None]
    kept = [bench.filing.autosave.keep_now() for bench in benches]
    return [path for path in kept if path is not None]


def show_crash(copies: Sequence[Path], details: str) -> None:
    """Say that the program failed, where the work is, and what to send to us."""
    box = QMessageBox()
    box.setIcon(QMessageBox.Icon.Critical)
    box.setWindowTitle("Busweave")
    box.setText(translate("crash", "Something in Busweave failed. This is our mistake, not yours."))
    kept = "\n".join(str(path) for path in copies)
    box.setInformativeText(
        translate(
            "crash",
            "Your work was copied to:\n{kept}\nShould the program end, its next start offers it. You "
            "may go on working, but save under another name first.",
        ).format(kept=kept)
        if copies
        else translate("crash", "No unsaved work was lost. You may go on working.")
    )
    box.setDetailedText(details)
    box.exec()
