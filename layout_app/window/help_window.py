"""Help: pages from resources/help beside the list of their titles, opened at what is in use."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, QSize, Qt, QUrl
from PySide6.QtGui import QDesktopServices, QImage, QKeySequence, QShortcut, QTextCursor, QTextDocument
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QMainWindow,
    QPushButton,
    QTextBrowser,
    QVBoxLayout,
)  # fmt: skip

from layout_app.model.resources import resource
from layout_app.window.help_topics import FIRST, TOPICS, page, text, title, topic_of

PICTURE_RATIO = 2.0  # the pictures hold two pixels for each they take on a plain screen
translate = QCoreApplication.translate


class Help(QObject):
    """Keeps the help window. F1 comes here from every window and dialog."""

    def __init__(self) -> None:
        super().__init__()
        self.window: HelpWindow | None = None

    def show_here(self) -> None:
        """Explain the widget that has the keyboard."""
        self.show(topic_of(QApplication.focusWidget() or QApplication.activeWindow()))

    def show(self, topic: str = FIRST) -> None:
        """Show a topic's page, in front of the dialog that is open if there is one."""
        self._open().show_topic(topic)

    def show_keys(self, window: QMainWindow) -> None:
        """Show every action of a window with its key."""
        from layout_app.window.key_list import keys_markdown

        self._open().show_text("keys", keys_markdown(window))

    def _open(self) -> HelpWindow:
        front = QApplication.activeModalWidget()
        if self.window is None or self.window.parentWidget() is not front:
            self.close()
            self.window = HelpWindow(front)
        self.window.show()
        self.window.raise_()
        self.window.activateWindow()
        return self.window

    def close(self) -> None:
        """Close the help window."""
        if self.window is not None:
            self.window.close()
            self.window.deleteLater()
            self.window = None

    def attend(self, dialog: QDialog) -> None:
        """Let F1 work in a dialog, where the keys of the window behind it do not reach."""
        QShortcut(QKeySequence("F1"), dialog, self.show_here)


