"""BesideView: the reference shown beside the layout, looking at the same part from the same side."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QCoreApplication, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QVBoxLayout, QWidget

from layout_app.window.canvas import Canvas
from layout_app.window.difference_marks import paint_differences
from layout_app.window.reference import Reference

translate = QCoreApplication.translate


class BesideView(QWidget):
    """Hidden until opened; holds a canvas of its own that follows the main one, and leads it when it is moved."""

    closed = Signal()

    def __init__(self, reference: Reference, main: Canvas) -> None:
        super().__init__()
        self._reference, self._main = reference, main
        self.canvas: Canvas | None = None
        self._is_following = False
        self.title = QLabel()
        self.title.setContentsMargins(10, 4, 4, 4)
        close = QToolButton(text="×", autoRaise=True, toolTip=translate("comparing", "Close the reference's view"))
        close.setAccessibleName(translate("comparing", "Close the reference's view"))
        close.clicked.connect(self.closed)
        head = QWidget()
        row = QHBoxLayout(head)
        row.setContentsMargins(0, 0, 4, 0)
        row.addWidget(self.title, 1)
        row.addWidget(close)
        self.head_height = head.sizeHint().height()
        head.setFixedHeight(self.head_height)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._column.addWidget(head)
        self.hide()
        reference.replaced.connect(self._rebuild)
        reference.changed.connect(self._refresh)
        main.view_changed.connect(self._follow)
        main.overlays.append(self._paint_marks)

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self._rebuild()

    def hideEvent(self, event) -> None:
        super().hideEvent(event)
        self._remove_canvas()

    def _remove_canvas(self) -> None:
        if self.canvas is not None:
            self.canvas.hide()
            self.canvas.deleteLater()
            self.canvas = None

    def _rebuild(self) -> None:
        self._remove_canvas()
        kept = self._reference.kept
        if kept is None or not self.isVisible():
            return
        self.title.setText(translate("comparing", "<b>Reference</b>: {name}").format(name=self._reference.name))
        self.canvas = Canvas(kept)
        self.canvas.setAccessibleName(translate("comparing", "Drawing of the reference"))
        self.canvas.overlays.append(self._paint_marks)
        self._column.addWidget(self.canvas, 1)
        self.canvas.show()
        self.canvas.refresh()
        self.canvas.view_changed.connect(self._lead)
        self._follow()

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._follow()

    def _refresh(self) -> None:
        for canvas in (self._main, self.canvas):
            if canvas is not None:
                canvas.update()

    def _paint_marks(self, painter: QPainter, canvas: Canvas) -> None:
        comparison = self._reference.comparison
        if comparison is not None and "differences" in canvas.scene.layers:
            paint_differences(painter, canvas, comparison)

    def _follow(self) -> None:
        self._pass_on(self._main, self.canvas)

    def _lead(self) -> None:
        self._pass_on(self.canvas, self._main)

    def _pass_on(self, one: Canvas | None, other: Canvas | None) -> None:
        """Let one canvas look where the other does."""
        if self._is_following or one is None or other is None:
            return
        self._is_following = True
        try:
            if other is self.canvas:
                other.set_side(one.scene.side)
                other.set_layers(one.scene.layers)
            view = other.view
            other.set_view(replace(one.view, width_px=view.width_px, height_px=view.height_px))
        finally:
            self._is_following = False
