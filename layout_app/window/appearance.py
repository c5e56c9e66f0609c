"""Appearance: the colours of all windows, as the desktop has them or as the user chose."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from layout_app.model.errors import LayoutError
from layout_app.model.resources import resource
from layout_app.window import memory

FOLLOW, LIGHT, DARK, CONTRAST = "follow", "light", "dark", "contrast"
_Role = QPalette.ColorRole
# window, text, field, alternate row, button, highlight, text on it, link, faint text
_COLOURS = {
    LIGHT: ("#f2f3f4", "#1d252c", "#ffffff", "#f5f6f7", "#e9ebec", "#0b6e99", "#ffffff", "#0b5c80", "#5f6970"),
    DARK: ("#23282c", "#eef1f3", "#1b1f23", "#262b30", "#30363b", "#2b789e", "#ffffff", "#7cc7ea", "#939ca4"),
    CONTRAST: ("#000000", "#ffffff", "#000000", "#101010", "#000000", "#ffe34d", "#000000", "#7fdfff", "#c8c8c8"),
}
_ROLES = (
    (_Role.Window,), (_Role.WindowText, _Role.Text, _Role.ButtonText, _Role.ToolTipText), (_Role.Base,),
    (_Role.AlternateBase,), (_Role.Button, _Role.ToolTipBase), (_Role.Highlight,), (_Role.HighlightedText,),
    (_Role.Link, _Role.LinkVisited), (_Role.PlaceholderText,),
)  # fmt: skip
STYLE = """
QDockWidget::title { padding: 6px 10px; }
QToolBar { spacing: 3px; padding: 3px 6px; border: 0; }
QStatusBar::item { border: 0; }
"""
CONTRAST_STYLE = """
QLineEdit, QComboBox, QPushButton, QAbstractItemView, QTextBrowser { border: 1px solid #ffffff; padding: 2px 4px; }
QPushButton { padding: 4px 12px; }
QToolButton { border: 1px solid transparent; padding: 3px; }
QToolButton:checked { border: 2px solid #ffe34d; }
QLineEdit:focus, QComboBox:focus, QPushButton:focus, QToolButton:focus, QAbstractItemView:focus {
  border: 2px solid #ffe34d; }
QHeaderView { border: 0; padding: 0; }
QTabBar::tab { border: 1px solid #ffffff; padding: 4px 10px; }
QTabBar::tab:selected { border: 2px solid #ffe34d; font-weight: bold; }
QMenu { border: 1px solid #ffffff; }
QMenu::item { padding: 4px 24px; }
QMenu::item:selected { background: #ffe34d; color: #000000; }
QToolTip { border: 1px solid #ffffff; }
QCheckBox::indicator, QAbstractItemView::indicator {
  border: 1px solid #ffffff; width: 12px; height: 12px; background: #000000; }
QCheckBox::indicator:checked, QAbstractItemView::indicator:checked { background: #ffe34d; image: url("TICK"); }
"""
translate = QCoreApplication.translate


def choices() -> dict[str, str]:
    """Return what may be chosen: name -> words."""
    return {
        FOLLOW: translate("appearance", "&Follow the desktop"),
        LIGHT: translate("appearance", "&Light"),
        DARK: translate("appearance", "&Dark"),
        CONTRAST: translate("appearance", "&High contrast"),
    }


def chosen() -> str:
    """Return the choice made last."""
    choice = memory.settings().value("appearance", FOLLOW)
    return choice if choice in choices() else FOLLOW


def choose(choice: str) -> None:
    """Show all windows so from now on, and in later sittings."""
    memory.settings().setValue("appearance", choice)
    show(choice)


def show(choice: str) -> None:
    """Give the application the colours of a choice."""
    hints = QGuiApplication.styleHints()
    schemes = {LIGHT: Qt.ColorScheme.Light, DARK: Qt.ColorScheme.Dark, CONTRAST: Qt.ColorScheme.Dark}
    if choice == FOLLOW and desktop_wants_contrast():
        choice = CONTRAST
    hints.setColorScheme(schemes.get(choice, Qt.ColorScheme.Unknown))  # for what the system itself paints
    QApplication.setPalette(palette(choice) if choice != FOLLOW else QPalette())
    QApplication.instance().setStyleSheet(STYLE + (contrast_style() if choice == CONTRAST else ""))


def contrast_style() -> str:
    """Return the style of high contrast: frames around all that can be used, ticks told by shape."""
    try:
        return CONTRAST_STYLE.replace("TICK", resource("icons/tick.svg").as_posix())
    except LayoutError:  # a box that is filled tells enough
        return CONTRAST_STYLE.replace('image: url("TICK");', "")


def palette(choice: str) -> QPalette:
    """Return the colours of a choice other than following the desktop."""
    made = QPalette(QColor(_COLOURS[choice][4]), QColor(_COLOURS[choice][0]))
    for roles, colour in zip(_ROLES, _COLOURS[choice], strict=True):
        for role in roles:
            made.setColor(role, QColor(colour))
    faint = QColor(_COLOURS[choice][-1])
    for role in _ROLES[1]:
        made.setColor(QPalette.ColorGroup.Disabled, role, faint)
    return made


def desktop_wants_contrast() -> bool:
    """Whether the desktop asks programs for high contrast, where Qt can tell."""
    hints = QGuiApplication.styleHints()
    if not hasattr(hints, "accessibility"):  # Qt before 6.10
        return False
    return hints.accessibility().contrastPreference() == Qt.ContrastPreference.HighContrast


def follow_desktop() -> None:
    """Change with the desktop while its colours are followed."""
    hints = QGuiApplication.styleHints()
    if hasattr(hints, "accessibility"):
        hints.accessibility().contrastPreferenceChanged.connect(lambda _: show(chosen()))