class HelpWindow(QDialog):
    """Titles and a search on the left, a page on the right."""

    def __init__(self, parent=None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setWindowTitle(translate("help", "Busweave help"))
        self.search = QLineEdit(placeholderText=translate("help", "Find in all pages"))
        self.search.setAccessibleName(translate("help", "Find in all pages"))
        self.search.setClearButtonEnabled(True)
        self.topics = QListWidget()
        self.topics.setAccessibleName(translate("help", "Topics"))
        self.pages = PageBrowser()
        self.back = QPushButton(translate("help", "&Back"), autoDefault=False)
        self.forward = QPushButton(translate("help", "F&orward"), autoDefault=False)
        self._lay_out()
        self._fill("")
        self.search.textChanged.connect(self._fill)
        self.search.returnPressed.connect(self._find_next)
        self.topics.currentItemChanged.connect(lambda item, _: item and self._go(item))
        self.back.clicked.connect(self.pages.backward)
        self.forward.clicked.connect(self.pages.forward)
        self.pages.backwardAvailable.connect(self.back.setEnabled)
        self.pages.forwardAvailable.connect(self.forward.setEnabled)
        self.pages.sourceChanged.connect(self._show_place)
        QShortcut(QKeySequence(QKeySequence.StandardKey.Find), self, self.search.setFocus)

    def _lay_out(self) -> None:
        line = self.fontMetrics().lineSpacing()
        self.topics.setFixedWidth(14 * line)
        self.search.setFixedWidth(14 * line)
        for button in (self.back, self.forward):
            button.setEnabled(False)
        left, buttons, right = QVBoxLayout(), QHBoxLayout(), QVBoxLayout()
        left.addWidget(self.search)
        left.addWidget(self.topics, 1)
        buttons.addWidget(self.back)
        buttons.addWidget(self.forward)
        buttons.addStretch(1)
        where = QLabel(translate("help", "These pages are files in {folder}").format(folder=resource("help")))
        where.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        where.setEnabled(False)
        buttons.addWidget(where)
        right.addLayout(buttons)
        right.addWidget(self.pages, 1)
        row = QHBoxLayout(self)
        row.addLayout(left)
        row.addLayout(right, 1)
        self.resize(QSize(82 * line, 50 * line).boundedTo(0.9 * self.screen().availableSize()))  # for the pictures

    def _fill(self, words: str) -> None:
        """List the topics in whose pages all the words occur."""
        shown = self.topic
        self.topics.blockSignals(True)
        self.topics.clear()
        for topic in TOPICS:
            if all(word in text(topic).lower() for word in words.lower().split()):
                item = QListWidgetItem(title(topic))
                item.setData(Qt.ItemDataRole.UserRole, topic)
                self.topics.addItem(item)
        self.topics.blockSignals(False)
        self._mark(shown)

    @property
    def topic(self) -> str:
        """The topic shown."""
        return Path(self.pages.source().path()).stem

    def show_topic(self, topic: str) -> None:
        """Show a topic's page."""
        self.pages.setSource(QUrl.fromLocalFile(str(page(topic))), QTextDocument.ResourceType.MarkdownResource)

    def show_text(self, topic: str, markdown: str) -> None:
        """Show a text in place of a topic's page."""
        self.pages.made[str(page(topic))] = markdown
        if self.topic == topic:
            self.pages.reload()
        self.show_topic(topic)

    def _go(self, item: QListWidgetItem) -> None:
        self.show_topic(item.data(Qt.ItemDataRole.UserRole))
        self._find_next()

    def _find_next(self) -> None:
        """Mark the next place where the first word searched for stands."""
        words = self.search.text().split()
        if words and not self.pages.find(words[0]):
            self.pages.moveCursor(QTextCursor.MoveOperation.Start)
            self.pages.find(words[0])

    def _show_place(self, source: QUrl) -> None:
        self._mark(Path(source.path()).stem)
        self.back.setEnabled(self.pages.isBackwardAvailable())

    def _mark(self, topic: str) -> None:
        self.topics.blockSignals(True)
        rows = [self.topics.item(row).data(Qt.ItemDataRole.UserRole) for row in range(self.topics.count())]
        self.topics.setCurrentRow(rows.index(topic) if topic in rows else -1)
        self.topics.blockSignals(False)


class PageBrowser(QTextBrowser):
    """Shows pages; pictures at half their pixels, so that they are sharp on fine screens."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(translate("help", "Page"))
        self.made: dict[str, str] = {}  # file of a page: what is shown instead, made from the program as it is
        self._pictures: dict[QUrl, QImage] = {}  # of the pages seen
        self.setOpenLinks(False)
        self.document().setDocumentMargin(18)
        self.anchorClicked.connect(self._follow)

    def _follow(self, link: QUrl) -> None:
        """Stay inside for our own pages; leave everything else to the desktop."""
        if link.scheme() in ("", "file"):
            self.setSource(self.source().resolved(link))
        else:
            QDesktopServices.openUrl(link)

    def loadResource(self, kind: int, name: QUrl):
        if kind == QTextDocument.ResourceType.ImageResource.value:
            self._pictures[name] = QImage(self.source().resolved(name).toLocalFile())
            return self._fitted(self._pictures[name])
        if name.toLocalFile() in self.made:
            return self.made[name.toLocalFile()]
        return super().loadResource(kind, name)

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        for name, picture in self._pictures.items():
            self.document().addResource(QTextDocument.ResourceType.ImageResource, name, self._fitted(picture))
        if self._pictures:
            self.document().markContentsDirty(0, self.document().characterCount())

    def _fitted(self, picture: QImage) -> QImage:
        """Return a picture that is no wider than the page."""
        room, ratio = self.viewport().width() - 2 * self.document().documentMargin() - 2, self.devicePixelRatioF()
        wide = round(min(picture.width() / PICTURE_RATIO, max(room, 1.0)) * ratio)
        shown = picture.scaledToWidth(wide, Qt.TransformationMode.SmoothTransformation) if wide else QImage(picture)
        shown.setDevicePixelRatio(ratio)
        return shown
