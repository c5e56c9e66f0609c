"""Filing: a document and its file. Saving, keeping work for after a crash, and what others do to the file meanwhile."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QObject
from PySide6.QtWidgets import QFileDialog, QMessageBox

from layout_app.model.errors import FileError, LayoutError
from layout_app.window import memory
from layout_app.window.autosave import Autosave
from layout_app.window.document import Document
from layout_app.window.file_watch import FileWatch, digest
from layout_app.window.message_bar import MessageBar
from layout_app.window.recovery import Slot

if TYPE_CHECKING:
    from layout_app.window.main_window import MainWindow

ENDING = ".busweave"
QUESTION = "file on disk"
translate = QCoreApplication.translate


class Filing(QObject):
    """Saves a document; asks in the message bar when its file is not what it was."""

    def __init__(self, window: MainWindow, document: Document, message: MessageBar, slot: Slot | None = None) -> None:
        super().__init__(document)
        self._window, self._document, self._message = window, document, message
        self.autosave = Autosave(document, slot)
        self.autosave.failed.connect(message.tell)
        self.watch = FileWatch(self)
        self.watch.changed.connect(self._changed_elsewhere)
        self.watch.vanished.connect(self._vanished)
        if document.path is not None:
            self.watch.follow(document.path, document.file_digest)

    # -- saving -------------------------------------------------------------------------------------------------

    def save(self) -> bool:
        """Save to the document's file, asking for one if there is none; return whether it was saved."""
        path = self._document.path
        if path is None:
            return self.save_as()
        answer = self._ask_to_replace(path) if self.watch.is_changed() else "replace"
        return self.save_to(path) if answer == "replace" else answer == "elsewhere" and self.save_as()

    def save_as(self) -> bool:
        """Ask for a file and save to it."""
        start = self._document.path or Path(self._window._folder()) / f"{self._document.current.name}{ENDING}"
        words = translate("filing", "Save layout"), translate("filing", "Layouts") + f" (*{ENDING})"
        name, _ = QFileDialog.getSaveFileName(self._window, words[0], str(start), words[1])
        if not name:
            return False
        path = Path(name)
        if path.suffix != ENDING:  # the dialog has not asked about the name with its ending
            path = path.with_name(path.name + ENDING)
            if path.exists() and self._ask_to_replace(path) != "replace":
                return False
        return self.save_to(path)

    def save_to(self, path: Path) -> bool:
        """Save to a file; when it cannot be, say why and offer another place. Return whether it was saved."""
        from layout_app.model.atomic import replace_file
        from layout_app.model.saved_file import dumps

        data = dumps(self._document.current).encode()
        try:
            replace_file(path, data)
        except FileError as error:
            self._message.tell(why_not_saved(path, error), answers={self._elsewhere(): self.save_as})
            return False
        self.watch.follow(path, digest(data))
        self._message.withdraw(QUESTION)
        self._document.mark_saved(path, digest(data))
        memory.remember_file(path)
        return True

    def _elsewhere(self) -> str:
        return translate("filing", "Save elsewhere…")

    def _ask_to_replace(self, path: Path) -> str:
        """Return "replace", "elsewhere" or nothing."""
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.Warning)
        box.setWindowTitle("Busweave")
        box.setText(translate("filing", "“{name}” holds something else than you opened.").format(name=path.name))
        told = translate("filing", "Replacing it keeps that version beside it as {name}~.").format(name=path.name)
        box.setInformativeText(told)
        replace = box.addButton(translate("filing", "Replace"), QMessageBox.ButtonRole.DestructiveRole)
        elsewhere = box.addButton(self._elsewhere(), QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(elsewhere)
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.exec()
        return {replace: "replace", elsewhere: "elsewhere"}.get(box.clickedButton(), "")

    # -- what others do -----------------------------------------------------------------------------------------

    def _changed_elsewhere(self) -> None:
        name = self._document.path.name
        is_unsaved = self._document.is_modified
        self._document.mark_unsaved()
        told = translate("filing", "Another program has changed {name}.").format(name=name)
        more = translate("filing", "Loading it is a step you can undo.") if is_unsaved else ""
        self._message.ask(
            QUESTION,
            f"{told} {more}".strip(),
            {translate("filing", "Load it"): self._load_again, translate("filing", "Keep mine"): self.watch.accept},
        )

    def _load_again(self) -> None:
        from layout_app.model.saved_file import loads

        path = self._document.path
        try:
            data = path.read_bytes()
            layout = loads(data.decode(), str(path))
        except (OSError, UnicodeDecodeError, LayoutError) as error:
            self._message.tell(str(error))
            return
        self._document.record(translate("filing", "Load the changed file"), layout)
        self.watch.follow(path, digest(data))
        self._document.mark_saved(path, digest(data))

    def _vanished(self) -> None:
        self._document.mark_unsaved()
        told = translate("filing", "{name} is no longer where it was. Your work is still here.")
        self._message.ask(
            QUESTION,
            told.format(name=self._document.path.name),
            {translate("filing", "Save it there again"): self.save, self._elsewhere(): self.save_as},
        )


def why_not_saved(path: Path, error: FileError) -> str:
    """Return what hindered saving, in plain words where the reason is known."""
    cause = error.__cause__
    number = cause.errno if isinstance(cause, OSError) else None
    reasons = {
        errno.ENOSPC: translate("filing", "the disk is full"),
        getattr(errno, "EDQUOT", -1): translate("filing", "your share of the disk is used up"),
        errno.EROFS: translate("filing", "this place can only be read"),
        errno.EACCES: translate("filing", "you may not write there"),
        errno.EPERM: translate("filing", "you may not write there"),
        errno.ENOENT: translate("filing", "its folder is no longer there"),
        errno.ENOTDIR: translate("filing", "its folder is no longer there"),
        errno.ENAMETOOLONG: translate("filing", "the name is too long for this disk"),
        errno.EISDIR: translate("filing", "a folder or device has this name"),
    }
    reason = reasons.get(number)
    if reason is None:
        return str(error)
    told = translate(
        "filing", "{path} was not saved: {reason}. Your work is still here, and what was there is as before."
    )
    return told.format(path=path, reason=reason)
