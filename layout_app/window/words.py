"""Words: the texts of the window in the language of the desktop, where there is a translation.

A text is given as ``translate("context", "text")`` with both words spelled out, so that Qt's lupdate finds it; the
context names the part of the window. Values go in afterwards with ``.format``, never before.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QLibraryInfo, QLocale, QTranslator

from layout_app.model.errors import LayoutError
from layout_app.model.resources import resource

translate = QCoreApplication.translate


def cells_text(number: int) -> str:
    """Return how many cells, in words, e.g. "3 cells"."""
    return translate("words", "1 cell") if number == 1 else translate("words", "{n} cells").format(n=number)


def install_translations(app: QCoreApplication, locale: QLocale | None = None) -> list[QTranslator]:
    """Load our own and Qt's words for the desktop's language; return those found. English needs none."""
    wanted = locale or QLocale()
    folders = {"qtbase": QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)}
    try:
        folders["busweave"] = str(resource("translations"))
    except LayoutError:
        return []
    found = []
    for name, folder in folders.items():
        translator = QTranslator(app)
        if translator.load(wanted, name, "_", folder):
            app.installTranslator(translator)
            found.append(translator)
    return found
