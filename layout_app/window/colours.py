"""Colours of the drawing in light and dark, and which tint each group wears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtGui import QColor, QPalette

from layout_app.geometry.arrays import IntArray

# Six tints found by a search for the largest least distance in OKLab, seen with normal sight and with each of the
# three colour vision deficiencies simulated (tests/window/test_colours.py holds the distance). Our own set.
TINTS = ("#63b4e1", "#e3af5d", "#5f6fb9", "#eef098", "#b45566", "#a2dee3")
INKS = ("#15191d", "#ffffff")  # of signs and numbers on the tints
NO_GROUP = -1  # tint index of a cell that is in no group


@dataclass(frozen=True, slots=True)
class Theme:
    """Every colour the canvas uses; names say what is drawn with it."""

    is_dark: bool
    page: str
    floor: str
    wall: str
    keep_out: str
    ink: str
    faint: str
    rim: str
    no_group: str
    accent: str
    error: str
    warning: str
    note: str
    ruler: str
    copper: str
    aluminium: str
    steel: str
    is_contrast: bool = False

    def colour(self, name: str, alpha: float = 1.0) -> QColor:
        """Return one of the colours by field name."""
        colour = QColor(getattr(self, name))
        colour.setAlphaF(alpha)
        return colour

    def tint(self, index: int) -> QColor:
        """Return the tint with that index; NO_GROUP gives the grey of unassigned cells."""
        colour = QColor(self.no_group if index == NO_GROUP else TINTS[index])
        return colour.darker(112) if self.is_dark and not self.is_contrast else colour

    def metal(self, material_id: str) -> QColor:
        """Return the colour a sheet of that material is drawn in."""
        for word, field in (("copper", "copper"), ("brass", "copper"), ("alumin", "aluminium")):
            if word in material_id.lower():
                return QColor(getattr(self, field))
        return QColor(self.steel)


LIGHT = Theme(
    is_dark=False, page="#eef0f1", floor="#fbfbfa", wall="#39434d", keep_out="#cfd4d8", ink="#1d252c", faint="#aab2b9",
    rim="#4b5761", no_group="#d4d7da", accent="#0b6e99", error="#b3261e", warning="#9a5b00", note="#3d5a80",
    ruler="#f7f8f8", copper="#c98d62", aluminium="#aeb8c1", steel="#b3aea3",
)  # fmt: skip
DARK = Theme(
    is_dark=True, page="#1b1f23", floor="#272c31", wall="#c3ccd4", keep_out="#3d444b", ink="#eef1f3", faint="#67717a",
    rim="#12161a", no_group="#7b838a", accent="#5bb8e0", error="#ff8a80", warning="#f2b84b", note="#9fc1e8",
    ruler="#22272b", copper="#b97b50", aluminium="#8d98a2", steel="#8f8a80",
)  # fmt: skip


CONTRAST_LIGHT = Theme(
    is_dark=False, page="#ffffff", floor="#ffffff", wall="#000000", keep_out="#c4c4c4", ink="#000000", faint="#5a5a5a",
    rim="#000000", no_group="#dcdcdc", accent="#00408a", error="#a00000", warning="#6b3e00", note="#00306e",
    ruler="#ffffff", copper="#d9a37c", aluminium="#c3ccd3", steel="#cbc6bb", is_contrast=True,
)  # fmt: skip
CONTRAST_DARK = Theme(
    is_dark=True, page="#000000", floor="#000000", wall="#ffffff", keep_out="#4a4a4a", ink="#ffffff", faint="#b4b4b4",
    rim="#000000", no_group="#8c8c8c", accent="#ffe34d", error="#ff8f86", warning="#ffc14d", note="#a9d1ff",
    ruler="#000000", copper="#8f5a38", aluminium="#66717b", steel="#6b675f", is_contrast=True,
)  # fmt: skip
HIGHEST_CONTRAST = 20.5  # black on white is 21; no ordinary palette comes so near


def theme_of(palette: QPalette) -> Theme:
    """Return the theme that goes with the desktop's palette."""
    ground, ink = palette.color(QPalette.ColorRole.Window), palette.color(QPalette.ColorRole.WindowText)
    is_dark = ground.lightness() < 128
    if contrast(ground, ink) >= HIGHEST_CONTRAST:
        return CONTRAST_DARK if is_dark else CONTRAST_LIGHT
    return DARK if is_dark else LIGHT


def contrast(one: QColor, other: QColor) -> float:
    """Return the contrast ratio of two colours, 1 to 21. Source: WCAG 2.1, 1.4.3 and relative luminance."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def ink_on(ground: QColor) -> QColor:
    """Return the ink, dark or light, that reads better on a ground."""
    return max((QColor(ink) for ink in INKS), key=lambda ink: contrast(ink, ground))


def _luminance(colour: QColor) -> float:
    channels = [colour.redF(), colour.greenF(), colour.blueF()]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def group_tints(groups: IntArray, pairs: IntArray, previous: dict[int, int] | None = None) -> dict[int, int]:
    """Return a tint index for each group such that touching groups differ, where six tints allow it.

    Parameters
    ----------
    groups : (n,) group of each cell, 0 unassigned
    pairs : (m, 2) indices of neighbouring cells
    previous : tints worn so far; a group keeps its own while it clashes with no neighbour, so that painting a cell
        does not recolour the picture
    """
    touching: dict[int, set[int]] = {int(group): set() for group in np.unique(groups)}
    for a, b in np.unique(np.sort(groups[pairs], axis=1), axis=0).tolist() if len(pairs) else []:
        if a != b:
            touching[a].add(b)
            touching[b].add(a)
    tints = {0: NO_GROUP}
    for group in sorted(touching.keys() - {0}):
        first = (previous or {}).get(group, (group - 1) % len(TINTS))
        worn = {tints[other] for other in touching[group] if other in tints and other}
        choices = [(first + step) % len(TINTS) for step in range(len(TINTS))]
        tints[group] = next((tint for tint in choices if tint not in worn), first)
    return tints
