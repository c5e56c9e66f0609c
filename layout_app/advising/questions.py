"""Questions: what if a terminal stood elsewhere, the sheet were thicker, a joint were lost, a cell died?

Each is a small frozen value with a label. It changes the layout by an edit, which can be kept, or puts cells into
another condition, which is only looked at. `ask` answers with the measures beside those of the layout as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from layout_app.advising.edges import quarter_points, terminal_edge
from layout_app.advising.measures import Measures, measures
from layout_app.advising.trials import Trial
from layout_app.edits import ChangePlates, ChangeTerminal, Edit, OverrideSegment
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.materials import Material

if TYPE_CHECKING:
    from layout_app.physics.currents import Currents
    from layout_app.physics.module import CellCondition


class Question(Protocol):
    """What may be asked of a layout."""

    @property
    def label(self) -> str:
        """What is asked, in words, e.g. "Joint of cell 12 lost"."""
        ...

    def edit(self, base: Trial) -> Edit | None:
        """Return the edit that would make it so; None where nothing of the layout changes."""
        ...

    def conditions(self, layout: Layout) -> tuple[CellCondition, ...]:
        """Return the condition it puts cells into."""
        ...


class _Changes:
    """A question about another layout: cells stay as they are."""

    __slots__ = ()

    def conditions(self, layout: Layout) -> tuple[CellCondition, ...]:
        return ()


class _Happens:
    """A question about cells: the layout stays as it is."""

    __slots__ = ()

    def edit(self, base: Trial) -> Edit | None:
        return None


# -- other layouts --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TerminalElsewhere(_Changes):
    """A terminal's tab at the place of its edge that is nearest to a point."""

    is_positive: bool
    near_mm: tuple[float, float]

    @property
    def label(self) -> str:
        x_mm, y_mm = self.near_mm
        return f"{_terminal(self.is_positive)} near ({x_mm:.1f}, {y_mm:.1f})"

    def edit(self, base: Trial) -> Edit:
        return ChangeTerminal(self.is_positive, {"near_mm": self.near_mm, "more_near_mm": ()})


@dataclass(frozen=True, slots=True)
class TwoFeeds(_Changes):
    """A terminal with two tabs joined outside: at the given places, or at the quarter points of its edge."""

    is_positive: bool
    places_mm: tuple[tuple[float, float], tuple[float, float]] | None = None

    @property
    def label(self) -> str:
        return f"{_terminal(self.is_positive)} fed at two places"

    def edit(self, base: Trial) -> Edit:
        if self.places_mm is not None:
            first, second = self.places_mm
            return ChangeTerminal(self.is_positive, {"near_mm": first, "more_near_mm": (second,)})
        edge = terminal_edge(base.shape.plates, self.is_positive)
        if edge is None:
            raise LayoutError(
                f"{_terminal(self.is_positive)}: its segment has no edge long enough for a tab. Say where its two "
                "tabs are to be, or make them narrower."
            )
        return ChangeTerminal(self.is_positive, quarter_points(edge).changes)


@dataclass(frozen=True, slots=True)
class OtherThickness(_Changes):
    """Sheet of another thickness, for all segments or for one."""

    thickness_mm: float
    segment: int | None = None

    @property
    def label(self) -> str:
        return f"{_sheet(self.segment)} {self.thickness_mm:g} mm thick"

    def edit(self, base: Trial) -> Edit:
        return _sheet_edit(self.segment, {"thickness_mm": self.thickness_mm})


@dataclass(frozen=True, slots=True)
class OtherMaterial(_Changes):
    """Sheet of another material, for all segments or for one."""

    material: Material
    segment: int | None = None

    @property
    def label(self) -> str:
        return f"{_sheet(self.segment)} of {self.material.name}"

    def edit(self, base: Trial) -> Edit:
        return _sheet_edit(self.segment, {"material": self.material})


def _sheet(segment: int | None) -> str:
    return "Sheet" if segment is None else f"Segment {segment}"


def _sheet_edit(segment: int | None, changes: dict[str, object]) -> Edit:
    return ChangePlates(changes) if segment is None else OverrideSegment(segment, changes)


def _terminal(is_positive: bool) -> str:
    return f"{'Positive' if is_positive else 'Negative'} terminal"


# -- faults ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LostJoint(_Happens):
    """One of a cell's two joints open: the cell carries nothing."""

    cell: int  # index

    @property
    def label(self) -> str:
        return f"Joint of cell {self.cell + 1} lost"

    def conditions(self, layout: Layout) -> tuple[CellCondition, ...]:
        from layout_app.physics.module import CellCondition

        return (CellCondition.opened(self.cell),)


@dataclass(frozen=True, slots=True)
class DeadCell(_Happens):
    """A cell shorted inside, its joints still holding, or open inside."""

    cell: int  # index
    is_shorted: bool = True

    @property
    def label(self) -> str:
        return f"Cell {self.cell + 1} {'shorted' if self.is_shorted else 'open'} inside"

    def conditions(self, layout: Layout) -> tuple[CellCondition, ...]:
        from layout_app.physics.module import CellCondition

        if self.is_shorted:
            return (CellCondition.shorted(self.cell, layout.limits.cell_fault_ohm),)
        return (CellCondition.opened(self.cell),)


@dataclass(frozen=True, slots=True)
class WeakCell(_Happens):
    """A cell of higher resistance than the others."""

    cell: int  # index
    factor: float = 2.0  # a common end of life, as physics.module has it

    @property
    def label(self) -> str:
        return f"Cell {self.cell + 1} of {self.factor:g} times the resistance"

    def conditions(self, layout: Layout) -> tuple[CellCondition, ...]:
        from layout_app.physics.module import CellCondition

        return (CellCondition.weak(self.cell, layout, self.factor),)


# -- answers --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """The layout as it is and as asked about, side by side.

    Attributes
    ----------
    question : what was asked
    base, variant : the measures of both
    layout : as asked about; the base's own where only cells are in another condition
    edit : what makes it so, to keep it; None for a fault
    currents : what flows in it
    trial : to ask further from there
    """

    question: Question
    base: Measures
    variant: Measures
    layout: Layout
    edit: Edit | None
    currents: Currents
    trial: Trial


def ask(question: Question, base: Trial, current_a: float | None = None) -> Answer:
    """Return what would be if; both sides at the same current, by default what the base is meant to carry.

    Raises
    ------
    LayoutError : an edit that cannot be, cells that are not there, nothing left that carries current
    """
    before = base.solve(current_a)
    edit = question.edit(base)
    trial = base if edit is None else base.changed(edit.apply(base.layout))
    conditions = question.conditions(trial.layout)
    after = trial.solve(before.solved.current_a, conditions)
    return Answer(
        question=question,
        base=measures(base, before),
        variant=measures(trial, after, conditions),
        layout=trial.layout,
        edit=edit,
        currents=after,
        trial=trial,
    )


def usual_questions(layout: Layout, cell: int) -> Sequence[Question]:
    """Return the questions to offer at once: two feeds, thicker sheet, and the faults of a cell (index)."""
    return (
        TwoFeeds(False),
        TwoFeeds(True),
        OtherThickness(2 * layout.plates.thickness_mm),
        LostJoint(cell),
        DeadCell(cell),
        DeadCell(cell, is_shorted=False),
        WeakCell(cell),
    )
