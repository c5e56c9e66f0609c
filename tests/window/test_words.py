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
        # values keep their names and how they are written
        return re.sub(r"}([^{}]*){", lambda place: "{" + place[1][::-1] + "}", text[::-1])


@pytest.fixture
def backwards(qapp):
    translator = Backwards()
    qapp.installTranslator(translator)
    yield translator
    qapp.removeTranslator(translator)


WRAPPERS = ("translate", "QT_TRANSLATE_NOOP")


def modules() -> dict[str, ast.Module]:
    """Every module of the window."""
    return {
        path.relative_to(WINDOW).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in WINDOW.rglob("*.py")
    }


def is_wrapper(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in WRAPPERS


def asked_for() -> set[tuple[str, str]]:
    """Every context and text the window's code asks a translation of, or lists for one; fails where none is named."""
    found = set()
    for name, tree in modules().items():
        for node in filter(is_wrapper, ast.walk(tree)):
            words = [argument.value for argument in node.args if isinstance(argument, ast.Constant)]
            assert words, f"{name}, line {node.lineno}: the context must be spelled out"
            if len(words) == 2:  # else a table's words, which the table lists
                found.add(tuple(words))
    return found


# what looks like words and is none, or is the same in every language
NO_WORDS = re.compile(
    r"""
    (Ctrl|Shift|Alt|Del|Ins|Backspace|Esc|Home|End|F\d+)\b[-+\w=\[\]]*   # keys
    | (Busweave|DXF|SVG|CSV|HTML|PNG|R12|R20\d\d)(\ \w*)?               # names
    | SIG\w+ | EDQUOT | Fusion                                          # of the system and of Qt
    | (Wh|Wh/l|Ah|W/m²K|A/mm²|kHz|mΩ|°C|cm²|Δx|px/mm)                   # units
    | m?W/c?m²                                                           # more of them
    | (?=.*(_|\ -\ ))[-@a-z_ ]+                                           # names of actions in a row
    | [\w/]+\.\w+ | application/.*                                       # files and kinds of data
    """,
    re.VERBOSE,
)
MARKUP = re.compile(r"<[^>]*>|&\w+;|[-\w]+:\s*[^;]*;|[-\w\s:#,.]*\{[^}]*(\}|$)|(border|color|font|padding)[-\w]*:.*")
# module: words of its own that are data, not text: names of classes, values of edits, formats, places in menus
DATA = {
    "help_topics.py": re.compile(r"[A-Z]\w+|Brief|Cell and fill|Groups and chain|Limits of the checks"),  # see settings
    "tools/__init__.py": re.compile(r"\w*Tool"),
    "editing.py": re.compile(r"left to right|top to bottom|own rectangle"),
    "tool_line.py": re.compile(r"own (circle|rectangle)"),
    "filing.py": re.compile(r"file on disk"),
    "recovery_offers.py": re.compile(r"[dMyHm :]+"),
    "drawing_page.py": re.compile(r"the joining distance"),  # a field's name in an error from below
    "numbers_page.py": re.compile(r" from numbers"),  # kept in the file
}


def reads_as_words(text: str) -> bool:
    """Whether a text is two words or more, or one with a capital: what a user would read."""
    bare = MARKUP.sub(" ", text)
    is_words = re.search(r"[^\W\d_]{2,}[^\w]+[^\W\d_]{2,}", bare) or re.match(r"\s*&?[A-Z][a-z]{2,}", bare)
    return bool(is_words) and not NO_WORDS.fullmatch(text.strip())


def unwrapped(name: str, tree: ast.Module) -> list[str]:
    """Return the texts of a module that no translation can reach."""
    passed: set[int] = set()
    for node in ast.walk(tree):
        is_documented = isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        if is_documented and ast.get_docstring(node) is not None:
            passed.add(id(node.body[0].value))
        if is_wrapper(node) or isinstance(node, ast.Compare | ast.Raise):
            passed |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Subscript):
            passed |= {id(inner) for inner in ast.walk(node.slice)}
        if isinstance(node, ast.AnnAssign):
            passed |= {id(inner) for inner in ast.walk(node.annotation)}
    data = DATA.get(name)
    return [
        f"{name}, line {node.lineno}: {node.value!r}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in passed
        if reads_as_words(node.value) and not (data and data.fullmatch(node.value))
    ]


def test_no_text_is_shown_that_a_translation_cannot_reach():
    found = [text for name, tree in modules().items() for text in unwrapped(name, tree)]
    assert not found, "\n".join(["wrap these in translate(...), or QT_TRANSLATE_NOOP(...) in a table:", *found])


def test_a_bare_text_is_found():
    tree = ast.parse("box.setText(f'{n} cells stand apart')\nbox.setToolTip('Open')\nbox.setFont(QFont('sans'))")
    assert len(unwrapped("x.py", tree)) == 2


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
    assert len(asked_for()) > 500
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
