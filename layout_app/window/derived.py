"""Derived: what follows from the layout shown, worked out beside the window and kept until newer takes its place."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from layout_app.checks.findings import Finding
from layout_app.geometry.arrays import PointArray
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.currents import Currents
from layout_app.physics.figures import Figure
from layout_app.physics.joint_faults import JointFaults
from layout_app.physics.min_cuts import Cut
from layout_app.plates.segments import Segment
from layout_app.window.background import Background
from layout_app.window.deriving import derive, is_small_change
from layout_app.window.metal_paths import MetalPaths
from layout_app.window.scene import NO_PLACES
from layout_app.window.surroundings import Surroundings

if TYPE_CHECKING:
    from layout_app.plates.deriving import Plates
    from layout_app.workings import Workings

STALE_AFTER_MS = 150  # a result that comes sooner replaces the old one without the old one being greyed first


class Derived(QObject):
    """Segments, figures, findings and the like of the layout last asked for, or of one before while it is stale."""

    derived_changed = Signal()  # segments, figures, findings, sites or tints are new
    stale_changed = Signal()
    progress_changed = Signal(float)  # the share of the metal that is worked out, 0 to 1
    refused = Signal(str)  # an edit could not be done; says why
    crashed = Signal(object)  # an exception that is our own bug

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.segments: tuple[Segment, ...] = ()
        self.figures: tuple[Figure, ...] = ()
        self.findings: tuple[Finding, ...] = ()
        self.necks: tuple[Cut | None, ...] = ()
        self.currents: Currents | None = None  # at the design current, by the network; None when `no_currents` says why
        self.joint_faults: JointFaults | None = None
        self.no_currents, self.no_joint_faults = "", ""
        self.currents_of: Layout | None = None  # the layout they are of: one of before until newer ones are worked out
        self.current_segments: tuple[Segment, ...] = ()  # the metal they flow in
        self.free_sites_mm: PointArray = NO_PLACES
        self.tints: dict[int, int] = {}
        self.is_stale, self.is_settled = False, False
        self.is_stopped = False  # working the metal out was given up: it stays of before
        self._stop = threading.Event()
        self._latest: Any = None  # the last Workings whose segments are made: they lend what has not changed
        self._around = Surroundings()
        self.metal_paths = MetalPaths()
        self._deriving = Background(self)
        self._stale_timer = QTimer(self, singleShot=True, interval=STALE_AFTER_MS)
        self._stale_timer.timeout.connect(lambda: self._set_stale(True))
        self._next: tuple[Any, bool] = (None, True)
        self._start_timer = QTimer(self, singleShot=True, interval=0)
        self._start_timer.timeout.connect(self._start_deriving)
        self._deriving.delivered.connect(self._take_derived)
        self._deriving.failed.connect(self._derive_failed)
        self._deriving.finished.connect(self._derive_finished)

    @property
    def plates(self) -> Plates | None:
        """The metal's makings: of the last layout whose segments are made."""
        return None if self._latest is None else self._latest.plates

    @property
    def workings(self) -> Workings | None:
        """What is known of the last layout whose segments are made: to lend, for others may be at work on it."""
        return self._latest

    def borrow(self, other: Derived) -> None:
        """Let another lend what it has worked out, where this one's layout has the same parts."""
        self._latest = other._latest

    def close(self) -> None:
        """End the work beside the window."""
        self._start_timer.stop()
        self._deriving.close()

    def _expect(self, layout: Layout) -> Any:
        """Take what can be had at once and return the workings of a layout; `_work_out` has them done."""
        from layout_app.workings import Workings

        self.is_settled, self.is_stopped = False, False
        workings = Workings(layout, self._latest)
        if self._latest is not None and is_small_change(self._latest.layout, layout):
            self._take_metal(workings)  # quicker than handing it to the other thread
        else:
            self._stale_timer.start()
        return workings

    def _work_out(self, workings: Any, *, drops_running: bool) -> None:
        """Have the rest done beside the window."""
        self._next = (workings, drops_running)
        self._start_timer.start()

    def _start_deriving(self) -> None:
        """Begin once the window is painted: the two threads would hinder one another."""
        workings, drops_running = self._next
        around, paths = self._around, self.metal_paths
        stop = self._stop = threading.Event()
        # metal a moment behind the brush is better than none until the brush rests
        self._deriving.start(
            lambda hand_over: derive(workings, around, paths, stop, hand_over), drops_running=drops_running
        )

    def _give_up(self) -> None:
        """Leave the metal as it was before, if it is being worked out."""
        if self.is_stale and not self.is_stopped:
            self._stop.set()
            self._deriving.cancel()
            self.is_stopped, self.is_settled = True, True
            self.stale_changed.emit()

    def _take_derived(self, _ticket: int, derived: dict[str, Any]) -> None:
        if not derived:
            return  # the thread asked whether it is still wanted
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
