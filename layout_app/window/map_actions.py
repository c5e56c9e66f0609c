"""Actions of maps and currents: their words, tips and keys, and the menu they stand in. See actions.Entry."""

from __future__ import annotations

from PySide6.QtCore import QT_TRANSLATE_NOOP

MAP_ENTRIES: dict[str, tuple] = {
    "map_none": (
        QT_TRANSLATE_NOOP("actions", "Groups, &no map"),
        QT_TRANSLATE_NOOP("actions", "Colour the cells by their groups again"),
        ("Ctrl+1",), "", True,
    ),
    "map_share": (
        QT_TRANSLATE_NOOP("actions", "Map of cell &currents"),
        QT_TRANSLATE_NOOP("actions", "Colour each cell by its current over the mean of its group"),
        ("Ctrl+2",), "", True,
    ),
    "map_joint_loss": (
        QT_TRANSLATE_NOOP("actions", "Map of &joint losses"),
        QT_TRANSLATE_NOOP("actions", "Colour each cell by what either of its joints loses"),
        ("Ctrl+3",), "", True,
    ),
    "map_potential": (
        QT_TRANSLATE_NOOP("actions", "Map of &potential"),
        QT_TRANSLATE_NOOP("actions", "Colour the metal by its potential about the segment's mean; by the sheet model"),
        ("Ctrl+4",), "", True,
    ),
    "map_density": (
        QT_TRANSLATE_NOOP("actions", "Map of current &density"),
        QT_TRANSLATE_NOOP("actions", "Colour the metal by the current density in it; by the sheet model"),
        ("Ctrl+5",), "", True,
    ),
    "map_loss": (
        QT_TRANSLATE_NOOP("actions", "Map of &loss density"),
        QT_TRANSLATE_NOOP("actions", "Colour the metal by the heat it gives off; by the sheet model"),
        ("Ctrl+6",), "", True,
    ),
    "map_sheet": (
        QT_TRANSLATE_NOOP("actions", "By the &sheet model"),
        QT_TRANSLATE_NOOP("actions", "Take cell currents from the sheet model, not from the live network"),
        (), "", True,
    ),
    "map_lines": (
        QT_TRANSLATE_NOOP("actions", "Stream l&ines"),
        QT_TRANSLATE_NOOP("actions", "Draw the ways of the current through the metal, evenly spaced by current"),
        ("I",), "", True,
    ),
    "map_ways": (
        QT_TRANSLATE_NOOP("actions", "&Worst-placed cells"),
        QT_TRANSLATE_NOOP("actions", "Draw, for each group, the way of the current of the cell furthest from the mean"),
        ("V",), "", True,
    ),
    "map_necks": (
        QT_TRANSLATE_NOOP("actions", "Worst nec&ks"),
        QT_TRANSLATE_NOOP("actions", "Mark the lines across the metal where the current has least room"),
        ("N",), "", True,
    ),
    "work_sheet": (
        QT_TRANSLATE_NOOP("actions", "Work &out the sheet"),
        QT_TRANSLATE_NOOP("actions", "Run the sheet model on the layout shown, beside the window"),
        ("F5",),
    ),
    "picture": (
        QT_TRANSLATE_NOOP("actions", "Save pic&ture…"),
        QT_TRANSLATE_NOOP("actions", "Save what the drawing shows, with its map and colour bar, as PNG, SVG or PDF"),
        ("Ctrl+Shift+E",),
    ),
    "currents": (
        QT_TRANSLATE_NOOP("actions", "C&urrents panel"),
        QT_TRANSLATE_NOOP("actions", "Go to the panel of currents: map, model, range and key figures"),
        ("Ctrl+U",),
    ),
}  # fmt: skip
MAPS = ("map_none", "map_share", "map_joint_loss", "map_potential", "map_density", "map_loss")
MAP_MENUS = {
    QT_TRANSLATE_NOOP(
        "menus", "C&urrents"
    ): "map_none map_share map_joint_loss map_potential map_density map_loss - map_sheet map_lines map_ways map_necks "
    "- work_sheet currents charts - what_if advice - picture",
}
