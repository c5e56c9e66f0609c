"""Asking: boxes of a window: which file to open, what about unsaved changes, and what the program is."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from layout_app import __version__
from layout_app.window.document import Document
from layout_app.window.start_page import CAUTION

translate = QCoreApplication.translate
LAYOUTS, DRAWINGS = (
    QT_TRANSLATE_NOOP("window", "Layouts (*.busweave)"),
    QT_TRANSLATE_NOOP("window", "Housing drawings (*.dxf)"),
)


def file_to_open(window: QWidget, folder: str) -> Path | None:
    """Ask for a layout or a drawing; None when nothing was chosen."""
    layouts, drawings = translate("window", LAYOUTS), translate("window", DRAWINGS)
    both = translate("window", "Layouts and drawings (*.busweave *.dxf)")
    name, _ = QFileDialog.getOpenFileName(window, translate("window", "Open"), folder, f"{both};;{layouts};;{drawings}")
    return Path(name) if name else None


def drawing_to_open(window: QWidget, folder: str) -> Path | None:
    """Ask for a housing drawing; None when nothing was chosen."""
    title = translate("window", "Housing drawing")
    name, _ = QFileDialog.getOpenFileName(window, title, folder, translate("window", DRAWINGS))
    return Path(name) if name else None


def what_about_changes(window: QWidget, document: Document) -> str:
    """Return "save", "discard", or nothing when the window is to stay."""
    box = QMessageBox(window)
    box.setIcon(QMessageBox.Icon.Question)
    box.setWindowTitle("Busweave")
    box.setText(translate("window", "Save the changes to “{name}”?").format(name=document.current.name))
    where = (
        translate("window", "They go to {path}.").format(path=document.path)
        if document.path
        else translate("window", "It has no file yet; one is asked for.")
    )
    box.setInformativeText(translate("window", "{where} Without saving they are lost.").format(where=where))
    buttons = QMessageBox.StandardButton
    box.setStandardButtons(buttons.Save | buttons.Discard | buttons.Cancel)
    box.setDefaultButton(buttons.Save)
    return {buttons.Save: "save", buttons.Discard: "discard"}.get(box.exec(), "")


def tell_about(window: QWidget) -> None:
    """Say what the program is and is not."""
    words = translate(
        "about", "Cell arrangements, parallel groups and busbar segments for modules of cylindrical cells."
    )
    told = translate("window", "<b>Busweave</b> {version}<p>{words}</p><p>{caution}</p>")
    told = told.format(version=__version__, words=words, caution=translate("start", CAUTION))
    QMessageBox.about(window, translate("about", "About Busweave"), told)
