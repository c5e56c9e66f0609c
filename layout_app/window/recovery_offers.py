"""RecoveryOffers: work left by a program that ended without saving it; each can be opened or discarded."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication, QDateTime, QLocale, Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QMessageBox, QPushButton, QVBoxLayout, QWidget

from layout_app.window.recovery import Offer, claim, offers

MOST_SHOWN = 6
translate = QCoreApplication.translate


class RecoveryOffers(QFrame):
    """Hidden while there is nothing to offer; call `refresh` once it lies in a window."""

    opened = Signal(object)  # an Offer

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(translate("recovery", "Recovered work"))
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(14, 10, 10, 10)
        self.rows: list[OfferRow] = []
        self.hide()  # the page that holds it refreshes it when it is shown itself

    def refresh(self) -> None:
        """Look for what is there now."""
        while self._column.count():
            old = self._column.takeAt(0).widget()
            old.hide()
            old.deleteLater()
        found = offers()
        self.rows = [OfferRow(offer) for offer in found[:MOST_SHOWN]]
        title = translate("recovery", "Busweave ended without saving. This was kept:")
        self._column.addWidget(QLabel(f"<b>{title}</b>"))
        for row in self.rows:
            row.open.clicked.connect(lambda _=False, row=row: self.opened.emit(row.offer))
            row.discard.clicked.connect(lambda _=False, row=row: self._discard(row.offer))
            self._column.addWidget(row)
        if len(found) > MOST_SHOWN:
            self._column.addWidget(QLabel(translate("recovery", "… and older ones once these are dealt with")))
        self.setVisible(bool(found))

    def _discard(self, offer: Offer) -> None:
        question = translate("recovery", "Discard “{name}” as it was {when}?")
        asked = question.format(name=offer.note.name, when=when_text(offer.kept_at))
        told = translate("recovery", "It cannot be brought back.")
        buttons = QMessageBox.StandardButton
        box = QMessageBox(QMessageBox.Icon.Question, "Busweave", asked, buttons.Discard | buttons.Cancel, self)
        box.setInformativeText(told)
        box.setDefaultButton(buttons.Cancel)
        if box.exec() == buttons.Discard:
            slot = claim(offer)
            if slot is not None:
                slot.discard()
        self.refresh()


class OfferRow(QWidget):
    """One piece of work: what it is, of when, and what to do with it."""

    def __init__(self, offer: Offer) -> None:
        super().__init__()
        self.offer = offer
        words = QLabel(offer_text(offer), wordWrap=True)
        words.setTextFormat(Qt.TextFormat.PlainText)
        self.open = QPushButton(translate("recovery", "Open"))
        self.discard = QPushButton(translate("recovery", "Discard…"))
        for button in (self.open, self.discard):
            button.setAccessibleName(f"{button.text()} {offer.note.name}")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(words, 1)
        row.addWidget(self.open)
        row.addWidget(self.discard)


def offer_text(offer: Offer) -> str:
    """Return e.g. "orchard rover, as of today 23:41, changes to /home/a/rover.busweave"."""
    origin = offer.note.origin
    of = (
        translate("recovery", "changes to {path}").format(path=_from_home(Path(origin)))
        if origin
        else translate("recovery", "never saved to a file")
    )
    told = translate("recovery", "{name}, as it was {when}; {of}")
    return told.format(name=offer.note.name, when=when_text(offer.kept_at), of=of)


def when_text(seconds: float) -> str:
    """Return a time as people say it: the hour today, else with its date."""
    moment = QDateTime.fromSecsSinceEpoch(int(seconds))
    locale = QLocale()
    clock = locale.toString(moment.time(), "HH:mm")
    if moment.date() == QDateTime.currentDateTime().date():
        return translate("recovery", "today at {clock}").format(clock=clock)
    day = locale.toString(moment.date(), "d MMMM yyyy")
    return translate("recovery", "on {day} at {clock}").format(day=day, clock=clock)


def _from_home(path: Path) -> str:
    return f"~/{path.relative_to(Path.home())}" if path.is_relative_to(Path.home()) else str(path)
