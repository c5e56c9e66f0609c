"""Document: the layout a window shows, its history, what was derived from it, and its file."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from layout_app.checks.findings import Finding
from layout_app.edits import (
    BalanceGroups,
    ChangeCellType,
    ChangeFill,
    ChangeGrouping,
    DivideAnew,
    Edit,
    History,
    SetHousing,
    SplitGroup,
)
from layout_app.edits.consequences import consequences
from layout_app.edits.repairs import MendGroups
from layout_app.geometry.arrays import IntArray, PointArray
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.figures import Figure
from layout_app.plates.necks import Neck
from layout_app.plates.segments import Segment
from layout_app.window.background import Background, HandOver
from layout_app.window.colours import group_tints
from layout_app.window.metal_paths import MetalPaths
from layout_app.window.scene import NO_PLACES

STALE_AFTER_MS = 150  # a result that comes sooner replaces the old one without the old one being greyed first
MOST_LAID_OUT = 100
FEW_CELLS = 100  # a change of the groups of so many rebuilds a few segments: some milliseconds
LAYS_OUT_ANEW = (ChangeFill, ChangeGrouping, ChangeCellType, SetHousing, MendGroups)  # these may take a second
TRADES = (BalanceGroups, DivideAnew, SplitGroup)  # and so may these, on a large module
FEW_TRADED = 1500  # cells; among fewer, trades take some milliseconds
TELL_EVERY_S = 0.1
NO_PAIRS = np.zeros((0, 2), dtype=np.int64)


class Document(QObject):
    """Shows one layout at a time: the history's current one, or the preview of a gesture under way."""

    layout_changed = Signal()  # another layout is shown
    derived_changed = Signal()  # segments, figures, findings, sites or tints are new
    stale_changed = Signal()
    progress_changed = Signal(float)  # the share of the metal that is worked out, 0 to 1
    busy_changed = Signal(str)  # what is being worked at, or nothing
    history_changed = Signal()
    refused = Signal(str)  # an edit could not be done; says why
    noted = Signal(str)  # an edit changed more than was asked for; says what
    crashed = Signal(object)  # an exception that is our own bug

    def __init__(self, layout: Layout, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._history, self.path = History(layout), path
        self.file_digest: str | None = None  # of what the file was known to hold when it was read or saved
        self._preview: Layout | None = None
        self._saved: Layout | None = layout if path is not None else None
        self.segments: tuple[Segment, ...] = ()
        self.figures: tuple[Figure, ...] = ()
        self.findings: tuple[Finding, ...] = ()
        self.necks: tuple[Neck | None, ...] = ()
        self.free_sites_mm: PointArray = NO_PLACES
        self.tints: dict[int, int] = {}
        self.is_stale, self.is_settled = False, False
        self.is_stopped = False  # working the metal out was given up: it stays of before
        self._stop = threading.Event()
        self._latest: Any = None  # the last Workings whose segments are made: they lend what has not changed
        self._around = _Surroundings()
        self.metal_paths = MetalPaths()
        self._deriving, self._editing = Background(self), Background(self)
        self._on_refused: Callable[[str], None] | None = None
        self._pending: tuple[Edit, Layout] | None = None
        # cells as the program laid them out, not placed or painted by hand; a file may hold either
        self._laid_out: deque[Cells] = deque([layout.cells] if path is None else [], maxlen=MOST_LAID_OUT)
        self._stale_timer = QTimer(self, singleShot=True, interval=STALE_AFTER_MS)
        self._next: tuple[Any, bool] = (None, True)
        self._start_timer = QTimer(self, singleShot=True, interval=0)
        self._connect()

    def _connect(self) -> None:
        self._start_timer.timeout.connect(self._start_deriving)
        self._stale_timer.timeout.connect(lambda: self._set_stale(True))
        self._deriving.delivered.connect(self._take_derived)
        self._deriving.failed.connect(self._derive_failed)
        self._deriving.finished.connect(self._derive_finished)
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
        if isinstance(edit, LAYS_OUT_ANEW + TRADES) and not _is_quick(edit, before):
            self._pending, self._on_refused = (edit, before), on_refused
            self.busy_changed.emit(f"{edit.label}…")
            self._editing.start(lambda hand_over: hand_over(edit.apply(before)))
            return
        try:
            after = edit.apply(before)
        except LayoutError as error:
            self._refuse(str(error), on_refused)
        else:
            self.record(edit.label, after)

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
        elif self.is_stale and not self.is_stopped:
            self._stop.set()
            self._deriving.cancel()
            self.is_stopped, self.is_settled = True, True
            self.stale_changed.emit()

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
            self.record(edit.label, layout)
            if not isinstance(edit, MendGroups):  # which trades a few cells
                self._note(edit, before, layout)

    def _note(self, edit: Edit, before: Layout, after: Layout) -> None:
        """Say what else changed when the program laid out anew, and how to have it back."""
        is_by_hand = not any(before.cells is cells for cells in self._laid_out)
        told = consequences(edit, before, after, is_by_hand=is_by_hand)
        self._laid_out.append(after.cells)
        if told:
            self.noted.emit(f"{' '.join(told)} “Undo {edit.label[:1].lower()}{edit.label[1:]}” brings back what was.")

    def _edit_failed(self, _ticket: int, error: Exception) -> None:
        on_refused, self._pending = self._on_refused, None
        if isinstance(error, LayoutError):
            self._refuse(str(error), on_refused)
            self.layout_changed.emit()
        else:
            self.crashed.emit(error)

    def _refuse(self, message: str, on_refused: Callable[[str], None] | None) -> None:
        (on_refused or self.refused.emit)(message)

    # -- what follows from the layout ---------------------------------------------------------------------------

    def borrow(self, other: Document) -> None:
        """Let another document lend what it has worked out, where this one's layout has the same parts."""
        self._latest = other._latest

    def start(self) -> None:
        """Show the layout for the first time."""
        self._show()

    def _show(self, is_preview: bool = False) -> None:
        from layout_app.workings import Workings

        self.is_settled, self.is_stopped = False, False
        workings = Workings(self.layout, self._latest)
        if self._latest is not None and _is_small_change(self._latest.layout, self.layout):
            self._take_metal(workings)  # quicker than handing it to the other thread
        else:
            self._stale_timer.start()
        self.layout_changed.emit()
        if not is_preview:
            self.history_changed.emit()
        self._next = (workings, not is_preview)
        self._start_timer.start()

    def _start_deriving(self) -> None:
        """Begin once the window is painted: the two threads would hinder one another."""
        workings, drops_running = self._next
        around, paths = self._around, self.metal_paths
        stop = self._stop = threading.Event()
        # metal a moment behind the brush is better than none until the brush rests
        self._deriving.start(
            lambda hand_over: _derive(workings, around, paths, stop, hand_over), drops_running=drops_running
        )

    def _take_derived(self, _ticket: int, derived: dict[str, Any]) -> None:
        if "share" in derived:
            self.progress_changed.emit(derived["share"])
            return
        if "workings" in derived:
            self._take_metal(derived.pop("workings"))
        for name, value in derived.items():
            setattr(self, name, value)
        self.derived_changed.emit()

    def _take_metal(self, workings: Any) -> None:
        self.segments, self._latest = workings.segments, workings
        self._stale_timer.stop()
        self._set_stale(False)

    def _derive_failed(self, _ticket: int, error: Exception) -> None:
        self._stale_timer.stop()
        self._set_stale(True)
        if isinstance(error, LayoutError):
            self.refused.emit(str(error))
        else:
            self.crashed.emit(error)

    def _derive_finished(self, _ticket: int) -> None:
        self.is_settled = True
        self.derived_changed.emit()

    def _set_stale(self, is_stale: bool) -> None:
        if is_stale != self.is_stale:
            self.is_stale = is_stale
            self.stale_changed.emit()

    def close(self) -> None:
        """End the work beside the window."""
        self._start_timer.stop()
        self._deriving.close()
        self._editing.close()


class _Telling:
    """Tells the window how far the metal is, not more often than it can be seen; ends the work when told to stop."""

    def __init__(self, stop: threading.Event, hand_over: HandOver) -> None:
        self._stop, self._hand_over, self._last_s = stop, hand_over, time.monotonic()

    def __call__(self, share: float) -> None:
        if self._stop.is_set():
            raise _Stopped
        now_s = time.monotonic()
        if now_s - self._last_s > TELL_EVERY_S:
            self._last_s = now_s
            self._hand_over({"share": share})


def _is_quick(edit: Edit, layout: Layout) -> bool:
    """Whether an edit of the laying-out kind only turns the first group over, or trades among few cells."""
    if isinstance(edit, TRADES):  # dividing tries many ways, half a second for 300 cells strewn about
        return len(layout.cells) <= FEW_TRADED and not isinstance(edit, DivideAnew)
    return isinstance(edit, ChangeGrouping) and edit == ChangeGrouping(first_group_up=edit.first_group_up)


class _Surroundings:
    """Sites and neighbours of the last layouts seen, kept while cells and lattice are the same. Used by one thread."""

    def __init__(self) -> None:
        self._sites: tuple[Any, PointArray] = (None, NO_PLACES)
        self._free: tuple[Any, PointArray] = (None, NO_PLACES)
        self._pairs: tuple[Any, IntArray] = (None, NO_PAIRS)
        self._tints: dict[int, int] = {}

    def free_sites_mm(self, layout: Layout) -> PointArray:
        """(n, 2): sites of the lattice inside the footprint where a cell fits."""
        key = (layout.housing, layout.lattice, layout.cell_type)
        if self._sites[0] != key:
            from layout_app.planning.filling import sites_mm

            self._sites = (key, sites_mm(layout.lattice, layout.housing, layout.cell_type))
            self._free = (None, NO_PLACES)
        centres = layout.cells.centres_mm
        if self._free[0] is not centres:
            self._free = (centres, _not_taken(self._sites[1], centres, layout.cell_type.diameter_mm))
        return self._free[1]

    def tints(self, layout: Layout) -> dict[int, int]:
        """Tint of each group; neighbours are looked for again only when cells moved."""
        centres = layout.cells.centres_mm
        if self._pairs[0] is not centres:
            from layout_app.geometry.neighbours import neighbour_pairs

            self._pairs = (centres, neighbour_pairs(centres, 1.5 * layout.lattice.pitch_mm))
        self._tints = group_tints(layout.cells.groups, self._pairs[1], self._tints)
        return self._tints


def _not_taken(sites: PointArray, centres: PointArray, diameter_mm: float) -> PointArray:
    """Return the sites where no cell stands, nor so near that another would overlap it."""
    if not len(sites) or not len(centres):
        return sites
    from scipy.spatial import cKDTree

    distance_mm, _ = cKDTree(centres).query(sites, distance_upper_bound=diameter_mm * (1 - 1e-6))
    return sites[np.isinf(distance_mm)]


def _is_small_change(old: Layout, new: Layout) -> bool:
    """Whether at most a few cells changed their group and nothing else did that metal depends on."""
    if len(old.cells) != len(new.cells) or old.n_series != new.n_series:
        return False
    same = ("housing", "cell_type", "lattice", "plates", "terminals", "first_group_up")
    if not all(getattr(old, part) is getattr(new, part) or getattr(old, part) == getattr(new, part) for part in same):
        return False
    if old.cells.centres_mm is not new.cells.centres_mm:
        return False
    return int(np.count_nonzero(old.cells.groups != new.cells.groups)) <= FEW_CELLS


class _Stopped(Exception):  # noqa: N818
    """Nobody waits for the metal any more."""


def _derive(
    workings: Any, around: _Surroundings, paths: MetalPaths, stop: threading.Event, hand_over: HandOver
) -> None:
    """Work everything out in the order the eye wants it: metal, then sites, figures and findings.

    Where a newer layout waits, the metal is all that is still of use; once `stop` is set, not even that.
    """
    layout = workings.layout
    tints = around.tints(layout)
    workings.plates.progress = _Telling(stop, hand_over)
    try:
        workings.segments  # noqa: B018
    except _Stopped:
        return
    paths.of(workings.segments)  # made here, not when the window paints
    if not hand_over({"workings": workings, "tints": tints}):
        return
    if not hand_over({"free_sites_mm": around.free_sites_mm(layout)}):
        return
    hand_over({"figures": workings.figures, "findings": workings.findings, "necks": workings.necks})
