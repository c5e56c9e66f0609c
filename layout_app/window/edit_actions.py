"""Actions that edit: their words, tips and keys, and the menus they stand in. See actions.Entry for the columns."""

from __future__ import annotations

from PySide6.QtCore import QT_TRANSLATE_NOOP

EDIT_ENTRIES: dict[str, tuple] = {
    "fill": (
        QT_TRANSLATE_NOOP("actions", "&Fill region"),
        QT_TRANSLATE_NOOP(
            "actions", "Click a cell: all of its group that hang together with it go into the active group"
        ),
        ("R",),
        "fill",
        True,
    ),
    "swap": (
        QT_TRANSLATE_NOOP("actions", "S&wap cells"),
        QT_TRANSLATE_NOOP("actions", "Click two cells: each gets the group of the other"),
        ("S",),
        "swap",
        True,
    ),
    "measure": (
        QT_TRANSLATE_NOOP("actions", "&Measure"),
        QT_TRANSLATE_NOOP("actions", "Click two things: cells, windows, walls, metal, or points"),
        ("M",),
        "measure",
        True,
    ),
    "walls": (
        QT_TRANSLATE_NOOP("actions", "&Housing and keep-outs"),
        QT_TRANSLATE_NOOP("actions", "Drag corners, add keep-outs, type exact numbers"),
        ("W",),
        "walls",
        True,
    ),
    "add_corner": (
        QT_TRANSLATE_NOOP("actions", "Add a &corner"),
        QT_TRANSLATE_NOOP("actions", "Put a corner amid an edge of the chosen outline or keep-out"),
        (QT_TRANSLATE_NOOP("actions", "Ins"),),
    ),
    "cut": (
        QT_TRANSLATE_NOOP("actions", "Cu&t cells"),
        QT_TRANSLATE_NOOP("actions", "Copy the chosen cells and erase them"),
        ("Ctrl+X",),
    ),
    "copy": (
        QT_TRANSLATE_NOOP("actions", "&Copy cells"),
        QT_TRANSLATE_NOOP("actions", "Copy the chosen cells"),
        ("Ctrl+C",),
    ),
    "paste": (
        QT_TRANSLATE_NOOP("actions", "&Paste cells"),
        QT_TRANSLATE_NOOP("actions", "Hang the copied cells under the pointer; a click puts them down"),
        ("Ctrl+V",),
    ),
    "delete": (
        QT_TRANSLATE_NOOP("actions", "&Delete"),
        QT_TRANSLATE_NOOP("actions", "Erase the chosen cells, corner or keep-out"),
        ("Del", "Backspace"),
    ),
    "choose_all": (
        QT_TRANSLATE_NOOP("actions", "Choose &all"),
        QT_TRANSLATE_NOOP("actions", "Choose every cell"),
        ("Ctrl+A",),
    ),
    "choose_none": (
        QT_TRANSLATE_NOOP("actions", "Choose &none"),
        QT_TRANSLATE_NOOP("actions", "Choose nothing"),
        ("Ctrl+Shift+A",),
    ),
    "choose_invert": (
        QT_TRANSLATE_NOOP("actions", "&Invert"),
        QT_TRANSLATE_NOOP("actions", "Choose the cells that are not chosen"),
        ("Ctrl+I",),
    ),
    "choose_group": (
        QT_TRANSLATE_NOOP("actions", "Whole &groups"),
        QT_TRANSLATE_NOOP("actions", "Choose all cells of the groups of the chosen"),
        ("Ctrl+G",),
    ),
    "choose_row": (
        QT_TRANSLATE_NOOP("actions", "Whole &rows"),
        QT_TRANSLATE_NOOP("actions", "Choose all cells in the rows of the chosen"),
        ("Ctrl+R",),
    ),
    "choose_polarity": (
        QT_TRANSLATE_NOOP("actions", "Same &polarity"),
        QT_TRANSLATE_NOOP("actions", "Choose all cells that stand the same way up"),
        ("Ctrl+Shift+P",),
    ),
    "choose_lock": (
        QT_TRANSLATE_NOOP("actions", "Locked a&like"),
        QT_TRANSLATE_NOOP("actions", "Choose all cells that are locked, or not, like the chosen"),
        ("Ctrl+Shift+L",),
    ),
    "choose_grow": (
        QT_TRANSLATE_NOOP("actions", "G&row"),
        QT_TRANSLATE_NOOP("actions", "Choose the neighbours too"),
        ("+",),
    ),
    "choose_shrink": (
        QT_TRANSLATE_NOOP("actions", "S&hrink"),
        QT_TRANSLATE_NOOP("actions", "Leave out the cells at the rim of what is chosen"),
        ("-",),
    ),
    "turn_left": (
        QT_TRANSLATE_NOOP("actions", "Turn &left"),
        QT_TRANSLATE_NOOP("actions", "Turn the chosen cells counter-clockwise to the next direction of the lattice"),
        ("T",),
    ),
    "turn_right": (
        QT_TRANSLATE_NOOP("actions", "Turn ri&ght"),
        QT_TRANSLATE_NOOP("actions", "Turn the chosen cells clockwise"),
        ("Shift+T",),
    ),
    "mirror_across": (
        QT_TRANSLATE_NOOP("actions", "Mirror left to &right"),
        QT_TRANSLATE_NOOP("actions", "Mirror the chosen cells about their vertical middle line"),
        ("X",),
    ),
    "mirror_down": (
        QT_TRANSLATE_NOOP("actions", "Mirror &top to bottom"),
        QT_TRANSLATE_NOOP("actions", "Mirror the chosen cells about their level middle line"),
        ("Y",),
    ),
    "align": (
        QT_TRANSLATE_NOOP("actions", "Put on &sites"),
        QT_TRANSLATE_NOOP("actions", "Put each chosen cell on the site nearest to it"),
        ("A",),
    ),
    "lock": (
        QT_TRANSLATE_NOOP("actions", "Loc&k"),
        QT_TRANSLATE_NOOP("actions", "Keep place and group of the chosen cells, whatever else is edited"),
        ("K",),
    ),
    "unlock": (
        QT_TRANSLATE_NOOP("actions", "&Unlock"),
        QT_TRANSLATE_NOOP("actions", "Let the chosen cells be moved, erased and regrouped again"),
        ("Shift+K",),
    ),
    "into_group": (
        QT_TRANSLATE_NOOP("actions", "Put into the active &group"),
        QT_TRANSLATE_NOOP("actions", "Put the chosen cells into the active group"),
        ("Shift+P",),
    ),
    "open_rows": (
        QT_TRANSLATE_NOOP("actions", "&Open rows"),
        QT_TRANSLATE_NOOP("actions", "Open a gap between the chosen rows, as wide as the panel says"),
        ("O",),
    ),
    "loop": (
        QT_TRANSLATE_NOOP("actions", "Draw &loops instead of boxes"),
        QT_TRANSLATE_NOOP("actions", "Draw free lines around cells; Alt does it once"),
        ("Shift+L",),
        "",
        True,
    ),
    "balance": (
        QT_TRANSLATE_NOOP("actions", "&Balance"),
        QT_TRANSLATE_NOOP("actions", "Trade border cells until counts are even: of the chosen groups, or of all"),
        ("B",),
    ),
    "divide": (
        QT_TRANSLATE_NOOP("actions", "&Divide anew"),
        QT_TRANSLATE_NOOP("actions", "Form the chosen groups anew; all others stay"),
        ("D",),
    ),
    "swap_groups": (
        QT_TRANSLATE_NOOP("actions", "S&wap two groups"),
        QT_TRANSLATE_NOOP("actions", "Exchange the places of two chosen groups in the series order"),
        ("Shift+S",),
    ),
    "earlier": (
        QT_TRANSLATE_NOOP("actions", "One place &earlier"),
        QT_TRANSLATE_NOOP("actions", "Move the chosen group towards the negative terminal"),
        ("Ctrl+[",),
    ),
    "later": (
        QT_TRANSLATE_NOOP("actions", "One place &later"),
        QT_TRANSLATE_NOOP("actions", "Move the chosen group towards the positive terminal"),
        ("Ctrl+]",),
    ),
    "split": (
        QT_TRANSLATE_NOOP("actions", "&Split"),
        QT_TRANSLATE_NOOP("actions", "Divide the chosen group into two"),
        ("Shift+D",),
    ),
    "merge": (
        QT_TRANSLATE_NOOP("actions", "&Merge"),
        QT_TRANSLATE_NOOP("actions", "Join the chosen groups into one"),
        ("Shift+M",),
    ),
    "reverse": (
        QT_TRANSLATE_NOOP("actions", "&Reverse the chain"),
        QT_TRANSLATE_NOOP("actions", "Let the chain begin at its other end"),
        ("Shift+R",),
    ),
    "inches": (
        QT_TRANSLATE_NOOP("actions", "Lengths in &inches"),
        QT_TRANSLATE_NOOP("actions", "Show rulers and read-outs in inches; files keep millimetres"),
        (),
        "",
        True,
    ),
}
EDIT_TOOLS = ("fill", "swap", "measure", "walls")
EDIT_MENUS = {
    QT_TRANSLATE_NOOP(
        "menus", "&Cells"
    ): "choose_all choose_none choose_invert - choose_group choose_row choose_polarity choose_lock choose_grow "
    "choose_shrink - cut copy paste delete - turn_left turn_right mirror_across "
    "mirror_down align open_rows - into_group lock unlock - loop",
    QT_TRANSLATE_NOOP("menus", "&Groups"): "balance divide - swap_groups earlier later reverse - split merge",
}
