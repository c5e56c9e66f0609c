"""Help topics: the pages in resources/help in reading order, and which of them explains the widget in use."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QWidget

from layout_app.model.resources import resource

translate = QCoreApplication.translate
# file names without ending, in the order a newcomer would read them; each page's first line is its title
TOPICS = (
    "start", "first_module", "drawings", "filling", "groups", "editing", "metal", "currents", "findings", "figures",
    "comparing", "exporting", "command_line", "own_cells", "file_format", "safe_hands", "keys", "news",
)  # fmt: skip
FIRST = TOPICS[0]
# class of a widget -> topic; the innermost one named here around the widget in use wins
OF_CLASS = {
    "StartPage": "start", "DrawingPage": "drawings", "NumbersPage": "drawings", "BriefPage": "first_module",
    "Canvas": "editing", "ToolLine": "editing", "FactsPanel": "editing", "ExactPanel": "editing",
    "GroupsPanel": "editing", "SettingsPanel": "metal", "FindingsPanel": "findings", "FiguresPanel": "figures",
    "ChartsPanel": "currents", "BesideView": "comparing", "StepsPanel": "safe_hands", "ExportDialog": "exporting",
    "Finder": "keys", "CurrentsPanel": "currents", "ColourBar": "currents",
}  # fmt: skip
OF_SECTION = {  # headings in the settings, which list them for translation
    "Brief": "first_module", "Cell and fill": "filling", "Groups and chain": "groups", "Metal": "metal",
    "Joints": "currents", "Limits of the checks": "findings",
}  # fmt: skip


def page(topic: str) -> Path:
    """Return the file of a topic."""
    return resource("help") / f"{topic}.md"


def title(topic: str) -> str:
    """Return the first heading of a topic's page."""
    with page(topic).open(encoding="utf-8") as lines:
        return next(lines).lstrip("# ").strip()


def text(topic: str) -> str:
    """Return the Markdown of a topic's page."""
    return page(topic).read_text(encoding="utf-8")


def topic_of(widget: QWidget | None) -> str:
    """Return the topic that explains a widget: that of the innermost part around it that has one."""
    while widget is not None:
        kind = type(widget).__name__
        heading = getattr(widget, "_heading", None)
        if kind == "Section" and heading is not None:
            known = {translate("settings", words): topic for words, topic in OF_SECTION.items()}
            if heading.text() in known:
                return known[heading.text()]
        if kind in OF_CLASS:
            return OF_CLASS[kind]
        widget = widget.parentWidget()
    return FIRST
