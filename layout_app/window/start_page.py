"""StartPage: continue, start from a housing drawing, start from numbers, or look at a finished sample."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.model.errors import LayoutError
from layout_app.model.resources import sample_layouts
from layout_app.window import memory
from layout_app.window.background import Background, HandOver
from layout_app.window.colours import theme_of
from layout_app.window.icons import app_icon, icon
from layout_app.window.message_bar import MessageBar
from layout_app.window.recovery_offers import RecoveryOffers
from layout_app.window.start_ways import way
from layout_app.window.thumbnails import thumbnail

translate = QCoreApplication.translate

CAUTION = QT_TRANSLATE_NOOP(
    "start",
    "Caution: lithium-ion modules burn, and their short-circuit currents weld tools. Busweave computes; it does not "
    "certify. Follow local codes and the cell maker's data sheet, and have licensed people check the work.",
)
WIDEST = 1080  # wider, what belongs together drifts apart
PICTURE = QSize(250, 156)
SMALL_PICTURE = QSize(64, 42)  # of a recent file
MOST_RECENT_SHOWN = 5
MOST_SAMPLES_IN_A_ROW = 2
MOST_CELLS_WITH_METAL = 2000  # the metal of more takes a second and cannot be seen at this size


class StartPage(QScrollArea):
    """What a window shows before it has a layout."""

    open_file = Signal(object)  # a Path
    open_sample = Signal(object)
    open_recovered = Signal(object)  # an Offer
    choose_drawing = Signal()
    choose_file = Signal()
    start_from_numbers = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self._pictures = Background(self)
        self._pictures.delivered.connect(self._show_picture)
        self._picture_timer = QTimer(
            self, singleShot=True, interval=60
        )  # a window given a file leaves this page at once
        self._picture_timer.timeout.connect(self._draw_pictures)
        self._samples: dict[str, QToolButton] = {}
        self._recents: dict[Path, QLabel] = {}
        inside = QWidget()
        inside.setMaximumWidth(WIDEST)
        column = QVBoxLayout(inside)
        column.setContentsMargins(40, 36, 40, 24)
        column.setSpacing(22)
        self.message = MessageBar()
        column.addWidget(self.message)
        self.recovered = RecoveryOffers()
        self.recovered.opened.connect(self.open_recovered)
        column.addWidget(self.recovered)
        column.addLayout(self._title())
        middle = QHBoxLayout()
        middle.setSpacing(48)
        middle.addLayout(self._ways(), 4)
        middle.addLayout(self._sample_grid(), 6)
        column.addLayout(middle)
        column.addStretch(1)
        column.addWidget(self._caution())
        outside = QWidget()
        row = QHBoxLayout(outside)
        row.setContentsMargins(0, 0, 0, 0)
        row.addStretch(1)
        row.addWidget(inside, 1000)
        row.addStretch(1)
        self.setWidget(outside)

    def _title(self) -> QHBoxLayout:
        mark = QLabel()
        mark.setPixmap(app_icon().pixmap(QSize(56, 56), self.devicePixelRatioF()))
        name = QLabel(translate("start", "<span style='font-size:24pt; font-weight:600'>Busweave</span>"))
        words = QLabel(
            translate(
                "start",
                "From a housing and a cylindrical cell to groups in series order, busbar segments and drawings.",
            )
        )
        words.setWordWrap(True)
        texts = QVBoxLayout()
        texts.setSpacing(2)
        texts.addWidget(name)
        texts.addWidget(words)
        row = QHBoxLayout()
        row.setSpacing(16)
        row.addWidget(mark)
        row.addLayout(texts, 1)
        return row

    def _ways(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        for heading, rows in self._way_rows():
            if rows:
                column.addWidget(_heading(heading))
                for row in rows:
                    column.addWidget(row)
                column.addSpacing(10)
        column.addStretch(1)
        return column

    def _way_rows(self) -> list[tuple[str, list[QWidget]]]:
        recent = [self._recent(path) for path in memory.recent_files()[:MOST_RECENT_SHOWN]]
        return [
            (
                translate("start", "Continue"),
                [
                    *recent,
                    way(
                        icon("open"),
                        translate("start", "Open a file…"),
                        translate("start", "A layout from disk"),
                        self.choose_file.emit,
                    ),
                ],
            ),
            (
                translate("start", "Start"),
                [
                    way(
                        icon("drawing"),
                        translate("start", "From a housing drawing…"),
                        translate("start", "DXF; or drop it on this window"),
                        self.choose_drawing.emit,
                    ),
                    way(
                        icon("numbers"),
                        translate("start", "From numbers…"),
                        translate("start", "A rectangle or a circle by its size"),
                        self.start_from_numbers.emit,
                    ),
                ],
            ),
        ]

    def _recent(self, path: Path) -> QPushButton:
        """A way to a file opened before; its picture comes a moment later."""
        button = way(icon("open"), path.name, str(path.parent), _tell(self.open_file, path), SMALL_PICTURE)
        self._recents[path] = button.findChild(QLabel, "mark")
        return button

    def _sample_grid(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        column.addWidget(_heading(translate("start", "Finished samples")))
        grid = QGridLayout()
        grid.setSpacing(12)
        try:
            samples = sample_layouts()
        except LayoutError:
            samples = {}
        for place, (name, path) in enumerate(samples.items()):
            button = QToolButton(text=name.replace("_", " ").capitalize(), autoRaise=True)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
            button.setIconSize(PICTURE)
            button.setToolTip(translate("start", "Open a copy of {name}").format(name=path.name))
            button.clicked.connect(_tell(self.open_sample, path))
            self._samples[name] = button
            grid.addWidget(button, place // MOST_SAMPLES_IN_A_ROW, place % MOST_SAMPLES_IN_A_ROW)
        if not samples:
            grid.addWidget(QLabel(translate("start", "No samples are installed.")), 0, 0)
        column.addLayout(grid)
        column.addStretch(1)
        return column

    def _caution(self) -> QLabel:
        label = QLabel(translate("start", CAUTION), wordWrap=True)
        label.setAccessibleName(translate("start", "Caution"))
        theme = theme_of(self.palette())
        label.setStyleSheet(f"border: 0; border-left: 3px solid {theme.warning}; padding: 4px 10px")
        label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        return label

    # -- pictures -----------------------------------------------------------------------------------------------

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self.recovered.refresh()
        self._picture_timer.start()

    def hideEvent(self, event) -> None:
        super().hideEvent(event)
        self._picture_timer.stop()
        self._pictures.cancel()

    def _draw_pictures(self) -> None:
        recents = {path: path for path in self._recents}
        samples = sample_layouts() if self._samples else {}
        bare = {name: samples[name] for name, button in self._samples.items() if button.icon().isNull()}
        if recents or bare:
            self._pictures.start(lambda hand_over: _derive_pictured({**recents, **bare}, hand_over))

    def _show_picture(self, _ticket: int, pictured: tuple) -> None:
        key, layout, segments = pictured
        theme, ratio = theme_of(self.palette()), self.devicePixelRatioF()
        size = SMALL_PICTURE if isinstance(key, Path) else PICTURE
        margin = 2 if isinstance(key, Path) else 8
        picture = thumbnail(layout, segments, theme, size.width(), size.height(), ratio, margin=margin)
        if isinstance(key, Path):
            self._recents[key].setPixmap(picture)
        else:
            self._samples[key].setIcon(QIcon(picture))

    def close_work(self) -> None:
        """End the work on pictures."""
        self._pictures.close()


def _derive_pictured(paths: dict[Path | str, Path], hand_over: HandOver) -> None:
    """Hand over key, layout and metal of each file, recent ones first, then small ones; large ones go without metal.

    A recent file that cannot be read, or is a drawing, keeps its plain mark: opening it will say what is wrong.
    """
    from layout_app.model.saved_file import load
    from layout_app.workings import Workings

    def order(item: tuple[Path | str, Path]) -> tuple[bool, int]:
        return isinstance(item[0], str), item[1].stat().st_size if item[1].is_file() else 0

    for key, path in sorted(paths.items(), key=order):
        try:
            layout = load(path)
        except LayoutError:
            continue
        is_small = isinstance(key, Path)
        segments = () if is_small or len(layout.cells) > MOST_CELLS_WITH_METAL else Workings(layout).segments
        if not hand_over((key, layout, segments)):
            return


def _tell(signal: Signal, path: Path) -> Callable[..., None]:
    return lambda *_: signal.emit(path)


def _heading(text: str) -> QLabel:
    label = QLabel(f"<b>{text}</b>")
    label.setContentsMargins(2, 0, 0, 0)
    return label
