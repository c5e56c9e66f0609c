"""Document: the layout a window shows, its history, what was derived from it, and its file."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, Signal

from layout_app.edits import Edit, History
from layout_app.edits.consequences import consequences, label_done, left_alone
from layout_app.edits.repairs import MendGroups
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.window.background import Background
from layout_app.window.derived import Derived
from layout_app.window.slow_edits import is_slow

translate = QCoreApplication.translate

MOST_LAID_OUT = 100


class Document(Derived):
    """Shows one layout at a time: the history's current one, or the preview of a gesture under way."""

    layout_changed = Signal()  # another layout is shown
    busy_changed = Signal(str)  # what is being worked at, or nothing
    history_changed = Signal()
    noted = Signal(str)  # an edit changed more than was asked for; says what
    spared = Signal(str)  # an edit left locked cells as they were; says which

    def __init__(self, layout: Layout, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._history, self.path = History(layout), path
        self.file_digest: str | None = None  # of what the file was known to hold when it was read or saved
        self._preview: Layout | None = None
        self._saved: Layout | None = layout if path is not None else None
        self._editing = Background(self)
        self._on_refused: Callable[[str], None] | None = None
        self._pending: tuple[Edit, Layout] | None = None
        # cells as the program laid them out, not placed or painted by hand; a file may hold either
        self._laid_out: deque[Cells] = deque([layout.cells] if path is None else [], maxlen=MOST_LAID_OUT)
        self._editing.delivered.connect(self._take_edited)
        self._editing.failed.connect(self._edit_failed)
        self._editing.finished.connect(lambda _: self.busy_changed.emit(""))

    # -- what is shown ------------------------------------------------------------------------------------------

    @property
    def layout(self) -> Layout:
        """The layout as shown: a gesture's preview, else the current one."""
        return self._preview or self._history.current

    @property
    def current(self) -> Layout:
        """The layout as it stands in the history."""
        return self._history.current

    @property
    def undo_label(self) -> str | None:
        """What undo would take back."""
        return self._history.undo_label

    @property
    def redo_label(self) -> str | None:
        """What redo would do again."""
        return self._history.redo_label

    @property
    def labels(self) -> tuple[str, ...]:
        """Names of all steps, oldest first, those taken back last."""
        return self._history.labels

    @property
    def step(self) -> int:
        """How many of them are done."""
        return self._history.step

    @property
    def is_modified(self) -> bool:
        """Whether the file, if there is one, differs from the layout."""
        return self._saved is not self._history.current

    def mark_saved(self, path: Path, digest: str | None = None) -> None:
        """Remember that the current layout is what the file holds."""
        self.path, self._saved, self.file_digest = path, self._history.current, digest
        self.history_changed.emit()

    def mark_untouched(self) -> None:
        """Remember that the layout, a copy of one kept elsewhere, may be given up without asking."""
        self._saved = self._history.current
        self.history_changed.emit()

    def mark_unsaved(self) -> None:
        """Remember that no file holds this layout, e.g. because it was recovered."""
        self._saved = None
        self._laid_out.clear()
        self.history_changed.emit()

    # -- edits --------------------------------------------------------------------------------------------------

    def request(self, edit: Edit, on_refused: Callable[[str], None] | None = None) -> None:
        """Do an edit, beside the window when it lays out anew; a refusal goes to `on_refused` or `refused`."""
        self.drop_preview()
        before = self._history.current
        if is_slow(edit, before):
            self._pending, self._on_refused = (edit, before), on_refused
            self.busy_changed.emit(f"{edit.label}…")
            self._editing.start(lambda hand_over: hand_over(edit.apply(before)))
            return
        try:
            after = edit.apply(before)
        except LayoutError as error:
            self._refuse(str(error), on_refused)
        else:
            self.record_edit(edit, before, after)

    def record_edit(self, edit: Edit, before: Layout, after: Layout) -> None:
        """Make what an edit gave the current layout, as one step; say which locked cells it left as they were."""
        self.record(label_done(edit, before), after)
        told = left_alone(edit, before) if after is not before else ""
        if told:
            self.spared.emit(told)

    def record(self, label: str, layout: Layout) -> None:
        """Make a layout the current one, as one step."""
        self._abandon_edit()
        self._preview = None
        self._history.record(label, layout)
        self._show()

    def preview(self, layout: Layout) -> None:
        """Show what a gesture under way would give."""
        if layout is not self.layout:
            self._preview = layout
            self._show(is_preview=True)

    def drop_preview(self) -> None:
        """Forget the gesture under way."""
        if self._preview is not None:
            self._preview = None
            self._show()

    def undo(self) -> None:
        """Take the last step back."""
        self._abandon_edit()
        self._preview = None
        self._history.undo()
        self._show()

    def redo(self) -> None:
        """Do the step taken back again."""
        self._abandon_edit()
        self._preview = None
        self._history.redo()
        self._show()

    def go_to(self, step: int) -> None:
        """Undo or redo until that many steps are done."""
        self._abandon_edit()
        self._preview = None
        self._history.go_to(step)
        self._show()

    def cancel_work(self) -> None:
        """Give up the laying-out under way, or else working out the metal, which then stays of before."""
        if self._pending is not None:
            self._abandon_edit()
        else:
            self._give_up()

    def resume_work(self) -> None:
        """Work out what was given up."""
        if self.is_stopped:
            self._show()

    def _abandon_edit(self) -> None:
        if self._pending is not None:
            self._pending = None
            self._editing.cancel()
            self.busy_changed.emit("")

    def _take_edited(self, _ticket: int, layout: Layout) -> None:
        edit, before = self._pending or (None, None)
        self._pending = None
        if edit is not None and before is self._history.current:
            self.record_edit(edit, before, layout)
            if not isinstance(edit, MendGroups):  # which trades a few cells
                self._note(edit, before, layout)

    def _note(self, edit: Edit, before: Layout, after: Layout) -> None:
        """Say what else changed when the program laid out anew, and how to have it back."""
        cells = before.cells  # locking makes other cells of the same places and groups
        laid_out = ((known.centres_mm, known.groups) for known in self._laid_out)
        is_by_hand = not any(cells.centres_mm is centres and cells.groups is groups for centres, groups in laid_out)
        told = consequences(edit, before, after, is_by_hand=is_by_hand)
        self._laid_out.append(after.cells)
        if told:
            self.noted.emit(
                translate("document", "{told} “Undo {label}” brings back what was.").format(
                    told=" ".join(told), label=edit.label[:1].lower() + edit.label[1:]
                )
            )

    def _edit_failed(self, _ticket: int, error: Exception) -> None:
        on_refused, self._pending = self._on_refused, None
        if isinstance(error, LayoutError):
            self._refuse(str(error), on_refused)
            self.layout_changed.emit()
        else:
            self.crashed.emit(error)

    def _refuse(self, message: str, on_refused: Callable[[str], None] | None) -> None:
        (on_refused or self.refused.emit)(message)

    # -- showing ------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Show the layout for the first time."""
        self._show()

    def _show(self, is_preview: bool = False) -> None:
        workings = self._expect(self.layout)
        self.layout_changed.emit()
        if not is_preview:
            self.history_changed.emit()
        self._work_out(workings, drops_running=not is_preview)

    def close(self) -> None:
        """End the work beside the window."""
        super().close()
        self._editing.close()
