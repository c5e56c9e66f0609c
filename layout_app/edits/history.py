"""History: the layouts of one sitting in order, so that undo hands back the very same layout."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout_app.model.layouts import Layout

if TYPE_CHECKING:
    from layout_app.edits import Edit


MOST_STEPS = 1000  # of 8 256 cells all moved each time, 1000 layouts are 200 MB; the oldest go first


class History:
    """A layout, what it was before, and what was undone. Every gesture is one step; nothing is merged."""

    def __init__(self, layout: Layout, most_steps: int = MOST_STEPS) -> None:
        self._most_steps = most_steps
        self._layouts = [layout]
        self._labels: list[str] = []  # label k led from layout k to layout k+1
        self._now = 0

    @property
    def current(self) -> Layout:
        """The layout as it stands."""
        return self._layouts[self._now]

    @property
    def labels(self) -> tuple[str, ...]:
        """What was done, oldest first; label k led from layout k to layout k+1. What was undone stands last."""
        return tuple(self._labels)

    @property
    def step(self) -> int:
        """How many of the labels are done as the layout stands."""
        return self._now

    @property
    def undo_label(self) -> str | None:
        """What undo would take back, or None."""
        return self._labels[self._now - 1] if self._now else None

    @property
    def redo_label(self) -> str | None:
        """What redo would do again, or None."""
        return self._labels[self._now] if self._now < len(self._labels) else None

    def apply(self, edit: Edit) -> Layout:
        """Do the edit and return the layout it gives; an edit that raises or changes nothing leaves no trace."""
        return self.record(edit.label, edit.apply(self.current))

    def record(self, label: str, layout: Layout) -> Layout:
        """Make `layout` the current one, forgetting what was undone; the current one itself is no new step."""
        if layout is not self.current:
            del self._layouts[self._now + 1 :], self._labels[self._now :]
            self._layouts.append(layout)
            self._labels.append(label)
            self._now += 1
            self._forget_oldest()
        return self.current

    def _forget_oldest(self) -> None:
        surplus = len(self._labels) - self._most_steps
        if surplus > 0:
            del self._layouts[:surplus], self._labels[:surplus]
            self._now -= surplus

    def go_to(self, step: int) -> Layout:
        """Undo or redo until `step` of the labels are done, as far as there are any; return the current layout."""
        self._now = min(max(step, 0), len(self._labels))
        return self.current

    def undo(self) -> Layout:
        """Step back, if there is a step, and return the current layout."""
        self._now = max(self._now - 1, 0)
        return self.current

    def redo(self) -> Layout:
        """Step forward again, if a step was undone, and return the current layout."""
        self._now = min(self._now + 1, len(self._labels))
        return self.current
