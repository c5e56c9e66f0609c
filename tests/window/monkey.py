"""A monkey at the window: seeded random mouse and key gestures over all tools. It records what it did."""

import random

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from .gestures import drag_to, wheel

LEFT = Qt.MouseButton.LeftButton
MODIFIERS = (
    Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.NoModifier,
    Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.AltModifier,
)  # fmt: skip
TOOLS = ("choose", "hand", "paint", "place", "erase", "fill", "swap", "measure", "walls")
KEYS = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Escape, Qt.Key.Key_Space)
ACTIONS = (
    "undo", "redo", "top", "bottom", "through", "flip", "fit", "zoom_in", "zoom_out", "next_group", "previous_group",
    "cut", "copy", "paste", "delete", "choose_all", "choose_none", "choose_invert", "choose_group", "choose_row",
    "choose_polarity", "choose_grow", "choose_shrink", "turn_left", "turn_right", "mirror_across", "mirror_down",
    "align", "into_group", "open_rows", "loop", "balance", "divide", "swap_groups", "earlier", "later", "split",
    "merge", "reverse", "inches", "lock", "unlock", "choose_lock", "add_corner",
)  # fmt: skip


class Monkey:
    """Plays on a workbench. The same seed does the same."""

    def __init__(self, workbench, seed):
        self.bench, self.canvas, self.random = workbench, workbench.canvas, random.Random(seed)
        self.did = []

    def play(self, n_actions):
        """Do so many things, letting the window breathe in between."""
        for _ in range(n_actions):
            deed = self.random.choices(
                (self.click, self.drag, self.tool, self.action, self.key, self.shape, self.turn, self.numbers),
                (20, 30, 12, 30, 10, 3, 3, 6),
            )[0]
            self.did.append(deed.__name__)
            deed()
            QApplication.processEvents()

    def place(self):
        size = self.canvas.size()
        return QPoint(self.random.randint(1, size.width() - 2), self.random.randint(1, size.height() - 2))

    def click(self):
        if self.random.random() < 0.2:
            QTest.mouseDClick(self.canvas, LEFT, self.random.choice(MODIFIERS), self.place())
        QTest.mouseClick(self.canvas, LEFT, self.random.choice(MODIFIERS), self.place())

    def drag(self):
        modifiers, at = self.random.choice(MODIFIERS), self.place()
        QTest.mousePress(self.canvas, LEFT, modifiers, at)
        for _ in range(self.random.randint(1, 5)):
            reach = self.random.choice((6, 60, 400))
            at += QPoint(self.random.randint(-reach, reach), self.random.randint(-reach, reach))
            drag_to(self.canvas, at, modifiers=modifiers)
        self.canvas.grab()
        if self.random.random() < 0.2:
            QTest.keyClick(self.canvas, Qt.Key.Key_Escape)
        QTest.mouseRelease(self.canvas, LEFT, modifiers, at)

    def tool(self):
        self.bench.actions[self.random.choice(TOOLS)].trigger()

    def action(self):
        name = self.random.choice(ACTIONS)
        self.did[-1] = name
        if self.bench.actions[name].isEnabled():
            self.bench.actions[name].trigger()

    def key(self):
        shift = self.random.choice((Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier))
        QTest.keyClick(self.canvas, self.random.choice(KEYS), shift)

    def shape(self):
        self.bench.editing.set_shape(self.random.choice(("edit", "circle", "rectangle", "own circle", "own rectangle")))

    def turn(self):
        wheel(self.canvas, self.place(), self.random.choice((-2, -1, 1)))

    def numbers(self):
        """Press a button of the panel with exact numbers, or override a segment."""
        exact = self.bench.exact
        if self.random.random() < 0.5 and self.canvas.chosen_cells:
            ask = self.random.choice((exact.cells.move, exact.cells.turn, exact.cells.array, exact.cells.rows))
            ask.offer(**{name: self.random.choice((1, 2, -3, 22)) for name in ask.values})
            ask.button.click()
        else:
            self.canvas.choose(segment=self.random.randint(0, self.bench.document.current.n_series))
            thickness = self.random.choice((None, 0.3, 1.0))
            exact.segment.fields["thickness_mm"]._ask(thickness)
        self.canvas.setFocus()


def undo_everything(workbench):
    """Take back every step there is; return how many."""
    n = 0
    while workbench.document.undo_label is not None:
        workbench.document.undo()
        n += 1
    return n
