"""StatusLine: at the foot of the window what is under the pointer, how the work goes, and how large the drawing is."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QLabel, QProgressBar, QStatusBar, QToolButton

from layout_app.window.canvas import Canvas
from layout_app.window.elided_label import ElidedLabel
from layout_app.window.panels.findings import summary_text
from layout_app.window.readout import readout

translate = QCoreApplication.translate


class StatusLine:
    """Fills a status bar and keeps it up to date."""

    def __init__(self, bar: QStatusBar, canvas: Canvas) -> None:
        self._canvas = canvas
        self._editing_words = ""  # what is being laid out anew, if anything
        self.readout = ElidedLabel()
        self.readout.setAccessibleName(translate("window", "Under the pointer"))
        self.state, self.zoom = QLabel(), QLabel()
        self.busy = QProgressBar(maximum=0, textVisible=False, maximumWidth=110, maximumHeight=10, visible=False)
        self.busy.setAccessibleName(translate("window", "Work under way"))
        self.cancel = QToolButton(
            text=translate("window", "Cancel"),
            autoRaise=True,
            visible=False,
            toolTip=translate("window", "Give up the work under way"),
        )
        bar.addWidget(self.readout, 1)
        for widget in (self.state, self.busy, self.cancel, self.zoom):
            bar.addPermanentWidget(widget)
        document = canvas.document
        document.busy_changed.connect(self._show_busy)
        document.stale_changed.connect(self._show_state)
        document.derived_changed.connect(self._show_state)
        document.progress_changed.connect(self._show_progress)
        canvas.spot_changed.connect(self._show_spot)
        canvas.view_changed.connect(self._show_zoom)
        self.cancel.clicked.connect(self._cancel_or_resume)

    def _show_busy(self, words: str) -> None:
        self._editing_words = words
        self.busy.setMaximum(0)
        self._show_state()

    def _show_state(self) -> None:
        document = self._canvas.document
        metal = translate("window", "Working out the metal…") if document.is_stale and not document.is_stopped else ""
        working = self._editing_words or metal
        self.busy.setVisible(bool(working))
        self.cancel.setVisible(bool(working) or document.is_stopped)
        self.cancel.setText(
            translate("window", "Work it out") if document.is_stopped else translate("window", "Cancel")
        )
        stopped = translate("window", "Stopped: the metal is of before") if document.is_stopped else ""
        self.state.setText(working or stopped or summary_text(document))
        if not working:
            self.busy.setMaximum(0)

    def _show_progress(self, share: float) -> None:
        self.busy.setMaximum(100)
        self.busy.setValue(round(100 * share))

    def _cancel_or_resume(self) -> None:
        if self._canvas.document.is_stopped:
            self._canvas.document.resume_work()
        else:
            self._canvas.document.cancel_work()

    def _show_spot(self, spot_mm: tuple[float, float] | None) -> None:
        self.readout.setText(readout(self._canvas, spot_mm))

    def _show_zoom(self) -> None:
        per_mm = self._canvas.view.px_per_mm / self._canvas.ratio
        self.zoom.setText(translate("window", "{per_mm:.3g} px/mm").format(per_mm=per_mm))
