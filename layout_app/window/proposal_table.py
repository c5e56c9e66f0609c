"""ProposalTable: the modules that would do, a row with a small picture each, the best first."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QSize, Qt
from PySide6.QtGui import QBrush, QIcon, QPixmap
from PySide6.QtWidgets import QAbstractItemView, QTableWidget, QTableWidgetItem

from layout_app.planning.proposals import Lack, Proposal
from layout_app.window.colours import theme_of

translate = QCoreApplication.translate

COLUMNS = {  # heading: what it means
    "": QT_TRANSLATE_NOOP("proposals", "How the groups would lie"),
    "S × P": QT_TRANSLATE_NOOP("proposals", "Groups in series × cells in each"),
    QT_TRANSLATE_NOOP("proposals", "Lattice, rows at"): QT_TRANSLATE_NOOP(
        "proposals", "The pattern of the sites, and the direction of its rows"
    ),
    QT_TRANSLATE_NOOP("proposals", "Chain"): QT_TRANSLATE_NOOP(
        "proposals", "Straight: terminals at opposite ends. Folded: side by side"
    ),
    QT_TRANSLATE_NOOP("proposals", "Cells"): QT_TRANSLATE_NOOP("proposals", "Cells of the module"),
    QT_TRANSLATE_NOOP("proposals", "Energy"): QT_TRANSLATE_NOOP("proposals", "Cells × capacity × nominal voltage"),
    QT_TRANSLATE_NOOP("proposals", "Spare"): QT_TRANSLATE_NOOP("proposals", "Sites that stay empty"),
    QT_TRANSLATE_NOOP("proposals", "Of the most"): QT_TRANSLATE_NOOP(
        "proposals", "Cells over the proven most that can fit, whatever the arrangement"
    ),
    QT_TRANSLATE_NOOP("proposals", "Lacks"): QT_TRANSLATE_NOOP("proposals", "What it does not do of what is asked"),
}
PICTURE = QSize(78, 50)
COLUMN_GAP_PX = 14


class ProposalTable(QTableWidget):
    """Shows proposals; pictures and what the chain lacks come a moment later."""

    def __init__(self) -> None:
        super().__init__(0, len(COLUMNS))
        self.shown: tuple[Proposal, ...] = ()
        self.setAccessibleName(translate("proposals", "Proposals"))
        self.setHorizontalHeaderLabels([translate("proposals", heading) if heading else "" for heading in COLUMNS])
        for column, meaning in enumerate(COLUMNS.values()):
            self.horizontalHeaderItem(column).setToolTip(translate("proposals", meaning))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setIconSize(PICTURE)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(PICTURE.height() + 8)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.setMinimumHeight(150)

    def show_proposals(self, proposals: Sequence[Proposal]) -> None:
        """Fill the rows anew and choose the first."""
        self.shown = tuple(proposals)
        self.setRowCount(len(self.shown))
        for row, proposal in enumerate(self.shown):
            for column, text in enumerate(_row(proposal)):
                item = QTableWidgetItem(text)
                item.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
                self.setItem(row, column, item)
            self.tell_lacks(row, proposal.lacks)
        self.resizeColumnsToContents()
        self.setColumnWidth(0, PICTURE.width() + 10)
        for column in range(1, len(COLUMNS) - 1):
            self.setColumnWidth(column, self.columnWidth(column) + COLUMN_GAP_PX)
        if self.shown:
            self.setCurrentCell(0, 1)

    def tell_lacks(self, row: int, lacks: Sequence[Lack]) -> None:
        """Write what a proposal lacks; in words, and marked so that a glance down the column finds it."""
        item = self.item(row, len(COLUMNS) - 1)
        item.setText("; ".join(lack.words for lack in lacks) or translate("proposals", "nothing"))
        item.setToolTip("\n".join(lack.words for lack in lacks))
        item.setForeground(QBrush(theme_of(self.palette()).colour("warning")) if lacks else QBrush())

    def show_picture(self, row: int, picture: QPixmap) -> None:
        """Put a picture at the head of a row."""
        icon = QIcon(picture)
        icon.addPixmap(picture, QIcon.Mode.Selected)  # else it is washed over
        self.item(row, 0).setIcon(icon)

    @property
    def chosen(self) -> Proposal | None:
        """The proposal of the current row."""
        return self.shown[self.currentRow()] if 0 <= self.currentRow() < len(self.shown) else None


def _row(proposal: Proposal) -> tuple[str, ...]:
    lattice, spare = proposal.arrangement.lattice, proposal.n_spare
    return (
        "",
        f"{proposal.n_series} × {proposal.n_parallel}",
        f"{lattice.kind.capitalize()}, {math.degrees(lattice.angle_rad):.4g}°",
        proposal.chain.capitalize(),
        str(proposal.n_cells),
        f"{proposal.energy_wh:.4g} Wh",
        f"{spare}" if spare >= 0 else "–",
        f"{proposal.fraction_of_bound:.1%}".replace("%", " %"),
        "",
    )
