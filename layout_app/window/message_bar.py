"""MessageBar: one line over the canvas that says what could not be done, or asks what to do about something.

What is said goes by itself; a question stays until it is answered, and comes back when something else was said
meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QCoreApplication, QEvent, Qt, QTimer
from PySide6.QtGui import QFontMetrics, QGuiApplication
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QToolButton, QWidget

from layout_app.window.colours import theme_of
from layout_app.window.sizes import characters

LONG_ENOUGH_MS = 12_000
NARROW_CHARACTERS = 80
Answers = Mapping[str, Callable[[], object]]  # words on a button -> what it does
translate = QCoreApplication.translate


class MessageBar(QFrame):
    """Hidden until `tell` or `ask` is called."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(translate("message", "Message"))
        self._questions: dict[str, tuple[str, Answers]] = {}
        self._is_error = False
        self._mark, self._text = QLabel("!"), QLabel(wordWrap=True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._answers = QHBoxLayout()
        self._answers.setSpacing(6)
        close = QToolButton(text="×", autoRaise=True, toolTip=translate("message", "Close this message"))
        close.setAccessibleName(translate("message", "Close message"))
        close.clicked.connect(self._close)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(12, 6, 6, 6)
        self._grid.setHorizontalSpacing(10)
        self._grid.setColumnStretch(1, 1)
        self._grid.addWidget(self._mark, 0, 0)
        self._grid.addWidget(self._text, 0, 1)
        self._grid.addWidget(close, 0, 3)
        self._is_narrow: bool | None = None
        self._place_answers()
        self._timer = QTimer(self, singleShot=True, interval=LONG_ENOUGH_MS)
        self._timer.timeout.connect(self._next)
        self._asked = ""  # the question shown now
        self.hide()

    @property
    def text(self) -> str:
        """The message shown last."""
        return self._text.text()

    @property
    def answers(self) -> dict[str, QPushButton]:
        """The buttons shown now, by their words."""
        buttons = (self._answers.itemAt(k).widget() for k in range(self._answers.count()))
        return {button.text(): button for button in buttons}

    def tell(self, message: str, *, is_error: bool = True, answers: Answers | None = None) -> None:
        """Say something; with answers it stays until one is given or something else is said."""
        mark = translate("message", "Not done:") if is_error else translate("message", "Done:")
        self._show(mark, message, answers or {}, is_error=is_error)
        if not answers:
            self._timer.start(max(LONG_ENOUGH_MS, 60 * len(message)))

    def ask(self, key: str, message: str, answers: Answers) -> None:
        """Ask something; another question of the same key takes its place. Closing it is no answer."""
        self._questions.pop(key, None)
        self._questions[key] = (message, answers)
        self._next()

    def withdraw(self, key: str) -> None:
        """The question has settled itself."""
        if self._questions.pop(key, None) is not None and key == self._asked:
            self._next()

    def _next(self) -> None:
        """Show the question asked last, or nothing."""
        self._timer.stop()
        self._asked = next(reversed(self._questions), "")
        if self._asked:
            message, answers = self._questions[self._asked]
            self._show(translate("message", "Your choice:"), message, answers, is_error=False, asked=self._asked)
        else:
            self.hide()

    def _close(self) -> None:
        self._questions.pop(self._asked, None)
        self._next()

    def _show(self, mark: str, message: str, answers: Answers, *, is_error: bool, asked: str = "") -> None:
        self._timer.stop()
        self._asked, self._is_error = asked, is_error
        self._mark.setText(mark)
        self._text.setText(message)
        self.setAccessibleDescription(message)
        self._show_answers(answers)
        self._show_colours()
        self.show()

    def _show_answers(self, answers: Answers) -> None:
        while self._answers.count():
            old = self._answers.takeAt(0).widget()
            old.hide()
            old.deleteLater()
        asked = self._asked
        for words, do in answers.items():
            button = QPushButton(words, autoDefault=False)
            button.setAccessibleName(words)
            button.clicked.connect(lambda _=False, do=do: self._answer(asked, do))
            self._answers.addWidget(button)

    def _answer(self, asked: str, do: Callable[[], object]) -> None:
        self._questions.pop(asked, None)
        self._next()
        do()

    def _place_answers(self) -> None:
        """Put the answers beside the words or, where those would have too little room, under them."""
        is_narrow = self.width() < characters(self, NARROW_CHARACTERS)
        if is_narrow != self._is_narrow:
            self._is_narrow = is_narrow
            self._grid.removeItem(self._answers)
            self._grid.addLayout(self._answers, *((1, 1) if is_narrow else (0, 2)), Qt.AlignmentFlag.AlignLeft)

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._place_answers()

    def _show_colours(self) -> None:
        theme = theme_of(QGuiApplication.palette())  # its own is what the style below makes of it
        edge = theme.error if self._is_error else theme.accent
        style = f"MessageBar {{ border: 0; border-left: 4px solid {edge}; background: {theme.ruler}; }}"
        if style != self.styleSheet():  # setting one changes the palette, which asks for this again
            self._mark.setStyleSheet(f"color: {edge}; font-weight: bold")
            self.setStyleSheet(style)

    def changeEvent(self, event) -> None:
        if event.type() == QEvent.Type.PaletteChange and not self.isHidden():
            self._show_colours()
        super().changeEvent(event)

    def sizeHint(self):
        hint = super().sizeHint()
        hint.setHeight(max(hint.height(), QFontMetrics(self.font()).height() + 16))
        return hint
