"""Walk: a newcomer is led through a whole job on a sample, one thing to do at a time; all of it can be skipped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QEvent, QRect, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QPainter, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from layout_app.model.resources import sample_layouts
from layout_app.window import memory
from layout_app.window.colours import theme_of

if TYPE_CHECKING:
    from layout_app.window.app import Program
    from layout_app.window.workbench import Workbench

SAMPLE = "orchard_rover"
LOOK_EVERY_MS = 200
SEEN = "walk_seen"
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


def offer(program: Program) -> None:
    """Ask a newcomer, once, on the start page; who has files of their own is none."""
    if memory.settings().value(SEEN) is None and not memory.recent_files() and program.windows:
        program.windows[0].tell_with_answers(
            "walk",
            translate("walk", "New here? Be led through a whole job on a sample, in about five minutes."),
            {
                translate("walk", "Begin"): partial(_begin_and_remember, program),
                translate("walk", "Not now"): lambda: memory.settings().setValue(SEEN, True),
            },
        )


def _begin_and_remember(program: Program) -> None:
    memory.settings().setValue(SEEN, True)
    begin(program)


def begin(program: Program) -> None:
    """Open the sample and lead through it; a window that shows no layout yet is used for it."""
    free = [window for window in program.windows if window.workbench is None]
    window = free[-1] if free else program.new_window()
    path = sample_layouts().get(SAMPLE)
    if path is None:
        window.tell(translate("walk", "The sample for the walk is missing. Install Busweave again."))
        return
    window.open_path(path, is_copy=True)
    if window.workbench is not None:
        window.workbench.walk = WalkBar(window.workbench)


class WalkBar(QFrame):
    """Lies under the drawing: what to do now, and a frame around where. `stage` counts from 0."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench, self.stages, self.stage = bench, stages(), 0
        self._before: object = None
        self.setAccessibleName(translate("walk", "Walk through a whole job"))
        self.title, self.words, self.state = QLabel(), QLabel(wordWrap=True), QLabel()
        self.back = QPushButton(translate("walk", "Back"), autoDefault=False)
        self.show_me = QPushButton(translate("walk", "Do it for me"), autoDefault=False)
        self.next = QPushButton(translate("walk", "Next"), autoDefault=False)
        self.end = QPushButton(translate("walk", "End the walk"), autoDefault=False)
        self.halo = Halo(bench.window)
        self._lay_out()
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self._look)
        self._timer.start()
        self.back.clicked.connect(lambda: self.go(self.stage - 1))
        self.next.clicked.connect(lambda: self.go(self.stage + 1))
        self.show_me.clicked.connect(self._do)
        self.end.clicked.connect(self.finish)
        bench.page.layout().addWidget(self)
        self._show_colours()
        self.go(0)

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        for button in (self.back, self.show_me, self.next):
            buttons.addWidget(button)
        buttons.addWidget(self.state)
        buttons.addStretch(1)
        buttons.addWidget(self.end)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.addWidget(self.title)
        column.addWidget(self.words)
        column.addLayout(buttons)

    def go(self, number: int) -> None:
        """Begin a stage; after the last one the walk is over."""
        if number >= len(self.stages):
            self.finish()
            return
        self.stage = max(number, 0)
        now = self.stages[self.stage]
        count = translate("walk", "{number} of {all}").format(number=self.stage + 1, all=len(self.stages))
        self.title.setText(f"<b>{now.title}</b> &nbsp; <span>{count}</span>")
        self.words.setText(now.words)
        self._before = now.begin(self._bench)
        self.back.setEnabled(self.stage > 0)
        is_last = self.stage == len(self.stages) - 1
        self.next.setText(translate("walk", "Finish") if is_last else translate("walk", "Next"))
        self._look()

    @property
    def is_done(self) -> bool:
        """Whether what this stage asks for was done."""
        return self.stages[self.stage].is_done(self._bench, self._before)

    def _look(self) -> None:
        self.halo.surround(None if self.is_done else self.stages[self.stage].shows(self._bench))
        self.state.setText(translate("walk", "✓ Done. Go on when you are ready.") if self.is_done else "")
        self.show_me.setEnabled(not self.is_done)

    def _do(self) -> None:
        self.stages[self.stage].do(self._bench)
        self._look()

    def finish(self) -> None:
        """Take the walk away; the sample stays open."""
        self._timer.stop()
        self.halo.hide()
        self.halo.deleteLater()
        self._bench.walk = None
        self.hide()
        self.deleteLater()

    def _show_colours(self) -> None:
        theme = theme_of(QGuiApplication.palette())  # its own is what the style below makes of it
        style = f"WalkBar {{ border: 0; border-top: 3px solid {theme.accent}; background: {theme.ruler}; }}"
        if style != self.styleSheet():
            self.setStyleSheet(style)

    def changeEvent(self, event) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self._show_colours()
        super().changeEvent(event)


class Halo(QWidget):
    """A frame drawn around another widget of the window; the mouse goes through it."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def surround(self, widget: QWidget | None) -> None:
        """Lie around a widget, or nowhere."""
        if widget is None or not widget.isVisible():
            self.hide()
            return
        corner = widget.mapTo(self.parentWidget(), widget.rect().topLeft())
        self.setGeometry(QRect(corner, widget.size()).adjusted(-4, -4, 4, 4).intersected(self.parentWidget().rect()))
        self.raise_()
        self.show()

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme_of(self.palette()).colour("accent"), 3))
        painter.drawRoundedRect(self.rect().adjusted(2, 2, -2, -2), 6, 6)


# -- the stages ------------------------------------------------------------------------------------------------------


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
