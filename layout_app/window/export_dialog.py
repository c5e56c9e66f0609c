"""ExportDialog: what to write, and where; the writing goes on beside the window."""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QDate, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from layout_app.exchange.stamps import LONGEST
from layout_app.model.errors import LayoutError
from layout_app.window import memory
from layout_app.window.background import Background
from layout_app.window.document import Document
from layout_app.window.sizes import characters

translate = QCoreApplication.translate

KINDS = {
    "dxf": (
        QT_TRANSLATE_NOOP("export", "DXF for cutting"),
        QT_TRANSLATE_NOOP("export", "One file a face and one a segment, at the housing's coordinates"),
    ),
    "tables": (
        QT_TRANSLATE_NOOP("export", "Tables"),
        QT_TRANSLATE_NOOP("export", "Cells, joints, segments and steps as CSV"),
    ),
    "drawings": (
        QT_TRANSLATE_NOOP("export", "Drawing sheets"),
        QT_TRANSLATE_NOOP("export", "Both faces as SVG with a title block"),
    ),
    "report": (
        QT_TRANSLATE_NOOP("export", "Report"),
        QT_TRANSLATE_NOOP("export", "Brief, figures, findings and charts as one HTML page"),
    ),
    "paths": (
        QT_TRANSLATE_NOOP("export", "Current paths"),
        QT_TRANSLATE_NOOP("export", "Stream lines and necks as DXF, for reference; takes a while"),
    ),
}
UNASKED = frozenset({"paths"})  # taken only when ticked: the sheet model takes its time


class ExportDialog(QDialog):
    """`told` says afterwards what was written, or nothing."""

    def __init__(self, parent: QWidget, document: Document) -> None:
        super().__init__(parent)
        self.setWindowTitle(translate("export", "Export"))
        self.setMinimumWidth(characters(self, 94))
        self._document, self.told = document, ""
        self._work = Background(self)
        self._work.delivered.connect(lambda _, result: self._take(result))
        self._work.failed.connect(lambda _, error: self._fail(error))
        self.folder = QLineEdit(str(memory.settings().value("export_folder", "") or _first_folder(document)))
        self.folder.setAccessibleName(translate("export", "Folder"))
        self.kinds = {
            kind: QCheckBox(translate("export", words), checked=kind not in UNASKED, toolTip=translate("export", tip))
            for kind, (words, tip) in KINDS.items()
        }
        self.version = QComboBox()
        self.version.addItems(["R2010", "R12"])
        self.version.setAccessibleName(translate("export", "DXF version"))
        self.revision, self.date = QLineEdit(maxLength=LONGEST), QLineEdit(maxLength=LONGEST)
        self.date.setText(QDate.currentDate().toString(Qt.DateFormat.ISODate))
        self.progress = QProgressBar(maximum=0, visible=False, textVisible=False)
        self.words = QLabel(wordWrap=True)
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.go = self.buttons.addButton(translate("export", "Export"), QDialogButtonBox.ButtonRole.AcceptRole)
        self._lay_out()
        self.buttons.accepted.connect(self._start)
        self.buttons.rejected.connect(self.reject)
        self.finished.connect(lambda _: self._work.close())

    def _lay_out(self) -> None:
        choose = QPushButton(
            translate("export", "Choose…"), toolTip=translate("export", "Choose the folder"), autoDefault=False
        )
        choose.clicked.connect(self._choose)
        row = QHBoxLayout()
        row.addWidget(self.folder, 1)
        row.addWidget(choose)
        column = QVBoxLayout(self)
        column.setSpacing(8)
        column.addWidget(QLabel(translate("export", "A folder with the layout's name is made in:")))
        column.addLayout(row)
        column.addSpacing(6)
        for kind, box in self.kinds.items():
            line = QHBoxLayout()
            line.addWidget(box)
            line.addWidget(QLabel(translate("export", KINDS[kind][1]), wordWrap=True), 1)
            column.addLayout(line)
            box.setMinimumWidth(characters(self, 22))
            box.toggled.connect(lambda _: self.go.setEnabled(any(b.isChecked() for b in self.kinds.values())))
        version = QHBoxLayout()
        version.addWidget(QLabel(translate("export", "DXF version")))
        version.addWidget(self.version)
        stamps = ((translate("export", "Revision"), self.revision), (translate("export", "Date"), self.date))
        for label, edit in stamps:
            version.addSpacing(12)
            version.addWidget(QLabel(label, buddy=edit))
            version.addWidget(edit)
            edit.setAccessibleName(label)
            edit.setMinimumWidth(characters(self, 14))
            edit.setToolTip(translate("export", "For the title block of sheets and for the report; may be left empty"))
        version.addStretch(1)
        column.addLayout(version)
        column.addSpacing(6)
        column.addWidget(self.words)
        column.addWidget(self.progress)
        column.addWidget(self.buttons)

    def _choose(self) -> None:
        name = QFileDialog.getExistingDirectory(self, translate("export", "Folder to export to"), self.folder.text())
        if name:
            self.folder.setText(name)

    def _start(self) -> None:
        kinds = [kind for kind, box in self.kinds.items() if box.isChecked()]
        folder, version, layout = (
            Path(self.folder.text()).expanduser(),
            self.version.currentText(),
            self._document.current,
        )
        date, revision = self.date.text(), self.revision.text()
        self.go.setEnabled(False)
        self.progress.show()
        memory.settings().setValue("export_folder", str(folder))

        def write(hand_over) -> None:
            from layout_app.exchange.export import export
            from layout_app.exchange.stamps import Stamp
            from layout_app.workings import Workings

            w = Workings(layout)
            derived = (w.segments, w.figures, w.findings)
            chosen = {"only": kinds, "dxf_version": version, "necks": w.necks}
            chosen["stamp"] = Stamp(date=date, revision=revision)
            chosen |= {"currents": w.currents, "joint_faults": w.joint_faults}
            hand_over(export(layout, *derived, folder, progress=hand_over, **chosen))

        self._work.start(write)

    def _take(self, result: float | tuple[Path, ...]) -> None:
        if isinstance(result, float):
            self.progress.setMaximum(100)
            self.progress.setValue(round(100 * result))
            return
        place = os.path.commonpath([path.parent for path in result]) if result else self.folder.text()
        self.told = translate("export", "{number} files written to {place}.").format(number=len(result), place=place)
        self.accept()

    def _fail(self, error: Exception) -> None:
        self.progress.hide()
        self.go.setEnabled(True)
        self.words.setText(str(error) if isinstance(error, LayoutError) else "")
        if not isinstance(error, LayoutError):
            self._document.crashed.emit(error)


def _first_folder(document: Document) -> Path:
    return document.path.parent if document.path else Path.home()
