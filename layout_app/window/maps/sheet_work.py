"""SheetWork: the sheet model of the layout shown, worked out in a thread of its own, kept until a newer one comes."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Signal

from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.current_paths import GroupPaths, module_lines, worst_paths
from layout_app.physics.currents import Currents, SheetModel
from layout_app.physics.segment_fields import SegmentField
from layout_app.plates.deriving import Plates
from layout_app.plates.segments import Segment
from layout_app.window.background import Background, HandOver
from layout_app.window.maps.scene_lines import SegmentLines, segment_lines

MODEL_SHARE = 0.6  # of the time goes into the model, the rest into its fields
LINES_PER_JOINT = ((400, 4.0), (1500, 2.0))  # up to so many cells; one above: more could not be told apart
RENEWED_UP_TO = 1000  # cells: some seconds' work, begun again by itself after an edit


@dataclass(frozen=True, slots=True, eq=False)
class SheetResult:
    """What the sheet model tells of one layout."""

    layout: Layout
    segments: tuple[Segment, ...]
    model: SheetModel
    found: Currents
    fields: tuple[SegmentField, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LinesResult:
    """Stream lines of segments by number, ready to be drawn, and ways of the worst-placed cells, of one result."""

    of: SheetResult
    paths: dict[int, SegmentLines]
    ways: tuple[GroupPaths, ...]


class SheetWork(QObject):
    """Works the sheet out when asked, then its lines when asked; tells how far it is and can be stopped."""

    changed = Signal()  # a result, or the state of the work
    progress_changed = Signal(float)  # 0 to 1
    crashed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.result: SheetResult | None = None
        self.lines: LinesResult | None = None
        self.refusal = ""  # why the last one could not be worked out
        self.is_working = False
        self.refused_layout: Layout | None = None
        self._working_at: Layout | None = None
        self._stop = threading.Event()
        self._background = Background(self)
        self._background.delivered.connect(self._take)
        self._background.failed.connect(self._fail)
        self._background.finished.connect(self._finish)

    @property
    def layout(self) -> Layout | None:
        """The layout that is being worked at."""
        return self._working_at

    def start(self, layout: Layout, segments: Sequence[Segment], plates: Plates) -> None:
        """Work out the sheet of a layout, unless that is under way; what runs for another is given up."""
        if self.is_working and self._working_at is layout:
            return
        previous, stop = self.result, self._begin(layout)
        self._background.start(
            lambda hand_over: _work_out(layout, tuple(segments), plates, previous, _Told(stop, hand_over))
        )

    def start_lines(self) -> None:
        """Trace the lines of the result there is, unless something is under way."""
        result = self.result
        is_done = self.lines is not None and self.lines.of is result
        if result is None or self.is_working or is_done or self.refused_layout is result.layout:
            return
        stop = self._begin(result.layout)
        self._background.start(lambda hand_over: _trace(result, _Told(stop, hand_over)))

    def stop(self) -> None:
        """Give up the work under way; the result of before stays."""
        self._stop.set()
        self._background.cancel()
        if self.is_working:
            self.is_working, self._working_at = False, None
            self.changed.emit()

    def close(self) -> None:
        """End the work for good."""
        self._stop.set()
        self._background.close()

    def _begin(self, layout: Layout) -> threading.Event:
        self._stop.set()
        self._stop = threading.Event()
        self.is_working, self._working_at, self.refusal = True, layout, ""
        self.progress_changed.emit(0.0)
        self.changed.emit()
        return self._stop

    def _take(self, _ticket: int, told: Any) -> None:
        if isinstance(told, float):
            self.progress_changed.emit(told)
        elif isinstance(told, SheetResult):
            self.result, self.refused_layout = told, None
        elif isinstance(told, LinesResult):
            self.lines = told

    def _fail(self, _ticket: int, error: Exception) -> None:
        self.refused_layout = self._working_at
        if isinstance(error, LayoutError):
            self.refusal = str(error)
        else:
            self.crashed.emit(error)

    def _finish(self, _ticket: int) -> None:
        self.is_working, self._working_at = False, None
        self.changed.emit()


class _StoppedError(Exception):
    """Nobody waits for the sheet any more."""


class _Told:
    """Tells the window how far the work is; ends it when told to."""

    def __init__(self, stop: threading.Event, hand_over: HandOver) -> None:
        self._stop, self.hand_over = stop, hand_over

    def part(self, begin: float, length: float) -> Any:
        """Return what tells the progress of one part of the work."""

        def progress(share: float) -> None:
            if self._stop.is_set() or not self.hand_over(begin + length * share):
                raise _StoppedError

        return progress


def _work_out(
    layout: Layout, segments: tuple[Segment, ...], plates: Plates, previous: SheetResult | None, told: _Told
) -> None:
    try:
        lender = None if previous is None else previous.model
        model = SheetModel(plates, progress=told.part(0.0, MODEL_SHARE), previous=lender)
        found = model.solve()
        fields = model.fields(found, told.part(MODEL_SHARE, 1 - MODEL_SHARE))
    except _StoppedError:
        return
    told.hand_over(SheetResult(layout, segments, model, found, fields))


def _trace(result: SheetResult, told: _Told) -> None:
    n_cells = len(result.layout.cells)
    per_joint = next((lines for most, lines in LINES_PER_JOINT if n_cells <= most), 1.0)
    try:
        progress = told.part(0.0, MODEL_SHARE)
        lines = module_lines(result.segments, result.fields, result.found, per_joint=per_joint, progress=progress)
        told.part(MODEL_SHARE, 0.0)(0.0)
        ways = worst_paths(result.layout, result.segments, result.fields, result.found)
    except _StoppedError:
        return
    pairs = zip(result.segments, lines, strict=True)
    paths = {segment.number: segment_lines(each, segment.area_mm2) for segment, each in pairs}
    told.hand_over(LinesResult(result, {number: each for number, each in paths.items() if each is not None}, ways))
