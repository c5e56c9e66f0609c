"""Fields: a number, a choice or a text with its label; what is wrong with an entry is said under it.

An entry is taken when Enter is pressed or the field is left, and at once with the arrow keys, the wheel or a choice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from PySide6.QtCore import QCoreApplication, QEvent, QSignalBlocker, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from layout_app.window.colours import theme_of
from layout_app.window.elided_label import ElidedCombo
from layout_app.window.sizes import characters

translate = QCoreApplication.translate

Request = Callable[[Any, Callable[[str], None]], None]  # the value wished for, and where a refusal is said
LABEL_CHARACTERS, UNIT_CHARACTERS, LEAST_CHARACTERS = 21, 5, 9  # widths grow with the font of the system


class Field(QWidget):
    """A label, an editor, a unit, and a line for what is wrong."""

    def __init__(self, label: str, editor: QWidget, unit: str | None, tip: str) -> None:
        super().__init__()
        self.editor = editor
        name = QLabel(label, wordWrap=True)
        name.setFixedWidth(characters(self, LABEL_CHARACTERS))
        name.setBuddy(editor)
        editor.setAccessibleName(label)
        for widget in (name, editor):
            widget.setToolTip(tip)
        self._wrong = QLabel(wordWrap=True, visible=False)
        self._wrong.setObjectName("wrong")
        self._name = name
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(name)
        row.addWidget(editor, 1)
        self._unit = QLabel()
        self.show_unit(unit or "")
        if unit is not None:
            row.addWidget(self._unit)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self._wrong)

    def show_unit(self, unit: str) -> None:
        """Show another unit beside the editor."""
        self._unit.setText(unit)
        self._unit.setFixedWidth(max(characters(self, UNIT_CHARACTERS), self._unit.sizeHint().width()))

    def narrow(self) -> Field:
        """Give the label no more room than its words need: for fields side by side; return the field."""
        self._name.setWordWrap(False)
        self._name.setFixedWidth(self._name.sizeHint().width())
        return self

    @property
    def wrong(self) -> str:
        """What is said to be wrong, or nothing."""
        return self._wrong.text()

    def explain(self, message: str) -> None:
        """Say what is wrong with the entry; nothing when all is well."""
        message = message[:1].upper() + message[1:]
        if message == self.wrong:
            return
        colour = theme_of(self.palette()).error
        self._wrong.setText(message)
        self._wrong.setStyleSheet(f"color: {colour}")
        self._wrong.setVisible(bool(message))
        self.editor.setStyleSheet(f"border: 1px solid {colour}" if message else "")
        self.editor.setAccessibleDescription(message)


def _tell_whole(editor: QWidget, text: str, tip: str) -> None:
    """Put a text that may be cut off into the tip, over what the field is about."""
    room = editor.width() - characters(editor, UNIT_CHARACTERS)
    is_cut = editor.fontMetrics().horizontalAdvance(text) > room
    editor.setToolTip(f"{text}\n{tip}" if is_cut else tip)


def stops_at_wrong(fields: Iterable[Field]) -> bool:
    """Go to the first field in sight whose entry is wrong; return whether there is one."""
    wrong = next((field for field in fields if field.wrong and not field.isHidden()), None)
    if wrong is not None:
        wrong.editor.setFocus()
        if isinstance(wrong.editor, QLineEdit):
            wrong.editor.selectAll()
    return wrong is not None


class NumberField(Field):
    """A number. `is_whole` takes whole numbers only; `none_text` is shown for, and typed for, no number at all.

    One that `follows_typing` asks for every number that is complete as it is typed.
    """

    def __init__(
        self, label: str, unit: str, request: Request, *, step: float = 0.1, is_whole: bool = False,
        none_text: str | None = None, tip: str = "", follows_typing: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(label, _StepEdit(self), unit, tip or label)
        self._request, self._step, self._is_whole, self._none_text = request, step, is_whole, none_text
        self._follows_typing = follows_typing
        self._shown: float | None = None
        self.editor.setAlignment(Qt.AlignmentFlag.AlignRight)
        if none_text:
            self.editor.setPlaceholderText(none_text)
        self.editor.editingFinished.connect(self._finish)
        self.editor.textEdited.connect(self._check)

    def show_value(self, value: float | None) -> None:
        """Show what is. A wrong entry still being worked on stays until the value itself changes."""
        if self.wrong and value == self._shown:
            return
        self._shown = value
        if self._follows_typing and self.editor.isModified() and self._read() == (value, ""):
            return  # it is this number that is being typed
        self._write(value)

    def _write(self, value: float | None) -> None:
        with QSignalBlocker(self.editor):
            self.editor.setText("" if value is None else f"{value:.6g}")
            self.editor.setModified(False)
        self.explain("")

    def restore(self) -> None:
        """Forget the entry and show what is."""
        self._write(self._shown)

    def step_by(self, n_steps: int) -> None:
        """Take a value so many steps away."""
        value, message = self._read()
        if message or value is None:
            return
        fresh = value + n_steps * self._step
        fresh = round(fresh) if self._is_whole else round(fresh, 6)
        self._ask(fresh)

    def _read(self) -> tuple[float | None, str]:
        text = self.editor.text().strip().replace(",", ".").replace("−", "-")
        if not text and self._none_text is not None:
            return None, ""
        try:
            value = int(text) if self._is_whole else float(text)
        except ValueError:
            kind = translate("fields", "a whole number") if self._is_whole else translate("fields", "a number")
            return None, translate("fields", "Type {kind}").format(kind=kind) + (
                translate("fields", ", or nothing for {none_text}.").format(none_text=self._none_text)
                if self._none_text
                else "."
            )
        return value, "" if math.isfinite(value) else translate("fields", "Type a finite number.")

    def _check(self) -> None:
        value, message = self._read()
        self.explain(message)
        if self._follows_typing and not message and value != self._shown:
            self._ask(value)

    def _finish(self) -> None:
        if not self.editor.isModified():
            return
        value, message = self._read()
        self.editor.setModified(False)
        if message:
            self.explain(message)
        elif value != self._shown:
            self._ask(value)
        else:
            self.restore()

    def _ask(self, value: float | None) -> None:
        self.explain("")
        self._request(value, self._refused)

    def _refused(self, message: str) -> None:
        self.explain(message)


class LineEdit(QLineEdit):
    """A line that keeps undo and redo for what is being typed in it; with nothing typed they are the window's."""

    def event(self, event) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride:
            is_undo, is_redo = (
                event.matches(QKeySequence.StandardKey.Undo),
                event.matches(QKeySequence.StandardKey.Redo),
            )
            has_own = self.isUndoAvailable() if is_undo else self.isRedoAvailable()
            if (is_undo or is_redo) and not (self.isModified() and has_own):
                event.ignore()
                return False
        return super().event(event)


