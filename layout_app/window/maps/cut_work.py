"""CutWork: the narrowest cuts of every segment at the currents shown, found in a thread of its own."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from layout_app.model.errors import LayoutError
from layout_app.physics.currents import Currents
from layout_app.physics.min_cuts import Cut, module_cuts
from layout_app.plates.deriving import Plates
from layout_app.window.background import Background


class CutWork(QObject):
    """Finds the cuts asked for last; `cuts` are those of before until then."""

    changed = Signal()
    crashed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.cuts: tuple[Cut, ...] = ()
        self.of: Currents | None = None  # the currents they were found at
        self._asked: Currents | None = None
        self._background = Background(self)
        self._background.delivered.connect(self._take)
        self._background.failed.connect(self._fail)

    def want(self, plates: Plates, found: Currents) -> None:
        """Ask for the cuts at some currents."""
        if found is not self._asked:
            self._asked = found
            self._background.start(lambda hand_over: hand_over((found, module_cuts(plates, found))))

    def close(self) -> None:
        """End the work for good."""
        self._background.close()

    def _take(self, _ticket: int, told: tuple[Currents, tuple[Cut | None, ...]]) -> None:
        self.of, cuts = told
        self.cuts = tuple(sorted((c for c in cuts if c is not None), key=lambda c: -c.density_a_mm2))
        self.changed.emit()

    def _fail(self, _ticket: int, error: Exception) -> None:
        self.cuts, self.of = (), self._asked
        if isinstance(error, LayoutError):
            self.changed.emit()
        else:
            self.crashed.emit(error)
