"""Autosave: keeps a document's unsaved work on disk a few seconds behind the edits, beside the window."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal

from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.window.background import Background, HandOver
from layout_app.window.document import Document
from layout_app.window.recovery import Note, Slot, new_slot

translate = QCoreApplication.translate

AFTER_EDIT_MS = 3000  # ten seconds are promised; a slow disk may take some of them


class Autosave(QObject):
    """Watches a document. A saved or discarded document leaves nothing behind."""

    failed = Signal(str)  # says why nothing is kept; once, until it works again

    def __init__(self, document: Document, slot: Slot | None = None) -> None:
        super().__init__(document)
        self._document, self._slot = document, slot
        self._kept: Layout | None = document.current if slot is not None else None
        self._is_failing, self._n_kept = False, 0
        self._work = Background(self)
        self._work.delivered.connect(lambda _, layout: self._was_kept(layout))
        self._work.failed.connect(lambda _, error: self._fail(error))
        self._timer = QTimer(self, singleShot=True, interval=AFTER_EDIT_MS)
        self._timer.timeout.connect(self._keep)
        document.history_changed.connect(self._look)

    def _look(self) -> None:
        """Something was done: keep it soon, or forget what was kept when the file has it all."""
        if not self._document.is_modified:
            self._forget()
        elif self._document.current is not self._kept and not self._timer.isActive():
            self._timer.start()

    def _keep(self) -> None:
        layout, note, order = self._document.current, self._note(), self._next_order()
        try:
            slot = self._the_slot()
        except OSError as error:
            self._fail(error)
            return

        def write(hand_over: HandOver) -> None:
            from layout_app.model.saved_file import dumps

            slot.write(dumps(layout).encode(), note, order)
            hand_over(layout)

        self._work.start(write, drops_running=False)

    def _note(self) -> Note:
        document = self._document
        return Note(document.current.name, str(document.path) if document.path else None, document.file_digest)

    def _next_order(self) -> int:
        self._n_kept += 1
        return self._n_kept

    def _the_slot(self) -> Slot:
        if self._slot is None:
            self._slot = new_slot(self._document.current.name)
        return self._slot

    def _was_kept(self, layout: Layout) -> None:
        self._kept, self._is_failing = layout, False
        if not self._document.is_modified:
            self._forget()

    def _fail(self, error: Exception) -> None:
        if isinstance(error, LayoutError | OSError):
            if not self._is_failing:
                self.failed.emit(
                    translate("recovery", "Unsaved work cannot be kept for after a crash: {error} Save often.").format(
                        error=error
                    )
                )
            self._is_failing = True
        else:
            self._document.crashed.emit(error)

    def _forget(self) -> None:
        self._timer.stop()
        self._work.cancel()
        slot, self._slot, self._kept = self._slot, None, None
        if slot is not None:
            slot.discard()

    def keep_now(self) -> Path | None:
        """Keep the work at once, in an emergency; return where, or None when there is none or it cannot be kept."""
        from layout_app.model.saved_file import dumps

        if not self._document.is_modified:
            return None
        try:
            slot = self._the_slot()
            slot.write(dumps(self._document.current).encode(), self._note(), self._next_order())
        except (OSError, LayoutError):
            return None
        self._kept = self._document.current
        return slot.layout_path

    def end(self, *, leaves_work: bool = False) -> None:
        """The document is closed: what was saved or discarded is forgotten, or left to be offered when so asked."""
        self._timer.stop()
        self._work.close()
        if leaves_work:
            if self._slot is not None:
                self._slot.release()
            self._slot = None
        else:
            self._forget()
