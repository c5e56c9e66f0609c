"""Texts are ready to be translated: found by Qt's tool, and taken from a translation when there is one."""

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PySide6.QtCore import QLocale, QTranslator

from layout_app.window import finder, help_window, message_bar, walk
from layout_app.window.finder import Finder
from layout_app.window.words import install_translations

WINDOW = Path(finder.__file__).parent


class Backwards(QTranslator):
    """A language in which every text is written backwards, names of values apart."""

    def translate(self, context, text, disambiguation=None, n=-1):
        if context[:1].isupper():  # Qt's own words
            return text
        return re.sub(r"}(\w+){", lambda place: "{" + place[1][::-1] + "}", text[::-1])  # values keep their names


@pytest.fixture
def backwards(qapp):
    translator = Backwards()
    qapp.installTranslator(translator)
    yield translator
    qapp.removeTranslator(translator)


def asked_for() -> set[tuple[str, str]]:
    """Every context and text the window's code asks a translation of; fails where one is not spelled out."""
    found = set()
    for path in WINDOW.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "translate":
                words = [argument.value for argument in node.args if isinstance(argument, ast.Constant)]
                if len(words) == 2:
                    found.add(tuple(words))
                else:  # a table's words, which the table's own module lists
                    assert path.name in ("menus.py", "actions.py"), f"{path.name}, line {node.lineno}"
    return found


def test_qts_own_tool_finds_every_text(tmp_path):
    tool = shutil.which("pyside6-lupdate", path=str(Path(sys.executable).parent))
    if tool is None:
        pytest.skip("this PySide6 comes without its lupdate")
    into = tmp_path / "all.ts"
    subprocess.run([tool, *map(str, WINDOW.rglob("*.py")), "-ts", str(into)], check=True, capture_output=True)
    listed = {
        (context.findtext("name"), message.findtext("source"))
        for context in ElementTree.parse(into).getroot().iter("context")
        for message in context.iter("message")
    }
    assert len(asked_for()) > 80
    assert asked_for() <= listed


def test_texts_come_from_the_translation(backwards, workbench, qtbot):
    bar = message_bar.MessageBar()
    qtbot.addWidget(bar)
    assert bar.accessibleName() == "egasseM"
    found = Finder(workbench.window)
    qtbot.addWidget(found)
    assert found.windowTitle() == "noitca na dniF"
    assert walk.stages()[1].title == "revo ti nruT"
    shown = help_window.HelpWindow()
    qtbot.addWidget(shown)
    assert shown.windowTitle() == "pleh evaewsuB"
    assert "&" in workbench.window.menuBar().actions()[0].text()


def test_actions_and_menus_come_from_the_translation(backwards, workbench):
    assert workbench.actions["save"].toolTip().startswith("elif sti ot tuoyal eht evaS")
    titles = [action.text().replace("&", "") for action in workbench.window.menuBar().actions()]
    assert "eliF" in titles


def test_a_language_without_translation_is_no_trouble(qapp):
    for translator in install_translations(qapp, QLocale("mi_NZ")):
        qapp.removeTranslator(translator)
