"""Reference: the layout the one being worked at is compared with: as it was when kept, or of a file."""

from __future__ import annotations

import time
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal

from layout_app.comparing import Comparison, Snapshot
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.window.background import Background
from layout_app.window.document import Document

translate = QCoreApplication.translate

TELL_MS = 30  # two frames: a stroke brings several news to a frame, and comparing takes some milliseconds


class Reference(QObject):
    """Holds a second document, or none. `changed` tells that it is another one or that a difference may be new."""

    changed = Signal()
    replaced = Signal()  # there is another reference, or none any more
    refused = Signal(str)
    crashed = Signal(object)

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self._document = document
        self.kept: Document | None = None
        self.name = ""
        self._comparison: Comparison | None = None
        self._before: Comparison | None = None  # lends what it found about parts that are the same
        self._tell_timer = QTimer(self, singleShot=True, interval=TELL_MS)
        self._tell_timer.timeout.connect(self.changed)
        self._loading = Background(self)
        self._loading.delivered.connect(lambda _, found: self._take(*found))
        self._loading.failed.connect(lambda _, error: self._fail(error))
        for signal in (document.derived_changed, document.layout_changed):
            signal.connect(self._forget_comparison)

    @property
    def comparison(self) -> Comparison | None:
        """What differs now, the reference being the first of the two; None without one."""
        if self._comparison is None and self.kept is not None:
            fresh = Comparison(Snapshot.of(self.kept), Snapshot.of(self._document))
            self._comparison = fresh if self._before is None else fresh.taking_over(self._before)
        return self._comparison

    def keep(self) -> None:
        """Compare with the layout as it is now."""
        name = translate("comparing", "{name}, as it was at {strftime}").format(
            name=self._document.current.name, strftime=time.strftime("%H:%M")
        )
        self._take(self._document.current, name)

    def load(self, path: Path) -> None:
        """Compare with a saved layout; `refused` tells when it cannot be read."""
        self._loading.start(lambda hand_over: hand_over((_loaded(path), path.name)))

    def drop(self) -> None:
        """Compare with nothing."""
        self._loading.cancel()
        self._put(None, "")

    def close(self) -> None:
        """End the work beside the window."""
        self._tell_timer.stop()
        self._loading.close()
        if self.kept is not None:
            self.kept.close()

    def _take(self, layout: Layout, name: str) -> None:
        kept = Document(layout, parent=self)
        kept.borrow(self._document)
        self._put(kept, name)
        kept.derived_changed.connect(self._forget_comparison)
        kept.crashed.connect(self.crashed)
        kept.start()

    def _put(self, kept: Document | None, name: str) -> None:
        before, self.kept, self.name = self.kept, kept, name
        self._comparison = self._before = None
        self.replaced.emit()
        self.changed.emit()
        if before is not None:
            before.close()
            before.deleteLater()

    def _fail(self, error: Exception) -> None:
        if isinstance(error, LayoutError):
            self.refused.emit(str(error))
        else:
            self.crashed.emit(error)

    def _forget_comparison(self) -> None:
        if self.kept is not None:
            self._before, self._comparison = self._comparison or self._before, None
            if not self._tell_timer.isActive():
                self._tell_timer.start()


def _loaded(path: Path) -> Layout:
    from layout_app.model.saved_file import load

    return load(path)
