"""WhyPane: one finding looked at closely: the rule, its reason, limit and source, the limit's setting, and repairs."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from layout_app.checks.findings import Finding
from layout_app.checks.reasons import reason
from layout_app.repairs import Offer, offers
from layout_app.repairs.limits import LimitSetting, setting_behind
from layout_app.window.document import Document
from layout_app.window.panels.fields import NumberField

translate = QCoreApplication.translate


class WhyPane(QScrollArea):
    """Hidden until a finding is shown."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self.finding: Finding | None = None
        self.repairs: list[QPushButton] = []
        self.limit: NumberField | None = None
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(translate("findings", "Why"))
        self.title, self.words = QLabel(wordWrap=True), QLabel(wordWrap=True)
        for label in (self.title, self.words):
            label.setTextFormat(Qt.TextFormat.RichText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        inside = QWidget()
        self._column = QVBoxLayout(inside)
        self._column.setContentsMargins(10, 8, 10, 8)
        self._column.setSpacing(6)
        self._column.addWidget(self.title)
        self._column.addWidget(self.words)
        self._extras: list[QWidget] = []
        self._column.addStretch(1)
        self.setWidget(inside)
        self.hide()

    def show_finding(self, finding: Finding | None) -> None:
        """Show why a finding is there and what can be done; None hides the pane."""
        self.finding = finding
        self._clear()
        self.setVisible(finding is not None)
        if finding is None:
            return
        self.title.setText(_title(finding))
        self.words.setText(_told(finding))
        layout = self._document.current
        setting = setting_behind(finding, layout)
        for offer in offers(finding, layout):
            self._add(self._repair_button(offer))
        if setting is not None:
            self._add(self._limit_field(setting))
        self.verticalScrollBar().setValue(0)

    def wanted_height(self) -> int:
        """Return the height at which nothing has to be scrolled."""
        inside = self.widget()
        inside.layout().activate()
        return inside.layout().totalHeightForWidth(max(self.viewport().width(), 200)) + 2 * self.frameWidth()

    def _clear(self) -> None:
        for widget in self._extras:
            widget.hide()
            widget.deleteLater()
        self._extras, self.repairs, self.limit = [], [], None

    def _add(self, widget: QWidget) -> None:
        """Between title and words, so that what can be done is in sight however low the pane is."""
        self._column.insertWidget(self._column.count() - 2, widget)
        widget.show()  # now, so that its height counts
        self._extras.append(widget)

    def _limit_field(self, setting: LimitSetting) -> NumberField:
        def ask(value, refuse) -> None:
            self._document.request(setting.change(value), refuse)

        tip = translate("findings", "The limit this finding is held to. Change it here or among the settings")
        self.limit = NumberField(setting.label, setting.unit, ask, tip=tip)
        self.limit.show_value(setting.value)
        return self.limit

    def _repair_button(self, offer: Offer) -> QPushButton:
        button = QPushButton(offer.words)
        button.setToolTip(translate("findings", "{words}. It can be undone").format(words=offer.words))
        button.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        button.clicked.connect(lambda _=False: self._document.request(offer.edit))
        self.repairs.append(button)
        return button


def _title(finding: Finding) -> str:
    """Return the rule, and what was measured beside the limit."""
    rule = f"<b>{escape(finding.rule.capitalize())}</b>"
    if finding.measured is None or finding.limit is None:
        return rule
    unit = escape(finding.unit)
    return translate(
        "findings", "{rule}: measured <b>{measured:.4g} {unit}</b>, limit <b>{limit:.4g} {unit}</b>"
    ).format(rule=rule, measured=finding.measured, unit=unit, limit=finding.limit)


def _told(finding: Finding) -> str:
    """Return the reason for the rule and the source of its limit, in paragraphs."""
    source = (
        translate("findings", "Source of the limit: {escape}").format(escape=escape(finding.source))
        if finding.source
        else ""
    )
    parts = [escape(reason(finding.rule)), source]
    return "".join(f"<p style='margin-top:0; margin-bottom:5px'>{part}</p>" for part in parts if part)
