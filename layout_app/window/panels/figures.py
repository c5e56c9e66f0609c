"""Figures: every computed quantity, pinned ones first; the chosen one tells its formula, inputs and source.

With a reference to compare with, a column tells by how much each differs, and a line what else does.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QEvent, QSignalBlocker, QSize, Qt
from PySide6.QtGui import QFont, QIcon
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.comparing import Comparison, FigureChange, brief_difference_text, difference_text, figure_pairs
from layout_app.physics.figures import Figure
from layout_app.window import memory
from layout_app.window.document import Document
from layout_app.window.icons import icon
from layout_app.window.reference import Reference

translate = QCoreApplication.translate

PIN, LABEL, VALUE, DIFFERENCE = range(4)
PIN_PX = 14
LOOK = Qt.ItemDataRole.UserRole  # what a row shows now, kept by its first item
REMEMBERED = "pinned_figures"


class FiguresPanel(QWidget):
    """A table of figures over what the chosen one is made of."""

    def __init__(self, document: Document, reference: Reference | None = None) -> None:
        super().__init__()
        self._document, self._reference = document, reference or Reference(document)
        self._shown: tuple[FigureChange, ...] = ()  # as they stand in the table
        self._drawn_from: tuple[object, ...] = ()
        self.pinned: list[str] = list(memory.settings().value(REMEMBERED, [], type=list))
        self._pin_icons = [_pin_icon(is_pinned) for is_pinned in (False, True)]
        self.table = self._make_table()
        self.against = QLabel(wordWrap=True, visible=False)
        self.against.setContentsMargins(8, 6, 8, 2)
        self.details = QLabel(translate("figures", "Choose a figure to see how it comes about."), wordWrap=True)
        self.details.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.details.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.details.setContentsMargins(8, 4, 8, 6)
        self.details.setMinimumHeight(3 * self.fontMetrics().lineSpacing())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget, share in ((self.against, 0), (self.table, 1), (self.details, 0)):
            column.addWidget(widget, share)
        self.table.currentCellChanged.connect(lambda row, *_: self._tell(row))
        self.table.cellClicked.connect(lambda row, column: column == PIN and self.pin(self._shown[row].either.key))
        document.derived_changed.connect(self.show_figures)
        document.stale_changed.connect(self._show_age)
        self._reference.changed.connect(self._show_compared)
        self.show_figures()

    def _make_table(self) -> QTableWidget:
        table = _Table(self._pin_current)
        table.setAccessibleName(translate("figures", "Figures"))
        table.setAccessibleDescription(
            translate("figures", "Space keeps the chosen figure at the top, or lets it go again.")
        )
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.setFrameShape(QAbstractItemView.Shape.NoFrame)
        table.setIconSize(QSize(PIN_PX, PIN_PX))
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        header = table.horizontalHeader()
        header.hide()
        header.setMinimumSectionSize(PIN_PX + 8)
        header.setSectionResizeMode(PIN, QHeaderView.ResizeMode.Fixed)
        header.resizeSection(PIN, PIN_PX + 10)
        header.setSectionResizeMode(LABEL, QHeaderView.ResizeMode.Stretch)
        header.sectionResized.connect(lambda column, *_: column == LABEL and table.resizeRowsToContents())
        for column in (VALUE, DIFFERENCE):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Interactive)  # to contents would cost every edit
        table.setColumnHidden(DIFFERENCE, True)
        return table

    # -- pins ---------------------------------------------------------------------------------------------------

    def pin(self, key: str) -> None:
        """Keep a figure at the top, or let it go again; remembered for all layouts."""
        self.pinned = [k for k in self.pinned if k != key] if key in self.pinned else [*self.pinned, key]
        memory.settings().setValue(REMEMBERED, self.pinned)
        self._drawn_from = ()
        self.show_figures()
        rows = [row for row, change in enumerate(self._shown) if change.either.key == key]
        self.table.setCurrentCell(rows[0], LABEL)

    def _pin_current(self) -> None:
        row = self.table.currentRow()
        if 0 <= row < len(self._shown):
            self.pin(self._shown[row].either.key)

    # -- showing ------------------------------------------------------------------------------------------------

    def show_figures(self) -> None:
        """Show the figures worked out last, pinned ones first; others keep their order."""
        figures, kept = self._document.figures, self._reference.kept
        before = kept.figures if kept is not None else figures
        drawn_from = (figures, before, kept)
        if len(self._drawn_from) == 3 and all(a is b for a, b in zip(drawn_from, self._drawn_from, strict=True)):
            return
        self._drawn_from = drawn_from
        pairs = figure_pairs(before, figures) if figures else ()
        place = {key: k for k, key in enumerate(self.pinned)}
        before_keys = [change.either.key for change in self._shown]
        self._shown = tuple(sorted(pairs, key=lambda change: place.get(change.either.key, len(place))))
        is_new_order = before_keys != [change.either.key for change in self._shown]
        if is_new_order:
            self.table.setRowCount(len(self._shown))
        self.table.setColumnHidden(DIFFERENCE, kept is None)
        with QSignalBlocker(self.table.model()):  # else the table lays itself out again for every item
            is_new = [self._fill(row, change) for row, change in enumerate(self._shown)]
        if any(is_new):
            for column in (VALUE, DIFFERENCE):
                self.table.resizeColumnToContents(column)
            self.table.viewport().update()
        if is_new_order:
            self.table.resizeRowsToContents()
        self._tell(self.table.currentRow())

    def _show_compared(self) -> None:
        self.show_figures()
        self._tell_against()

    def _fill(self, row: int, change: FigureChange) -> bool:
        """Write what is new in a row; return whether anything is."""
        is_pinned = change.either.key in self.pinned
        value = change.b.text if change.b else "–"
        texts, tip = ("", change.either.label, value, brief_difference_text(change)), _tip(change)
        first = self.table.item(row, PIN)
        if first is not None and first.data(LOOK) == (texts, is_pinned, tip):
            return False
        for column, text in enumerate(texts):
            item = self.table.item(row, column) or self._new_item(row, column)
            item.setText(text)
            item.setToolTip(tip)
            font = QFont(self.font())
            font.setBold(column == VALUE or (column == LABEL and is_pinned))
            item.setFont(font)
            if column == PIN:
                item.setIcon(self._pin_icons[is_pinned])
                item.setToolTip(
                    translate("figures", "Let it go from the top (Space)")
                    if is_pinned
                    else translate("figures", "Keep it at the top (Space)")
                )
                item.setData(
                    Qt.ItemDataRole.AccessibleTextRole,
                    translate("figures", "kept at the top") if is_pinned else translate("figures", "not kept"),
                )
                item.setData(LOOK, (texts, is_pinned, tip))
        return True

    def _new_item(self, row: int, column: int) -> QTableWidgetItem:
        item = QTableWidgetItem()
        if column > LABEL:
            item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.table.setItem(row, column, item)
        return item

    def _tell(self, row: int) -> None:
        if not 0 <= row < len(self._shown):
            return
        figure = self._shown[row].either
        self.details.setText(
            translate("figures", "{label} = {formula}\n{inputs}\nSource: {source}").format(
                label=figure.label, formula=figure.formula, inputs=_inputs(figure), source=figure.source
            )
        )

    def _tell_against(self) -> None:
        comparison = self._reference.comparison
        self.against.setVisible(comparison is not None)
        if comparison is not None:
            self.against.setText(
                translate("figures", "Compared with <b>{name}</b><br>{summary}").format(
                    name=self._reference.name, summary=summary(comparison)
                )
            )

    def changeEvent(self, event) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "table"):
            self._pin_icons = [_pin_icon(is_pinned) for is_pinned in (False, True)]
            for row, change in enumerate(self._shown):
                self.table.item(row, PIN).setIcon(self._pin_icons[change.either.key in self.pinned])

    def _show_age(self) -> None:
        self.table.setEnabled(not self._document.is_stale)

    def sizeHint(self) -> QSize:
        """Room for a dozen figures."""
        return QSize(350, 20 * self.fontMetrics().lineSpacing())


class _Table(QTableWidget):
    """A table whose space bar does something with the current row."""

    def __init__(self, on_space) -> None:
        super().__init__(0, 4)
        self._on_space = on_space

    def keyPressEvent(self, event) -> None:
        if event.key() == Qt.Key.Key_Space:
            self._on_space()
        else:
            super().keyPressEvent(event)


def summary(comparison: Comparison) -> str:
    """Return in a few words what differs beside the figures."""
    gone, new = comparison.findings
    segments = ", ".join(str(change.number) for change in comparison.segments[:8])
    more = (
        translate("figures", " and {segments} more").format(segments=len(comparison.segments) - 8)
        if len(comparison.segments) > 8
        else ""
    )
    settings = ", ".join(change.name.partition(".")[2] or change.name for change in comparison.settings[:3])
    more_settings = (
        translate("figures", " and {settings} more").format(settings=len(comparison.settings) - 3)
        if len(comparison.settings) > 3
        else ""
    )
    parts = (
        "" if comparison.cells.is_empty else translate("figures", "cells: {text}").format(text=comparison.cells.text),
        translate("figures", "segments {segments}{more}").format(segments=segments, more=more)
        if comparison.segments
        else "",
        translate("figures", "findings: {new} new, {gone} gone").format(new=len(new), gone=len(gone))
        if gone or new
        else "",
        translate("figures", "settings: {settings}{more_settings}").format(
            settings=settings, more_settings=more_settings
        )
        if comparison.settings
        else "",
    )
    return "; ".join(part for part in parts if part) or translate("figures", "Nothing differs but perhaps figures.")


def _tip(change: FigureChange) -> str:
    figure = change.either
    differs = difference_text(change)
    before = (
        translate("figures", "Reference: {a}, now {differs}\n").format(
            a=change.a.text if change.a else translate("figures", "none"), differs=differs
        )
        if differs
        else ""
    )
    return f"{before}{figure.formula}\n{_inputs(figure)}\n{figure.source}"


def _inputs(figure: Figure) -> str:
    return ", ".join(f"{name} {value}" for name, value in figure.inputs)


def _pin_icon(is_pinned: bool) -> QIcon:
    """The pin, faint where a figure is not kept at the top."""
    size = QSize(2 * PIN_PX, 2 * PIN_PX)
    return icon("pin") if is_pinned else QIcon(icon("pin").pixmap(size, QIcon.Mode.Disabled))