class _StepEdit(LineEdit):
    """A line that counts up and down with the arrow keys and gives up with Esc."""

    def __init__(self, field: NumberField) -> None:
        super().__init__()
        self._field = field
        self.setMinimumWidth(characters(self, LEAST_CHARACTERS))

    def keyPressEvent(self, event) -> None:
        steps = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1, Qt.Key.Key_PageUp: 10, Qt.Key.Key_PageDown: -10}
        if event.key() in steps:
            self._field.step_by(steps[event.key()])
        elif event.key() == Qt.Key.Key_Escape:
            self._field.restore()
        else:
            super().keyPressEvent(event)


class ChoiceField(Field):
    """One of a few values, each with its words."""

    def __init__(self, label: str, choices: Sequence[tuple[Any, str]], request: Request, *, tip: str = "") -> None:
        super().__init__(label, ElidedCombo(), None, tip or label)
        self._tip = tip or label
        self._request, self._values, self._shown = request, [value for value, _ in choices], None
        self.editor.addItems([words for _, words in choices])
        widest = max((characters(self, len(words) + 6) for _, words in choices), default=0)
        self.editor.view().setMinimumWidth(widest)  # the list may be wider than the field, so that it cuts nothing
        self.editor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.editor.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.editor.setMinimumContentsLength(8)
        self.editor.activated.connect(lambda index: self._ask(self._values[index]))
        self.editor.wheelEvent = lambda event: event.ignore()  # scrolling past must not change anything

    def show_value(self, value: Any) -> None:
        """Show what is."""
        if self.wrong and value == self._shown:
            return
        self._shown = value
        with QSignalBlocker(self.editor):
            self.editor.setCurrentIndex(self._values.index(value) if value in self._values else -1)
        _tell_whole(self.editor, self.editor.currentText(), self._tip)
        self.explain("")

    def _ask(self, value: Any) -> None:
        self.explain("")
        if value != self._shown:
            self._request(value, self._refused)

    def _refused(self, message: str) -> None:
        shown, self._shown = self._shown, object()
        self.show_value(shown)
        self.explain(message)


class TextField(Field):
    """A line of text."""

    def __init__(self, label: str, request: Request, *, tip: str = "") -> None:
        super().__init__(label, LineEdit(), None, tip or label)
        self._tip = tip or label
        self._request, self._shown = request, ""
        self.editor.editingFinished.connect(self._finish)

    def show_value(self, value: str) -> None:
        """Show what is."""
        self._shown = value
        with QSignalBlocker(self.editor):
            if self.editor.text() != value:
                self.editor.setText(value)
                self.editor.setCursorPosition(0)  # where there is little room, the beginning tells more than the end
        _tell_whole(self.editor, value, self._tip)
        self.explain("")

    def _finish(self) -> None:
        self.editor.setModified(False)
        if self.editor.text() != self._shown:
            self._request(self.editor.text(), self.explain)
