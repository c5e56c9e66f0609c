"""Sizes that grow with the font of the system."""

from __future__ import annotations

from PySide6.QtGui import QFont, QFontInfo
from PySide6.QtWidgets import QWidget

USUAL_TEXT_PX = 12.0  # 9 point at 96 dots an inch: what sizes in pixels were chosen beside


def characters(widget: QWidget, count: float) -> int:
    """Return how many desktop pixels so many characters of the widget's font take, side by side."""
    return round(count * widget.fontMetrics().averageCharWidth())


def text_scale(font: QFont) -> float:
    """Return how many times larger than usual a font is: what is painted by hand grows with the system's font."""
    return QFontInfo(font).pixelSize() / USUAL_TEXT_PX
