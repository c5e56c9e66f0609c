"""Findings: what the checks have to say, gravest first; a click goes to the place and tells why."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QRectF, QSignalBlocker, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtWidgets import (
    QAbstractItemView,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QSplitter,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.checks.findings import SEVERITIES, Finding
from layout_app.window.colours import theme_of
from layout_app.window.derived import Derived
from layout_app.window.document import Document
from layout_app.window.overlays import paint_severity
from layout_app.window.panels.why import WhyPane

translate = QCoreApplication.translate

PLURALS = {"error": "errors", "warning": "warnings", "note": "notes"}
MOST_SHOWN = 500
MOST_WHY = 0.62  # of the panel's height, for the reasons of a finding


class FindingsPanel(QWidget):
    """A list of findings under a line that counts them, over the reasons of the one looked at."""

    chosen = Signal(object)  # the Finding that was clicked

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._shown: tuple[Finding, ...] | None = None
        self.summary = QLabel()
        self.summary.setContentsMargins(10, 6, 10, 4)
        self.list = QListWidget(wordWrap=True, uniformItemSizes=False)
        self.list.setAccessibleName(translate("findings", "Findings"))
        self.list.setIconSize(QSize(18, 18))
        self.list.setSpacing(2)
        self.list.setFrameShape(QAbstractItemView.Shape.NoFrame)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setResizeMode(QListWidget.ResizeMode.Adjust)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.summary)
        self.why = WhyPane(document)
        self._halves = halves = QSplitter(Qt.Orientation.Vertical)
        halves.setChildrenCollapsible(False)
        for widget, share in ((self.list, 3), (self.why, 2)):
            halves.addWidget(widget)
            halves.setStretchFactor(halves.count() - 1, share)
        column.addWidget(halves, 1)
        self._icons: dict[tuple[str, bool, float], QIcon] = {}
        self._laid_out_px = 0
        self.list.verticalScrollBar().rangeChanged.connect(lambda *_: QTimer.singleShot(0, self, self._lay_out_again))
        self.list.itemClicked.connect(self._tell)
        self.list.itemActivated.connect(self._tell)
        self.list.currentItemChanged.connect(lambda item, _: self._show_why(item))
        document.derived_changed.connect(self.show_findings)
        document.stale_changed.connect(lambda: halves.setEnabled(not document.is_stale))
        self.show_findings()

    def sizeHint(self) -> QSize:
        """Room for a few findings and the reasons of one."""
        return QSize(350, 21 * self.fontMetrics().lineSpacing())

    def _lay_out_again(self) -> None:
        """Rows were measured before the scroll bar took its room, and would end in dots."""
        wide = self.list.viewport().width()
        if wide != self._laid_out_px:
            self._laid_out_px = wide
            self.list.doItemsLayout()

    def wanted_height(self) -> int:
        """Return how high the panel would be with every finding in sight."""
        rows = sum(self.list.sizeHintForRow(row) + 2 * self.list.spacing() for row in range(self.list.count()))
        return rows + self.summary.sizeHint().height() + 3 * self.fontMetrics().lineSpacing()

    def show_findings(self) -> None:
        """Show the findings of the document."""
        findings = self._document.findings
        self.summary.setText(summary_text(self._document))
        if findings is self._shown:
            return
        self._shown = findings
        looked_at = self.why.finding
        with QSignalBlocker(self.list):
            self.list.clear()
            for finding in sorted(findings, key=lambda f: SEVERITIES.index(f.severity))[:MOST_SHOWN]:
                self._add(finding)
            if len(findings) > MOST_SHOWN:
                self.list.addItem(
                    translate("findings", "… and {MOST_SHOWN} more").format(MOST_SHOWN=len(findings) - MOST_SHOWN)
                )
            self._look_again(looked_at)
        self._show_why(self.list.currentItem())

    def _look_again(self, before: Finding | None) -> None:
        """Keep looking at the finding looked at before, or at what its rule now says about the same; else at none."""
        if before is None:
            return
        items = [self.list.item(row) for row in range(self.list.count())]
        same_rule = [item for item in items if (found := _finding(item)) and found.rule == before.rule]
        same = [item for item in same_rule if _finding(item).segments == before.segments]
        for item in (same or same_rule)[:1]:
            self.list.setCurrentItem(item)

    def _show_why(self, item: QListWidgetItem | None) -> None:
        was_hidden = self.why.isHidden()
        self.why.show_finding(None if item is None else _finding(item))
        if was_hidden and not self.why.isHidden():
            height = self._halves.height()
            share = min(self.why.wanted_height(), round(MOST_WHY * height))
            self._halves.setSizes([height - share, share])

    def _add(self, finding: Finding) -> None:
        item = QListWidgetItem(self._kept_icon(finding.severity), f"{finding.severity.capitalize()}: {finding.message}")
        item.setData(Qt.ItemDataRole.UserRole, finding)
        place = translate("findings", "Click to go there.\n") if finding.places_mm else ""
        item.setToolTip(
            translate("findings", "{place}Rule: {rule}\n{limit_text}")
            .format(place=place, rule=finding.rule, limit_text=_limit_text(finding))
            .strip()
        )
        self.list.addItem(item)

    def _kept_icon(self, severity: str) -> QIcon:
        look = (severity, theme_of(self.palette()).is_dark, self.devicePixelRatioF())
        if look not in self._icons:
            self._icons[look] = self._icon(severity)
        return self._icons[look]

    def _icon(self, severity: str) -> QIcon:
        ratio = self.devicePixelRatioF()
        pixmap = QPixmap(round(18 * ratio), round(18 * ratio))
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        size = QRectF(pixmap.rect()).center()
        drop = 1.5 * ratio if severity == "warning" else 0.0
        paint_severity(
            painter, theme_of(self.palette()).colour(severity), severity, size.x(), size.y() + drop, 7 * ratio
        )
        painter.end()
        pixmap.setDevicePixelRatio(ratio)
        icon = QIcon(pixmap)
        icon.addPixmap(pixmap, QIcon.Mode.Selected)  # else it is washed over
        return icon

    def _tell(self, item: QListWidgetItem) -> None:
        finding = _finding(item)
        if finding is not None:
            self.chosen.emit(finding)


def _finding(item: QListWidgetItem) -> Finding | None:
    return item.data(Qt.ItemDataRole.UserRole)


def count_text(findings: tuple[Finding, ...]) -> str:
    """Return e.g. "2 errors, 1 note"; says so when there is nothing to say."""
    counts = [(sum(f.severity == severity for f in findings), severity) for severity in SEVERITIES]
    said = [f"{n} {severity if n == 1 else PLURALS[severity]}" for n, severity in counts if n]
    return ", ".join(said) if said else translate("findings", "The checks found nothing.")


def summary_text(document: Derived) -> str:
    """Return how many findings there are; before the first checks are done, that they are being made."""
    return count_text(document.findings) if document.figures else translate("findings", "Checking…")


def _limit_text(finding: Finding) -> str:
    if finding.limit is None or finding.measured is None:
        return finding.source
    text = translate("findings", "Measured {measured:.4g} {unit}, limit {limit:.4g} {unit}").format(
        measured=finding.measured, unit=finding.unit, limit=finding.limit
    )
    return f"{text}\n{finding.source}" if finding.source else text
