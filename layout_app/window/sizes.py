"""Sizes that grow with the font of the system."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget


def characters(widget: QWidget, count: float) -> int:
    """Return how many desktop pixels so many characters of the widget's font take, side by side."""
    return round(count * widget.fontMetrics().averageCharWidth())
