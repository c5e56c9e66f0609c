"""What if: questions asked of the layout, each answered in a column beside the layout as it is.

The answers follow the layout: they are worked out anew, beside the window, when it has changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QCoreApplication, QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.advising.measures import ROWS, Measures, Row
from layout_app.advising.questions import Answer, Question
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.figures import number_text
from layout_app.window.background import Background, HandOver
from layout_app.window.canvas import Canvas
from layout_app.window.sizes import characters
from layout_app.window.variants.questions import QuestionForm

translate = QCoreApplication.translate
MOST_QUESTIONS = 8
MANYFOLD = 10  # from here on a factor is easier to read than a share
LEAST_CHARACTERS = 17
LINE_SHARE = 0.65  # of a header's words in its longer line: two lines, broken between words
SAME = 5e-4  # differences below this share are none to a reader


class WhatIfPanel(QWidget):
    """A line to ask with, over a table of answers. `wanted` carries the edit that keeps an answer."""

    wanted = Signal(object)
    crashed = Signal(object)

    def __init__(self, canvas: Canvas) -> None:
        super().__init__()
        self._canvas, self._document = canvas, canvas.document
        self.questions: list[Question] = []
        self.answers: list[Answer | str] = []  # or why there is none
        self._asked: tuple[Layout, tuple[Question, ...]] | None = None  # what is being answered, or was
        self._known: Layout | None = None  # what the answers are about
        self._newest: Question | None = None  # asked last by the form: its column is to come into view
        self._work = Background(self)
        self._work.delivered.connect(lambda _, told: self._take(*told))
        self._work.failed.connect(lambda _, error: self.crashed.emit(error))
        self.form = QuestionForm(canvas)
        self.ask, self.usual = QPushButton(translate("variants", "&Ask")), QPushButton(translate("variants", "&Usual"))
        self.keep = QPushButton(translate("variants", "&Keep"), enabled=False)
        self.remove = QPushButton(translate("variants", "&Remove"), enabled=False)
        self.told = QLabel(wordWrap=True)
        self.table = _AnswerTable(self.drop_chosen)
        self._lay_out()
        self._connect()
        self.show_answers()
        self.told.setText(
            translate("variants", "Choose what to ask and press Ask; Usual asks what is usually asked, all at once.")
        )

    def _lay_out(self) -> None:
        tips = {
            self.ask: translate("variants", "Answer in a column of its own"),
            self.usual: translate("variants", "Ask what is usually asked: thicker sheet, two feeds, faults of a cell"),
            self.keep: translate("variants", "Change the layout as asked in the chosen column"),
            self.remove: translate("variants", "Take the chosen column away (Del)"),
        }
        row = QHBoxLayout()
        row.addWidget(self.form, 1)
        for button, tip in tips.items():
            button.setToolTip(tip)
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 8, 6)
        column.setSpacing(4)
        column.addLayout(row)
        column.addWidget(self.told)
        column.addWidget(self.table, 1)

    def _connect(self) -> None:
        self.ask.clicked.connect(self.ask_form)
        self.usual.clicked.connect(self.ask_usual)
        self.keep.clicked.connect(self.keep_chosen)
        self.remove.clicked.connect(self.drop_chosen)
        self.table.currentCellChanged.connect(lambda *_: self._allow())
        self._document.derived_changed.connect(self._follow)
        self._document.layout_changed.connect(self._show_age)

    # -- asking -------------------------------------------------------------------------------------------------

    def ask_form(self) -> None:
        """Ask what the form says."""
        try:
            self._newest = self.form.question()
        except LayoutError as error:
            self.told.setText(str(error))
            return
        self.add([self._newest])
        self._look_at_newest()

    def ask_usual(self) -> None:
        """Ask what is usually asked; about the chosen cell, or else the one that carries most."""
        from layout_app.advising.questions import usual_questions

        found = self._document.currents
        if found is None:
            self.told.setText(self._document.no_currents or translate("variants", "The currents are not there yet."))
            return
        chosen = self._canvas.chosen_cells
        flow = abs(found.solved.cell_current_a)
        cell = (
            next(iter(chosen)) if len(chosen) == 1 else min(int(flow.argmax()), len(self._document.current.cells) - 1)
        )
        self.add(usual_questions(self._document.current, cell))

    def add(self, questions: Sequence[Question]) -> None:
        """Ask more; one asked already stays where it is."""
        self.told.setText("")
        for question in questions:
            if question not in self.questions:
                self.questions.append(question)
        while len(self.questions) > MOST_QUESTIONS:  # a table of more columns is not read
            self.questions.pop(0)
        self._follow()

    def drop_chosen(self) -> None:
        """Take the chosen column away."""
        place = self.table.currentColumn() - 1
        if 0 <= place < len(self.questions):
            del self.questions[place]
            if place < len(self.answers):
                del self.answers[place]
            self.show_answers()
            self._follow()

    def keep_chosen(self) -> None:
        """Ask for the edit of the chosen column."""
        answer = self._chosen()
        if answer is not None and answer.edit is not None:
            self.wanted.emit(answer.edit)

    def close_work(self) -> None:
        """End the work beside the window."""
        self._work.close()

    # -- answering ----------------------------------------------------------------------------------------------

    def _follow(self) -> None:
        """Have the answers worked out where the layout or the questions are new; not while nobody looks."""
        wanted = (self._document.current, tuple(self.questions))
        is_idle = self.isHidden() or not self._document.is_settled or self._document.layout is not wanted[0]
        if is_idle or not self.questions or (self._asked is not None and _same(self._asked, wanted)):
            self._show_age()
            return
        self._asked = wanted
        layout, questions, lender = *wanted, self._document.workings
        self._work.start(lambda hand_over: _answer(layout, lender, questions, hand_over))
        self._show_age()

    def _take(self, layout: Layout, questions: tuple[Question, ...], answers: list[Answer | str]) -> None:
        if questions == tuple(self.questions) and layout is self._document.current:
            self.answers, self._known = answers, layout
            self.show_answers()

    def _is_fresh(self) -> bool:
        return self._known is self._document.current and len(self.answers) == len(self.questions)

    def _chosen(self) -> Answer | None:
        place = self.table.currentColumn() - 1
        answer = self.answers[place] if 0 <= place < len(self.answers) else None
        return answer if isinstance(answer, Answer) else None

    # -- showing ------------------------------------------------------------------------------------------------

    def show_answers(self) -> None:
        """Show the questions with what is known of their answers."""
        self.table.show_answers(self.questions, self.answers)
        self._look_at_newest()
        self._show_age()
        self._allow()

    def _look_at_newest(self) -> None:
        place = self.questions.index(self._newest) if self._newest in self.questions else len(self.answers)
        if place < len(self.answers):
            self._newest = None
            self.table.setCurrentCell(0, 1 + place)
            self.table.scrollTo(self.table.currentIndex())

    def _show_age(self) -> None:
        is_waiting, words = bool(self.questions) and not self._is_fresh(), translate("variants", "Working it out…")
        self.table.setEnabled(not is_waiting)
        if is_waiting:
            self.told.setText(words)
        elif self.told.text() == words:
            self.told.setText("")

    def _allow(self) -> None:
        answer, place = self._chosen(), self.table.currentColumn() - 1
        self.keep.setEnabled(answer is not None and answer.edit is not None)
        self.remove.setEnabled(0 <= place < len(self.questions))

    def showEvent(self, event: Any) -> None:
        super().showEvent(event)
        self.form.stand_at_the_tab()
        self._follow()

    def sizeHint(self) -> QSize:
        """Room for all rows."""
        return QSize(700, 17 * self.fontMetrics().lineSpacing())


class _AnswerTable(QTableWidget):
    """Measures down, the layout as it is and each question across."""

    def __init__(self, on_delete: Any) -> None:
        super().__init__(len(ROWS), 1)
        self._on_delete = on_delete
        self.setAccessibleName(translate("variants", "Answers"))
        self.setAccessibleDescription(translate("variants", "The first column is the layout as it is."))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectColumns)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setVerticalHeaderLabels([_row_words(row) for row in ROWS])
        self.verticalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.verticalHeader().setMinimumSectionSize(1)
        self.verticalHeader().setDefaultSectionSize(round(1.4 * self.fontMetrics().lineSpacing()))
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header = self.horizontalHeader()
        header.setDefaultAlignment(
            Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignBottom | Qt.TextFlag.TextWordWrap
        )
        header.setFixedHeight(round(2.5 * self.fontMetrics().lineSpacing()))

    def show_answers(self, questions: Sequence[Question], answers: Sequence[Answer | str]) -> None:
        """Fill the table anew, the chosen column kept."""
        column = self.currentColumn()
        self.setColumnCount(1 + len(questions))
        self.setHorizontalHeaderLabels([translate("variants", "Now"), *(question.label for question in questions)])
        base = next((answer.base for answer in answers if isinstance(answer, Answer)), None)
        for row, measure in enumerate(ROWS):
            self._put(row, 0, "" if base is None else _text(measure, base))
            for place in range(len(questions)):
                answer = answers[place] if place < len(answers) else ""
                if isinstance(answer, Answer):
                    self._put(row, 1 + place, _text_beside(measure, answer.variant, answer.base))
                else:
                    self._put(row, 1 + place, answer if row == 0 else "")
        for place in range(self.columnCount()):
            self.setColumnWidth(place, max(self.sizeHintForColumn(place) + 16, self._header_width_px(place)))
        if 0 <= column < self.columnCount():
            self.setCurrentCell(max(self.currentRow(), 0), column)

    def _put(self, row: int, column: int, text: str) -> None:
        item = QTableWidgetItem(text)
        item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        item.setToolTip(text)
        self.setItem(row, column, item)

    def event(self, event: Any) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and event.matches(QKeySequence.StandardKey.Delete):
            event.accept()  # else the window erases the chosen cells
        return super().event(event)

    def keyPressEvent(self, event: Any) -> None:
        if event.matches(QKeySequence.StandardKey.Delete):
            self._on_delete()
        else:
            super().keyPressEvent(event)

    def _header_width_px(self, place: int) -> int:
        """Return how wide a column must be for its words to stand whole in the two lines of the header."""
        font = self.horizontalHeader().font()
        font.setBold(True)  # as the header of the chosen column is
        words = QFontMetricsF(font).horizontalAdvance(self.horizontalHeaderItem(place).text())
        return max(characters(self, LEAST_CHARACTERS), round(LINE_SHARE * words) + 16)


def _answer(layout: Layout, lender: Any, questions: tuple[Question, ...], hand_over: HandOver) -> None:
    """Answer one question after the other, as long as somebody wants to know; what cannot be says why."""
    from layout_app.advising.questions import ask
    from layout_app.advising.trials import Trial
    from layout_app.workings import Workings

    try:
        base = Trial.of(Workings(layout, lender))
        base.solve()
    except LayoutError as error:
        hand_over((layout, questions, [str(error)] * len(questions)))
        return
    answers: tuple[Answer | str, ...] = ()
    for question in questions:
        try:
            answers += (ask(question, base),)
        except LayoutError as error:
            answers += (str(error),)
        if not hand_over((layout, questions, list(answers))):
            return


def _same(one: tuple[Layout, tuple[Question, ...]], other: tuple[Layout, tuple[Question, ...]]) -> bool:
    return one[0] is other[0] and one[1] == other[1]


def _row_words(row: Row) -> str:
    return f"{row.label}, {row.unit}" if row.unit else row.label


def _text(row: Row, measures: Measures) -> str:
    return number_text(row.shown(measures))


def _text_beside(row: Row, variant: Measures, base: Measures) -> str:
    """Return a value with by how much of the base's it differs."""
    value, before = row.shown(variant), row.shown(base)
    if row.field == "hottest_joint_cell" or before == 0 or abs(value - before) <= SAME * abs(before):
        return number_text(value)
    ratio = value / before
    told = f"{ratio:.0f} ×" if abs(ratio) >= MANYFOLD else f"{ratio - 1:+.1%}".replace("%", " %")
    return f"{number_text(value)}  ({told})".replace("-", "−")
