"""Findings: what the checks have to say, gravest first; a click goes to the place."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtWidgets import QAbstractItemView, QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from layout_app.checks.findings import SEVERITIES, Finding
from layout_app.window.colours import theme_of
from layout_app.window.document import Document
from layout_app.window.overlays import paint_severity

PLURALS = {"error": "errors", "warning": "warnings", "note": "notes"}
MOST_SHOWN = 500


class FindingsPanel(QWidget):
    """A list of findings under a line that counts them."""

    chosen = Signal(object)  # the Finding that was clicked

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._shown: tuple[Finding, ...] | None = None
        self.summary = QLabel()
        self.summary.setContentsMargins(10, 6, 10, 4)
        self.list = QListWidget(wordWrap=True, uniformItemSizes=False)
        self.list.setAccessibleName("Findings")
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
        column.addWidget(self.list, 1)
        self.list.itemClicked.connect(self._tell)
        self.list.itemActivated.connect(self._tell)
        document.derived_changed.connect(self.show_findings)
        document.stale_changed.connect(lambda: self.list.setEnabled(not document.is_stale))
        self.show_findings()

    def show_findings(self) -> None:
        """Show the findings of the document."""
        findings = self._document.findings
        if findings is self._shown:
            return
        self._shown = findings
        self.summary.setText(count_text(findings))
        kept = self.list.currentRow()
        self.list.clear()
        for finding in sorted(findings, key=lambda f: SEVERITIES.index(f.severity))[:MOST_SHOWN]:
            self._add(finding)
        if len(findings) > MOST_SHOWN:
            self.list.addItem(f"… and {len(findings) - MOST_SHOWN} more")
        self.list.setCurrentRow(min(kept, self.list.count() - 1))

    def _add(self, finding: Finding) -> None:
        item = QListWidgetItem(self._icon(finding.severity), f"{finding.severity.capitalize()}: {finding.message}")
        item.setData(Qt.ItemDataRole.UserRole, finding)
        place = "Click to go there.\n" if finding.places_mm else ""
        item.setToolTip(f"{place}Rule: {finding.rule}\n{_limit_text(finding)}".strip())
        self.list.addItem(item)

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
        return QIcon(pixmap)

    def _tell(self, item: QListWidgetItem) -> None:
        finding = item.data(Qt.ItemDataRole.UserRole)
        if finding is not None:
            self.chosen.emit(finding)


def count_text(findings: tuple[Finding, ...]) -> str:
    """Return e.g. "2 errors, 1 note"; says so when there is nothing to say."""
    counts = [(sum(f.severity == severity for f in findings), severity) for severity in SEVERITIES]
    said = [f"{n} {severity if n == 1 else PLURALS[severity]}" for n, severity in counts if n]
    return ", ".join(said) if said else "The checks found nothing."


def _limit_text(finding: Finding) -> str:
    if finding.limit is None or finding.measured is None:
        return finding.source
    text = f"Measured {finding.measured:.4g} {finding.unit}, limit {finding.limit:.4g} {finding.unit}"
    return f"{text}\n{finding.source}" if finding.source else text
