"""Walk stages: what a newcomer is shown, in order; what to do, where, and how one sees that it is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QWidget

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

translate = QCoreApplication.translate


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One thing to do. `is_done` compares the workbench with what `begin` found before it."""

    title: str
    words: str
    shows: Callable[[Workbench], QWidget | None]  # what to look at
    begin: Callable[[Workbench], object]
    is_done: Callable[[Workbench, object], bool]
    do: Callable[[Workbench], object]  # does it for those who would rather watch


def stages() -> list[Stage]:
    """Return the stages in order, in the words of the language in use."""
    return [
        Stage(
            title=translate("walk", "A module in its housing"),
            words=translate(
                "walk",
                "These are the cells of an orchard rover, in the tray its drawing gives. Cells of one colour and "
                "number are a parallel group; + and − tell which end faces you. Turn the wheel over the drawing to "
                "look closer, drag with the middle button to move it.",
            ),
            shows=lambda bench: bench.canvas,
            begin=lambda bench: bench.canvas.fit(),
            is_done=lambda bench, before: not bench.canvas.is_fitted,
            do=lambda bench: bench.actions["zoom_in"].trigger(),
        ),
        Stage(
            title=translate("walk", "Turn it over"),
            words=translate(
                "walk",
                "The copper you see is the top face. The other half of the segments lies underneath: press F. The "
                "bottom is shown as you would see it with the module in your hands, mirrored.",
            ),
            shows=lambda bench: _button(bench, "flip"),
            begin=lambda bench: bench.canvas.scene.side,
            is_done=lambda bench, before: bench.canvas.scene.side != before,
            do=lambda bench: bench.actions["flip"].trigger(),
        ),
        Stage(
            title=translate("walk", "Paint a cell into another group"),
            words=translate(
                "walk",
                "Press P, choose a group in the line above the drawing, and drag over cells at its border. The metal "
                "moves with the brush: nobody has to press “compute”.",
            ),
            shows=lambda bench: _button(bench, "paint"),
            begin=lambda bench: bench.document.current.cells,
            is_done=lambda bench, before: bench.document.current.cells is not before,
            do=_paint,
        ),
        Stage(
            title=translate("walk", "Ask the checks"),
            words=translate(
                "walk",
                "The findings have something to say about that. Click one: the drawing goes to the place, and under "
                "the list stands why: the rule, what was measured, the limit and where the limit comes from.",
            ),
            shows=lambda bench: bench.docks["findings"],
            begin=_count_chosen,
            is_done=lambda bench, before: bool(before),
            do=_choose_finding,
        ),
        Stage(
            title=translate("walk", "Take it back"),
            words=translate(
                "walk",
                "Undo with Ctrl+Z. Every gesture is one step; the panel Steps lists them all, and a click goes there.",
            ),
            shows=lambda bench: _button(bench, "undo"),
            begin=lambda bench: bench.document.step,
            is_done=lambda bench, before: bench.document.step < before,
            do=lambda bench: bench.actions["undo"].trigger(),
        ),
        Stage(
            title=translate("walk", "Change a number"),
            words=translate(
                "walk",
                "Everything about the module is a field on the left. Give the insulation gap, under Metal, another "
                "value and press Enter. What is wrong with a value is said beside it, and it is not taken.",
            ),
            shows=lambda bench: bench.settings.fields["Insulation gap"],
            begin=_show_gap,
            is_done=lambda bench, before: bench.document.current.plates != before,
            do=_widen_gap,
        ),
        Stage(
            title=translate("walk", "Ask a figure where it comes from"),
            words=translate(
                "walk", "Click a figure on the right. It tells its formula, what went into it, and its source."
            ),
            shows=lambda bench: bench.docks["figures"],
            begin=lambda bench: bench.docks["figures"].raise_(),
            is_done=lambda bench, before: bench.figures.table.currentRow() >= 0,
            do=lambda bench: bench.figures.table.setCurrentCell(0, 0),
        ),
        Stage(
            title=translate("walk", "Save it"),
            words=translate(
                "walk",
                "Ctrl+S saves the layout to a file of yours; the sample stays as it is. Unsaved work outlives a power "
                "cut all the same: the next start offers it.",
            ),
            shows=lambda bench: _button(bench, "save"),
            begin=lambda bench: None,
            is_done=lambda bench, before: bench.document.path is not None and not bench.document.is_modified,
            do=lambda bench: bench.actions["save"].trigger(),
        ),
        Stage(
            title=translate("walk", "Hand it on"),
            words=translate(
                "walk",
                "Ctrl+E exports: a drawing a face and a segment for cutting, at the housing's own coordinates, tables, "
                "sheets and a report. That is the whole job. F1 explains whatever is in front of you; Ctrl+F finds "
                "any action by its name.",
            ),
            shows=lambda bench: _button(bench, "export"),
            begin=lambda bench: bench.n_exports,
            is_done=lambda bench, before: bench.n_exports > before,
            do=lambda bench: bench.actions["export"].trigger(),
        ),
    ]  # fmt: skip


def _button(bench: Workbench, name: str) -> QWidget | None:
    """Return the tool bar's button of an action."""
    return bench.bar.widgetForAction(bench.actions[name])


def _paint(bench: Workbench) -> None:
    """Paint the cell of group 1 that lies nearest to group 2 into it."""
    from layout_app.edits import PaintCells

    cells = bench.document.current.cells
    ones, twos = cells.of_group(1), cells.centres_mm[cells.of_group(2)]
    away = ((cells.centres_mm[ones][:, None] - twos) ** 2).sum(axis=2).min(axis=1)
    bench.document.request(PaintCells((int(ones[away.argmin()]),), 2))


def _count_chosen(bench: Workbench) -> list[object]:
    """Return a list that grows when a finding is chosen."""
    chosen: list[object] = []
    bench.findings.chosen.connect(chosen.append)
    return chosen


def _choose_finding(bench: Workbench) -> None:
    for finding in bench.document.findings[:1]:
        bench.findings.chosen.emit(finding)


def _show_gap(bench: Workbench) -> object:
    bench.docks["settings"].raise_()
    bench.settings.ensureWidgetVisible(bench.settings.fields["Insulation gap"])
    return bench.document.current.plates


def _widen_gap(bench: Workbench) -> None:
    from layout_app.edits import ChangePlates

    bench.document.request(ChangePlates({"gap_mm": bench.document.current.plates.gap_mm + 0.5}))
