"""Colours of the drawing in light and dark, and which tint each group wears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtGui import QColor, QPalette

from layout_app.geometry.arrays import IntArray

# Six tints found by a search for the largest least distance in OKLab, seen with normal sight and with each of the
# three colour vision deficiencies simulated (tests/window/test_colours.py holds the distance). Our own set.
TINTS = ("#63b4e1", "#e3af5d", "#5f6fb9", "#eef098", "#b45566", "#a2dee3")
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

    def colour(self, name: str, alpha: float = 1.0) -> QColor:
        """Return one of the colours by field name."""
        colour = QColor(getattr(self, name))
        colour.setAlphaF(alpha)
        return colour

    def tint(self, index: int) -> QColor:
        """Return the tint with that index; NO_GROUP gives the grey of unassigned cells."""
        colour = QColor(self.no_group if index == NO_GROUP else TINTS[index])
        return colour.darker(112) if self.is_dark else colour

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


def theme_of(palette: QPalette) -> Theme:
    """Return the theme that goes with the desktop's palette."""
    return DARK if palette.color(QPalette.ColorRole.Window).lightness() < 128 else LIGHT


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
