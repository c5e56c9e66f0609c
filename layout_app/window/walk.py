"""Walk: a newcomer is led through a whole job on a sample, one thing to do at a time; all of it can be skipped."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QEvent, QRect, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QPainter, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from layout_app.model.resources import sample_layouts
from layout_app.window import memory
from layout_app.window.colours import theme_of
from layout_app.window.walk_stages import stages

if TYPE_CHECKING:
    from layout_app.window.app import Program
    from layout_app.window.workbench import Workbench

SAMPLE = "orchard_rover"
LOOK_EVERY_MS = 200
SEEN = "walk_seen"
translate = QCoreApplication.translate


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
