"""Help: every page is there, says what the program says, links to what exists, and opens at what is in use."""

import re
import sys

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QWidget

from layout_app.checks.rules import RULES
from layout_app.model.resources import resource
from layout_app.window import help_topics
from layout_app.window.finder import listed
from layout_app.window.help_topics import TOPICS, page, text, title, topic_of
from tests.help import rules_page
from tests.help.make_pages import PAGES

HELP = resource("help")


def test_every_file_is_a_topic_and_every_topic_a_file():
    assert {path.stem for path in HELP.glob("*.md")} == set(TOPICS)
    assert all(title(topic) for topic in TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_links_and_pictures_of_a_page_exist(topic):
    for target in re.findall(r"\]\(([^)]+)\)", text(topic)):
        assert (HELP / target).is_file(), f"{topic}.md names {target}"


def test_every_picture_is_used():
    named = {target for topic in TOPICS for target in re.findall(r"\((pictures/[^)]+)\)", text(topic))}
    assert {f"pictures/{path.name}" for path in (HELP / "pictures").iterdir()} == named


@pytest.mark.parametrize("topic", PAGES)
def test_a_page_made_from_the_program_is_up_to_date(topic, qapp, scratch_folders):
    if topic == "command_line" and sys.version_info[:2] >= (3, 14):
        pytest.skip("argparse of Python 3.14 lays its help out otherwise")
    assert PAGES[topic]() == text(topic), "run: python tests/help/make_pages.py --no-pictures"


def test_every_rule_is_explained():
    told = text("findings")
    for rule in RULES:
        sayings = rules_page.sayings(rule)
        assert sayings, rule.__name__
        for said in sayings:
            assert f"## {said.rule.capitalize()}" in told, rule.__name__
            assert said.severities, rule.__name__


def test_f1_opens_the_page_of_the_panel_in_use(workbench, qtbot):
    workbench.settings.fields["Corner radius"].editor.setFocus()
    workbench.actions["help"].trigger()
    window = workbench.window.program.help.window
    assert window.isVisible()
    assert window.topic == "metal"
    assert "Insulation gap" in window.pages.toPlainText()
    workbench.findings.list.setFocus()
    workbench.actions["help"].trigger()
    assert window.topic == "findings"


def test_links_lead_on_and_back_leads_back(program, qtbot):
    program.new_window()
    program.help.show("start")
    window = program.help.window
    window.pages.anchorClicked.emit("drawings.md")
    assert window.topic == "drawings"
    assert window.topics.currentItem().text() == "Housing drawings"
    qtbot.mouseClick(window.back, Qt.MouseButton.LeftButton)
    assert window.topic == "start"


def test_pictures_are_shown_at_half_their_pixels_but_no_wider_than_the_page(program):
    program.new_window()
    program.help.show("metal")
    pages = program.help.window.pages
    whole = QImage(str(resource("help/pictures/metal.png"))).width() / 2
    for wide in (2000, 420):
        program.help.window.resize(wide, 600)
        QApplication.processEvents()
        shown = pages.loadResource(2, QUrl("pictures/metal.png"))
        room = pages.viewport().width() - 2 * pages.document().documentMargin()
        assert shown.deviceIndependentSize().width() == pytest.approx(min(whole, room), abs=3)
        assert not pages.horizontalScrollBar().isVisible()


def test_searching_leaves_the_pages_that_hold_all_words(program, qtbot):
    program.new_window()
    program.help.show()
    window = program.help.window
    qtbot.keyClicks(window.search, "recovery file")
    assert [window.topics.item(row).text() for row in range(window.topics.count())] == ["Your work is safe"]
    window.topics.setCurrentRow(0)
    assert window.topic == "safe_hands"
    assert window.pages.textCursor().selectedText().lower() == "recovery"


def test_the_page_of_keys_names_every_action_of_the_window(workbench):
    workbench.actions["keys"].trigger()
    said = workbench.window.program.help.window.pages.toPlainText()
    for entry in listed(workbench.window):
        assert entry.name in said
        assert entry.keys in said


def test_help_goes_with_the_last_window(program):
    window = program.new_window()
    program.help.show()
    shown = program.help.window
    window.close()
    assert program.help.window is None
    assert not shown.isVisible()


def test_the_classes_and_sections_that_lead_to_a_topic_exist(workbench, program):
    from layout_app.window import brief_page, drawing_page, export_dialog, finder, numbers_page, start_page

    modules = (brief_page, drawing_page, export_dialog, finder, numbers_page, start_page)
    known = {name for module in modules for name in vars(module)}
    widgets = workbench.window.findChildren(QWidget)
    known |= {type(widget).__name__ for widget in widgets}
    assert set(help_topics.OF_CLASS) <= known
    headings = {widget._heading.text() for widget in widgets if hasattr(widget, "_heading")}
    assert set(help_topics.OF_SECTION) <= headings


def test_a_widget_nothing_is_said_of_leads_to_the_first_page(qtbot):
    widget = QWidget()
    qtbot.addWidget(widget)
    assert topic_of(widget) == help_topics.FIRST
    assert page(topic_of(None)).is_file()


def test_f1_works_in_dialogs(workbench, qtbot):
    from PySide6.QtCore import QTimer

    from layout_app.window.finder import Finder

    seen = []

    def press():
        (finder,) = [widget for widget in QApplication.topLevelWidgets() if isinstance(widget, Finder)]
        qtbot.keyClick(finder.line, Qt.Key.Key_F1)
        shown = workbench.window.program.help.window
        seen.append(shown and shown.topic)
        workbench.window.program.help.close()
        finder.reject()

    QTimer.singleShot(200, press)
    workbench.window.find_action()
    assert seen == ["keys"]
