"""MainWindow: one layout, or the way to one, with its menus, tools and panels."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QCoreApplication, QEvent, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QMainWindow, QMenu, QStackedWidget, QWidget

from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.layouts import Layout
from layout_app.window import asking, memory
from layout_app.window.actions import make_actions
from layout_app.window.file_watch import digest_of
from layout_app.window.icons import app_icon
from layout_app.window.menus import FIRST_MENUS, Menus
from layout_app.window.message_bar import Answers
from layout_app.window.recovery import Offer, Slot, claim, offers
from layout_app.window.recovery_offers import when_text
from layout_app.window.start_page import StartPage

if TYPE_CHECKING:
    from layout_app.window.app import Program
    from layout_app.window.brief_page import BriefPage
    from layout_app.window.workbench import Workbench

OPENABLE = {".busweave", ".dxf"}
translate = QCoreApplication.translate


class MainWindow(QMainWindow):
    """Shows the start page, then perhaps a drawing and a brief, then the workbench on a layout."""

    def __init__(self, program: Program) -> None:
        super().__init__()
        self.program = program
        self.workbench: Workbench | None = None
        self._brief: dict[str, Any] | None = None  # what was typed in the brief when it was left for the page before
        self._page_before: QWidget | None = None  # where Back leads from the brief
        self._room_timer = QTimer(self, singleShot=True, interval=0)
        self._room_timer.timeout.connect(lambda: self.workbench is None or self.workbench.places.make_room())
        self.setWindowIcon(app_icon())
        self.setWindowTitle("Busweave")
        self.setAcceptDrops(True)
        self.setMinimumSize(QSize(760, 520))
        self.resize(1280, 800)
        self.pages = QStackedWidget()
        self.setCentralWidget(self.pages)
        self.start_page = self._make_start_page()
        self.pages.addWidget(self.start_page)
        self._make_first_menu()

    def _make_first_menu(self) -> None:
        """What can be asked before there is a layout; the workbench puts its own menus in their place."""
        todo = {
            "new": self.show_start, "open": self.ask_open, "close": self.close, "quit": self.program.quit,
        } | self.common_todo()  # fmt: skip
        self.first_actions = make_actions(self, todo)
        for name, do in todo.items():
            self.first_actions[name].triggered.connect(lambda _=False, do=do: do())
        menus = Menus(self, self.first_actions, [], FIRST_MENUS)
        menus.recent.aboutToShow.connect(lambda: self.fill_recent(menus.recent))

    def common_todo(self) -> dict[str, Callable[[], object]]:
        """What every window can do."""
        return {
            "help": self.program.help.show_here, "walk": self.program.walk, "find": self.find_action,
            "keys": partial(self.program.help.show_keys, self), "news": partial(self.program.help.show, "news"),
            "about": self.show_about,
        }  # fmt: skip

    def find_action(self) -> None:
        """Let an action be found by typing a part of its name."""
        from layout_app.window.finder import Finder

        finder = Finder(self)
        self.program.help.attend(finder)
        finder.exec()
        finder.deleteLater()

    def fill_recent(self, menu: QMenu) -> None:
        """List the files opened or saved last."""
        menu.clear()
        for path in memory.recent_files():
            action = menu.addAction(path.name)
            action.setToolTip(str(path))
            action.triggered.connect(lambda _=False, path=path: self.open_path(path))
        if menu.isEmpty():
            menu.addAction(translate("menus", "Nothing yet")).setEnabled(False)

    def show_about(self) -> None:
        """Say what the program is and is not."""
        asking.tell_about(self)

    def _make_start_page(self) -> StartPage:
        page = StartPage()
        page.open_file.connect(self.open_path)
        page.open_sample.connect(lambda path: self.open_path(path, is_copy=True))
        page.open_recovered.connect(self.open_recovered)
        page.choose_file.connect(self.ask_open)
        page.choose_drawing.connect(self.ask_drawing)
        page.start_from_numbers.connect(self.start_from_numbers)
        return page

    # -- getting to a layout ------------------------------------------------------------------------------------

    def ask_open(self) -> None:
        """Ask for a layout or a drawing and open it."""
        path = asking.file_to_open(self, self._folder())
        if path is not None:
            self.open_path(path)

    def ask_drawing(self) -> None:
        """Ask for a housing drawing and show what is in it."""
        path = asking.drawing_to_open(self, self._folder())
        if path is not None:
            self.open_path(path)

    def open_path(self, path: Path, *, is_copy: bool = False) -> None:
        """Open a layout or a drawing, in this window if it has no layout yet, else in a new one."""
        if self.workbench is not None:
            self.program.new_window().open_path(path, is_copy=is_copy)
            return
        if path.suffix.lower() == ".dxf":
            self._read_drawing(path)
            return
        known = digest_of(path)
        layout = self._load(path)
        if layout is None:
            return
        if is_copy:
            self.show_layout(layout, None)
            self.workbench.document.mark_untouched()
        else:
            self.show_layout(layout, path, digest=known)
            memory.remember_file(path)

    def _load(self, path: Path) -> Layout | None:
        """Return the layout of a file, or None after saying what is wrong with it."""
        from layout_app.model.saved_file import load

        try:
            return load(path)
        except LayoutError as error:
            self.tell(str(error))
            return None

    def open_recovered(self, offer: Offer) -> None:
        """Open work that was left behind: it is unsaved work on its file, which is as it was."""
        if self.workbench is not None:
            self.program.new_window().open_recovered(offer)
            return
        slot = claim(offer)
        if slot is None:
            self.tell(translate("recovery", "This work was opened or discarded in another window meanwhile."))
            return
        layout = self._load(offer.layout_path)
        if layout is None:
            slot.release()
            return
        origin = Path(offer.note.origin) if offer.note.origin else None
        self.show_layout(layout, origin, slot=slot, digest=offer.note.digest)
        self.workbench.document.mark_unsaved()
        told = translate("recovery", "recovered as it was {when}. It is not saved yet.")
        self.tell(told.format(when=when_text(offer.kept_at)), is_error=False)

    def offer_recovered(self) -> None:
        """Ask what to do about work left behind, when this window does not show the start page, where it stands."""
        n_left = len(offers())
        if n_left:
            told = translate("recovery", "Busweave ended without saving; unsaved layouts kept from then: {count}.")
            self.tell_with_answers(
                "recovered",
                told.format(count=n_left),
                {translate("recovery", "Show them"): lambda: self.program.new_window()},
            )

    def tell_with_answers(self, key: str, message: str, answers: Answers) -> None:
        """Ask something in the message line of what is shown."""
        bar = self.workbench.message if self.workbench is not None else self.start_page.message
        bar.ask(key, message, answers)

    def start_from_numbers(self) -> None:
        """Show the page of sizes."""
        if self.workbench is not None:
            self.program.new_window().start_from_numbers()
            return
        from layout_app.window.numbers_page import NumbersPage

        self._page_before = self._brief = None
        page = NumbersPage()
        page.left.connect(self.show_start)
        page.accepted.connect(self._ask_brief)
        self._show_page(page)

    def _read_drawing(self, path: Path) -> None:
        from layout_app.window.drawing_page import DrawingPage

        self._page_before = self._brief = None
        page = DrawingPage()
        page.left.connect(self.show_start)
        page.accepted.connect(self._ask_brief)
        page.crashed.connect(self.program.crash)
        self._show_page(page)
        page.read(path)

    def _ask_brief(self, housing: Housing) -> None:
        from layout_app.window.brief_page import BriefPage

        page = BriefPage(housing, self._brief)
        page.left.connect(lambda: self._go_back(page))
        page.accepted.connect(lambda layout: self.show_layout(layout, None))
        page.crashed.connect(self.program.crash)
        self._page_before = self.pages.currentWidget()
        self._show_page(page)

    def _go_back(self, brief: BriefPage) -> None:
        """From the brief to the page of the housing, as it was left; the brief is remembered for coming again."""
        self._brief, page, self._page_before = dict(brief.values), self._page_before, None
        self._show_page(page or self.start_page)

    def show_start(self) -> None:
        """Show the start page."""
        self._brief = None
        self._show_page(self.start_page)

    def show_layout(
        self, layout: Layout, path: Path | None, *, slot: Slot | None = None, digest: str | None = None
    ) -> None:
        """Show the workbench on a layout."""
        from layout_app.window.workbench import Workbench

        self._page_before = None
        self.menuBar().clear()
        for action in self.first_actions.values():
            self.removeAction(action)
        self.workbench = Workbench(self, layout, path, slot, digest)
        self._show_page(self.workbench.page)
        self.workbench.start()

    def _show_page(self, page) -> None:
        if self.pages.indexOf(page) < 0:
            self.pages.addWidget(page)
        self.pages.setCurrentWidget(page)
        for gone in (self.pages.widget(k) for k in reversed(range(self.pages.count()))):
            if gone not in (page, self.start_page, self._page_before):
                if hasattr(gone, "close_work"):
                    gone.close_work()
                self.pages.removeWidget(gone)
                gone.deleteLater()

    # -- saying and asking --------------------------------------------------------------------------------------

    def tell(self, message: str, *, is_error: bool = True) -> None:
        """Say something: in the workbench's message line, else in a box."""
        if self.workbench is not None:
            self.workbench.message.tell(message, is_error=is_error)
        else:
            self.start_page.message.tell(message, is_error=is_error)
            self.show_start()

    def _folder(self) -> str:
        files = memory.recent_files()
        return str(files[0].parent if files else Path.home())

    def dragEnterEvent(self, event) -> None:
        if any(Path(url.toLocalFile()).suffix.lower() in OPENABLE for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event) -> None:
        for url in event.mimeData().urls():
            path = Path(url.toLocalFile())
            if path.suffix.lower() in OPENABLE:
                self.open_path(path)
        event.acceptProposedAction()

    def may_close(self) -> bool:
        """Ask about unsaved changes; return whether the window may go."""
        if self.workbench is None or not self.workbench.document.is_modified:
            return True
        answer = asking.what_about_changes(self, self.workbench.document)
        return self.workbench.save() if answer == "save" else answer == "discard"

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.may_close():
            event.ignore()
            return
        if self.workbench is not None:
            self.workbench.places.remember()
            self.workbench.desk.close()
            self.workbench.filing.autosave.end()
            for dock in self.workbench.docks.values():
                if hasattr(dock.widget(), "close_work"):
                    dock.widget().close_work()
            self.workbench.document.close()
        for page in (self.pages.widget(k) for k in range(self.pages.count())):
            if hasattr(page, "close_work"):
                page.close_work()
        self.program.forget(self)
        event.accept()

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._room_timer.start()  # once the panels have their new places

    def changeEvent(self, event) -> None:
        if event.type() == QEvent.Type.ActivationChange and self.isActiveWindow() and self.workbench is not None:
            self.workbench.filing.watch.look()
        super().changeEvent(event)

    def keyPressEvent(self, event) -> None:
        if event.key() == Qt.Key.Key_Escape and self.workbench is not None:
            self.workbench.canvas.setFocus()
        super().keyPressEvent(event)
