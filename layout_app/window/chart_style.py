"""Chart style: what charts are drawn with in the window, from its palette and font."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QWidget

from layout_app.charting.styles import Style
from layout_app.window.colours import TINTS, contrast, theme_of

LEAST_CONTRAST = 3.0  # of marks on their ground: WCAG 2.1, 1.4.11; from memory
LEAST_IN_HIGH_CONTRAST = 4.5
GRID_SHARE = 0.22  # of ink in the lines of the grid
MOST_MARKS = 50_000  # a picture bears any number of cells


def style_of(widget: QWidget) -> Style:
    """Return the style for charts beside a widget's own words."""
    palette = widget.palette()
    theme, ground = theme_of(palette), palette.color(QPalette.ColorRole.Base)
    least = LEAST_IN_HIGH_CONTRAST if theme.is_contrast else LEAST_CONTRAST
    tints = [QColor(tint) for tint in TINTS]
    lines = [tint.name() for tint in tints if contrast(tint, ground) >= least]
    return Style(
        ground=ground.name(),
        ink=theme.ink,
        faint=_between(ground, QColor(theme.ink), GRID_SHARE).name(),
        error=theme.error,
        fills=TINTS,
        lines=(lines[0], lines[1]) if len(lines) > 1 else (theme.accent, theme.ink),
        font_pt=_font_pt(widget),
        most_marks=MOST_MARKS,
    )


def _font_pt(widget: QWidget) -> float:
    font = widget.font()
    return font.pointSizeF() if font.pointSizeF() > 0 else font.pixelSize() * 72 / widget.logicalDpiY()


def _between(one: QColor, other: QColor, share: float) -> QColor:
    mixed = (a + share * (b - a) for a, b in zip(one.getRgbF()[:3], other.getRgbF()[:3], strict=True))
    return QColor.fromRgbF(*mixed)
