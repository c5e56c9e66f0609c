"""Advice: the adviser's proposals in a table, best first, each to be taken as one step."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSize, Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.advising.adviser import Advice, Proposal
from layout_app.advising.measures import Measures
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.figures import number_text
from layout_app.window.background import Background, HandOver
from layout_app.window.document import Document

translate = QCoreApplication.translate
TELL_EVERY_S = 0.1
COLUMN_GAP_PX = 14
COLUMNS = {  # heading: what it means
    QT_TRANSLATE_NOOP("variants", "Score"): QT_TRANSLATE_NOOP(
        "variants", "1 is the layout as it is; less is better. How it is reckoned stands below"
    ),
    QT_TRANSLATE_NOOP("variants", "Imbalance"): QT_TRANSLATE_NOOP(
        "variants", "Largest cell current over the mean of its group"
    ),
    QT_TRANSLATE_NOOP("variants", "Loss"): QT_TRANSLATE_NOOP("variants", "In joints and segments, at this current"),
    QT_TRANSLATE_NOOP("variants", "Metal"): QT_TRANSLATE_NOOP("variants", "Mass of all segments"),
    QT_TRANSLATE_NOOP("variants", "What it changes"): QT_TRANSLATE_NOOP(
        "variants", "With what to know before taking it"
    ),
}


class AdvicePanel(QWidget):
    """A button that starts the search over a table of what it found. `wanted` carries the proposal to take."""

    wanted = Signal(object)
    crashed = Signal(object)

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self.advice: Advice | None = None
        self._of: Layout | None = None  # the layout it is about
        self._searched: Layout | None = None  # the layout a search is under way for
        self._stop = threading.Event()
        self._work = Background(self)
        self._work.delivered.connect(lambda _, told: self._take(told))
        self._work.failed.connect(lambda _, error: self._fail(error))
        self.begin = QPushButton(translate("variants", "&Look for better"))
        self.cancel = QPushButton(translate("variants", "Cancel"), visible=False)
        self.take = QPushButton(translate("variants", "&Take it"), enabled=False)
        self.busy = QProgressBar(maximum=100, textVisible=False, visible=False, maximumHeight=10)
        self.told = QLabel(wordWrap=True)
        self.table = QTableWidget(0, len(COLUMNS))
        self._set_up()
        self._show_age()

    def _set_up(self) -> None:
        self.begin.setToolTip(
            translate("variants", "Try terminal places, borders and sheet thicknesses beside the layout as it is")
        )
        self.take.setToolTip(translate("variants", "Change the layout as proposed; one step to undo"))
        self.busy.setAccessibleName(translate("variants", "Search under way"))
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        table = self.table
        table.setAccessibleName(translate("variants", "Proposals of the adviser"))
        table.setHorizontalHeaderLabels([translate("variants", heading) for heading in COLUMNS])
        for column, meaning in enumerate(COLUMNS.values()):
            table.horizontalHeaderItem(column).setToolTip(translate("variants", meaning))
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.horizontalHeader().setStretchLastSection(True)
        table.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        row = QHBoxLayout()
        for widget, share in ((self.begin, 0), (self.cancel, 0), (self.busy, 1), (self.take, 0)):
            row.addWidget(widget, share)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 8, 6)
        column.setSpacing(4)
        column.addLayout(row)
        column.addWidget(table, 1)
        column.addWidget(self.told)
        self.begin.clicked.connect(self.search)
        self.cancel.clicked.connect(self.give_up)
        self.take.clicked.connect(self.take_chosen)
        table.currentCellChanged.connect(lambda *_: self._allow())
        table.cellDoubleClicked.connect(lambda *_: self.take_chosen())
        self._document.layout_changed.connect(self._follow)

    # -- searching ----------------------------------------------------------------------------------------------

    def search(self) -> None:
        """Begin to look for what serves the layout better."""
        layout, lender = self._document.current, self._document.workings
        stop, self._searched = threading.Event(), layout
        self._stop = stop
        self._show_busy(True)
        self.told.setText(translate("variants", "Trying terminal places, borders and sheets…"))
        self._work.start(lambda hand_over: _search(layout, lender, stop, hand_over))

    def give_up(self) -> None:
        """End the search; what was found before stays."""
        self._searched = None
        self._stop.set()
        self._work.cancel()
        self._show_busy(False)
        self.told.setText(translate("variants", "The search was given up."))

    def close_work(self) -> None:
        """End the work beside the window."""
        self._stop.set()
        self._work.close()

    def _take(self, told: tuple[Layout, Advice] | float) -> None:
        if isinstance(told, float):
            self.busy.setValue(round(100 * told))
            return
        (self._of, self.advice), self._searched = told, None
        self._show_busy(False)
        self._show_advice()

    def _fail(self, error: Exception) -> None:
        self._searched = None
        self._show_busy(False)
        if isinstance(error, LayoutError):
            self.told.setText(str(error))
        else:
            self.crashed.emit(error)

    # -- taking -------------------------------------------------------------------------------------------------

    def take_chosen(self) -> None:
        """Ask for the proposal of the current row."""
        proposal = self._chosen()
        if proposal is not None and self._is_fresh():
            self.wanted.emit(proposal)

    def _chosen(self) -> Proposal | None:
        row = self.table.currentRow() - 1  # the first row is the layout as it is
        return self.advice.proposals[row] if self.advice and 0 <= row < len(self.advice.proposals) else None

    def _is_fresh(self) -> bool:
        return self._of is self._document.current

    # -- showing ------------------------------------------------------------------------------------------------

    def _show_busy(self, is_busy: bool) -> None:
        self.busy.setValue(0)
        for widget in (self.busy, self.cancel):
            widget.setVisible(is_busy)
        self.begin.setEnabled(not is_busy)

    def _show_advice(self) -> None:
        advice = self.advice
        if advice is None:
            return
        rows = [("1", advice.start, translate("variants", "The layout as it is"), ())]
        rows += [(f"{p.score:.2f}", p.measures, p.label, p.remarks) for p in advice.proposals]
        self.table.setRowCount(len(rows))
        for row, (score, found, label, remarks) in enumerate(rows):
            self._put_row(row, score, found, ". ".join((label, " ".join(remarks))) if remarks else label)
        self.table.resizeColumnsToContents()
        for column in range(len(COLUMNS) - 1):
            self.table.setColumnWidth(column, self.table.columnWidth(column) + COLUMN_GAP_PX)
        self.table.resizeRowsToContents()
        if advice.proposals:
            self.table.setCurrentCell(1, 0)
        self._show_age()

    def _put_row(self, row: int, score: str, found: Measures, words: str) -> None:
        texts = (
            score, f"{found.imbalance:.3f}", f"{number_text(found.interconnect_loss_w)} W",
            f"{number_text(found.metal_mass_g)} g", words,
        )  # fmt: skip
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            item.setToolTip(words)
            item.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
            self.table.setItem(row, column, item)

    def _follow(self) -> None:
        """End a search whose layout is no longer the one in hand: nothing of it could be taken."""
        if self._searched is None:
            self._show_age()
        elif self._searched is not self._document.current:
            self.give_up()
            self._show_age()
            self.told.setText(translate("variants", "The layout has changed: the search was given up. Look again."))

    def _show_age(self) -> None:
        is_fresh = self._is_fresh()
        self.table.setEnabled(is_fresh)
        if self.advice is None:
            self.told.setText(
                translate(
                    "variants",
                    "The adviser tries other terminal places, borders and sheets, and shows what is worth a look: "
                    "none that another beats in imbalance, loss and mass alike.",
                )
            )
        elif not is_fresh:
            self.told.setText(translate("variants", "These are of a layout before. Look again."))
        else:
            self.told.setText(_summary(self.advice))
        self._allow()

    def _allow(self) -> None:
        self.take.setEnabled(self._chosen() is not None and self._is_fresh())

    def sizeHint(self) -> QSize:
        """Room for a dozen proposals."""
        return QSize(700, 17 * self.fontMetrics().lineSpacing())


def _search(layout: Layout, lender: Any, stop: threading.Event, hand_over: HandOver) -> None:
    from layout_app.advising.adviser import advise
    from layout_app.workings import Workings

    try:
        hand_over((layout, advise(Workings(layout, lender), progress=_telling(stop, hand_over))))
    except _Stopped:
        return


def _telling(stop: threading.Event, hand_over: HandOver) -> Callable[[float], None]:
    """Return what tells the window how far the search is, as often as can be seen, and ends it when told to stop."""
    last_s = [time.monotonic()]

    def tell(share: float) -> None:
        if stop.is_set():
            raise _Stopped
        if time.monotonic() - last_s[0] > TELL_EVERY_S:
            last_s[0] = time.monotonic()
            hand_over(float(share))

    return tell


def _summary(advice: Advice) -> str:
    """Return how many were tried, how the score is reckoned, and what was left out and why."""
    tried = translate("variants", "{n} layouts tried. Score: mean of {score}; less is better.")
    said = [tried.format(n=advice.n_tried, score=advice.weights.words)]
    if not advice.proposals:
        said.insert(0, translate("variants", "Nothing tried is better than the layout as it is."))
    if advice.left_out:
        first, n_more = advice.left_out[0], len(advice.left_out) - 1
        words = translate("variants", "Left out: {label}: {why}").format(label=first.label, why=first.why)
        said.append(words + (translate("variants", " And {n} more.").format(n=n_more) if n_more else ""))
    return " ".join(said)


class _Stopped(Exception):  # noqa: N818  # a wish, no error
    """Nobody waits for the advice any more."""
