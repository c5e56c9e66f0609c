"""Charts: the panel that shows them. They are drawn beside the window, and only while they can be seen."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSignalBlocker, QSize, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.charting.charts import Chart, chart_of
from layout_app.charting.rendering import Picture, picture, png_file, svg_file
from layout_app.exchange.tables import csv_bytes
from layout_app.exchange.wording import file_name
from layout_app.model.atomic import replace_file
from layout_app.model.errors import LayoutError
from layout_app.window import memory
from layout_app.window.background import Background
from layout_app.window.chart_picture import ChartPicture
from layout_app.window.chart_style import style_of
from layout_app.window.document import Document
from layout_app.window.sizes import characters

THROTTLE_MS = 60  # edits that follow each other sooner are drawn together
REMEMBERED = "chart"
CHOICES = {
    "cell_currents": QT_TRANSLATE_NOOP("charts", "Cell currents"),
    "loss_budget": QT_TRANSLATE_NOOP("charts", "Loss budget"),
    "voltage_drop": QT_TRANSLATE_NOOP("charts", "Voltage drop along the chain"),
    "opening_times": QT_TRANSLATE_NOOP("charts", "Opening time of a joint"),
}
translate = QCoreApplication.translate


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """What comes back from drawing."""

    key: str
    layout: object
    chart: Chart
    picture: Picture
    ratio: float
    em_px: float


class ChartsPanel(QWidget):
    """A choice of charts over the one shown, and under it what it says or what the point meant says."""

    chosen = Signal(int, int)  # cell (index) and segment, -1 for none
    told = Signal(str, bool)  # a message for the user, and whether it is an error

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self.drawn: Drawn | None = None
        self._work = Background(self)  # close_work ends it
        self._saving = Background(self)
        self._timer = QTimer(self, singleShot=True, interval=THROTTLE_MS)
        self._timer.timeout.connect(self._draw)
        self.choice = QComboBox(toolTip=translate("charts", "Which chart to show"))
        self.choice.setAccessibleName(translate("charts", "Chart"))
        for key, title in CHOICES.items():
            self.choice.addItem(translate("charts", title), key)
        remembered = self.choice.findData(memory.settings().value(REMEMBERED, ""))
        self.choice.setCurrentIndex(max(remembered, 0))
        self.save = QPushButton(
            text=translate("charts", "Save…"),
            toolTip=translate("charts", "Save the chart as SVG or PNG, or its numbers as CSV"),
        )
        self.picture = ChartPicture()
        self.scroll = QScrollArea(widgetResizable=True, frameShape=QScrollArea.Shape.NoFrame)
        self.scroll.setWidget(self.picture)
        self.why_none = QLabel(wordWrap=True, alignment=Qt.AlignmentFlag.AlignCenter)
        self.why_none.setMargin(characters(self, 2))
        self.pages = QStackedWidget()
        self.summary = QLabel(wordWrap=True, textInteractionFlags=Qt.TextInteractionFlag.TextSelectableByMouse)
        self._lay_out()
        self._connect()
        self._show_state()

    def _lay_out(self) -> None:
        for page in (self.scroll, self.why_none):
            self.pages.addWidget(page)
        row = QHBoxLayout()
        row.addWidget(self.choice)
        row.addWidget(self.save)
        row.addStretch(1)
        row.setContentsMargins(6, 4, 6, 2)
        self.summary.setContentsMargins(8, 2, 8, 6)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self.pages, 1)
        column.addWidget(self.summary)

    def _connect(self) -> None:
        self.choice.currentIndexChanged.connect(self._take_choice)
        self.save.clicked.connect(self.ask_save)
        self.picture.outdated.connect(self.ask)
        self.picture.pointed.connect(lambda words: self.summary.setText(words or self._summary()))
        self.picture.chosen.connect(self.chosen)
        self._document.derived_changed.connect(self._follow)
        self._document.stale_changed.connect(self._show_state)
        self._work.delivered.connect(lambda _, drawn: self._take(drawn))
        self._work.failed.connect(lambda _, error: self._document.crashed.emit(error))
        self._saving.delivered.connect(
            lambda _, path: self.told.emit(translate("charts", "Saved {}.").format(path), False)
        )
        self._saving.failed.connect(lambda _, error: self._tell_failure(error))

    def sizeHint(self) -> QSize:
        """Room for two panels side by side."""
        return QSize(characters(self, 110), 24 * self.fontMetrics().lineSpacing())

    def close_work(self) -> None:
        """End the work beside the window."""
        self._timer.stop()
        self._work.close()
        self._saving.close()

    @property
    def key(self) -> str:
        """The chart chosen."""
        return self.choice.currentData()

    def mark(self, cells: frozenset[int]) -> None:
        """Ring the points of chosen cells."""
        self.picture.mark(cells)

    # -- following ----------------------------------------------------------------------------------------------

    def ask(self) -> None:
        """Have the chart drawn anew, unless nobody can see it."""
        if self.isVisible() and not self._timer.isActive():
            self._timer.start()

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self._follow()

    def _follow(self) -> None:
        if self.isVisible():
            self._show_state()
            if self.drawn is None or self.drawn.layout is not self._document.currents_of:
                self.ask()

    def _take_choice(self) -> None:
        memory.settings().setValue(REMEMBERED, self.key)
        self.ask()

    def _show_state(self) -> None:
        """Show the chart, or why there is none."""
        document = self._document
        has_currents = document.currents is not None and document.joint_faults is not None
        known = document.no_currents or document.no_joint_faults
        why = known or translate("charts", "The currents are being worked out…")
        with QSignalBlocker(self.why_none):
            self.why_none.setText("" if has_currents else why)
        self.pages.setCurrentWidget(self.scroll if has_currents else self.why_none)
        self.save.setEnabled(has_currents)
        self.picture.set_stale(document.is_stale)
        if not has_currents:
            self.summary.clear()

    def _draw(self) -> None:
        document = self._document
        if not self.isVisible() or document.currents is None or document.joint_faults is None:
            return
        facts = self.key, document.currents_of, document.current_segments, document.currents, document.joint_faults
        ratio, style = self.devicePixelRatioF(), style_of(self.picture)
        size, dpi = self.picture.size().expandedTo(QSize(1, 1)), self.picture.logicalDpiX() * self.devicePixelRatioF()

        def draw(hand_over) -> None:
            chart = chart_of(*facts)
            if hand_over(None):  # somebody still waits
                shown = picture(chart, style, round(size.width() * ratio), round(size.height() * ratio), dpi)
                hand_over(Drawn(facts[0], facts[1], chart, shown, ratio, style.em_in * dpi / ratio))

        self._work.start(draw, drops_running=False)  # a chart a moment behind is better than none

    def _take(self, drawn: Drawn | None) -> None:
        if drawn is None or drawn.key != self.key:
            return
        self.drawn = drawn
        self._leave_room(drawn)
        self.picture.show_picture(drawn.picture, drawn.ratio, f"{drawn.chart.title}. {drawn.chart.summary}")
        self.summary.setText(self.picture.words or self._summary())

    def _leave_room(self, drawn: Drawn) -> None:
        """Keep the picture large enough to be read; what does not fit is scrolled."""
        em, room = drawn.em_px, self.scroll.viewport().width()
        width = drawn.chart.least_width_em
        height = drawn.chart.least_height_em(max(width, room / em))
        self.picture.setMinimumSize(round(width * em), round(height * em))

    def _summary(self) -> str:
        return "" if self.drawn is None else self.drawn.chart.summary

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        if self.drawn is not None:
            self._leave_room(self.drawn)

    # -- saving -------------------------------------------------------------------------------------------------

    def ask_save(self) -> None:
        """Ask for a file and save the chart to it."""
        if self.drawn is None:
            return
        name = f"{file_name(self._document.current.name)}_{self.drawn.key}.svg"
        folder = Path(memory.settings().value("export_folder", "") or _folder_of(self._document))
        kinds = ";;".join(
            (
                translate("charts", "Drawing (*.svg)"),
                translate("charts", "Picture (*.png)"),
                translate("charts", "Numbers (*.csv)"),
            )
        )
        path, kind = QFileDialog.getSaveFileName(self, translate("charts", "Save the chart"), str(folder / name), kinds)
        if path:
            self.save_to(Path(path) if Path(path).suffix else Path(path + kind[-5:-1]))

    def save_to(self, path: Path) -> None:
        """Write the chart shown to a file; its ending tells what as."""
        chart, heading = self.drawn.chart, f"{self.drawn.chart.title}: {self.drawn.layout.name}"
        makers = {
            ".svg": functools.partial(svg_file, chart, heading), ".png": functools.partial(png_file, chart, heading),
            ".csv": lambda: csv_bytes(chart.header, chart.rows),
        }  # fmt: skip
        make = makers.get(path.suffix.lower())
        if make is None:
            self.told.emit(
                translate("charts", "A chart is saved as .svg, .png or .csv; give {} one of these endings.").format(
                    path.name
                ),
                True,
            )
            return

        def write(hand_over) -> None:
            replace_file(path, make())
            hand_over(path)

        self._saving.start(write, drops_running=False)

    def _tell_failure(self, error: Exception) -> None:
        if isinstance(error, LayoutError):
            self.told.emit(str(error), True)
        else:
            self._document.crashed.emit(error)


def _folder_of(document: Document) -> Path:
    return document.path.parent if document.path else Path.home()
