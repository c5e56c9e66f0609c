"""Actions that edit: their words, tips and keys, and the menus they stand in. See actions.Entry for the columns."""

from __future__ import annotations

EDIT_ENTRIES: dict[str, tuple] = {
    "fill": (
        "&Fill region", "Click a cell: all of its group that hang together with it go into the active group", ("R",),
        "fill", True,
    ),
    "swap": ("S&wap cells", "Click two cells: each gets the group of the other", ("S",), "swap", True),
    "measure": ("&Measure", "Click two things: cells, windows, walls, metal, or points", ("M",), "measure", True),
    "walls": ("&Housing and keep-outs", "Drag corners, add keep-outs, type exact numbers", ("W",), "walls", True),
    "add_corner": ("Add a &corner", "Put a corner amid an edge of the chosen outline or keep-out", ("Ins",)),
    "cut": ("Cu&t cells", "Copy the chosen cells and erase them", ("Ctrl+X",)),
    "copy": ("&Copy cells", "Copy the chosen cells", ("Ctrl+C",)),
    "paste": ("&Paste cells", "Hang the copied cells under the pointer; a click puts them down", ("Ctrl+V",)),
    "delete": ("&Delete", "Erase the chosen cells, corner or keep-out", ("Del", "Backspace")),
    "choose_all": ("Choose &all", "Choose every cell", ("Ctrl+A",)),
    "choose_none": ("Choose &none", "Choose nothing", ("Ctrl+Shift+A",)),
    "choose_invert": ("&Invert", "Choose the cells that are not chosen", ("Ctrl+I",)),
    "choose_group": ("Whole &groups", "Choose all cells of the groups of the chosen", ("Ctrl+G",)),
    "choose_row": ("Whole &rows", "Choose all cells in the rows of the chosen", ("Ctrl+R",)),
    "choose_polarity": ("Same &polarity", "Choose all cells that stand the same way up", ("Ctrl+Shift+P",)),
    "choose_lock": ("Locked a&like", "Choose all cells that are locked, or not, like the chosen", ("Ctrl+Shift+L",)),
    "choose_grow": ("G&row", "Choose the neighbours too", ("+",)),
    "choose_shrink": ("S&hrink", "Leave out the cells at the rim of what is chosen", ("-",)),
    "turn_left": ("Turn &left", "Turn the chosen cells counter-clockwise to the next direction of the lattice", ("T",)),
    "turn_right": ("Turn ri&ght", "Turn the chosen cells clockwise", ("Shift+T",)),
    "mirror_across": ("Mirror left to &right", "Mirror the chosen cells about their vertical middle line", ("X",)),
    "mirror_down": ("Mirror &top to bottom", "Mirror the chosen cells about their level middle line", ("Y",)),
    "align": ("Put on &sites", "Put each chosen cell on the site nearest to it", ("A",)),
    "lock": ("Loc&k", "Keep place and group of the chosen cells, whatever else is edited", ("K",)),
    "unlock": ("&Unlock", "Let the chosen cells be moved, erased and regrouped again", ("Shift+K",)),
    "into_group": ("Put into the active &group", "Put the chosen cells into the active group", ("Shift+P",)),
    "open_rows": ("&Open rows", "Open a gap between the chosen rows, as wide as the panel says", ("O",)),
    "loop": ("Draw &loops instead of boxes", "Draw free lines around cells; Alt does it once", ("Shift+L",), "", True),
    "balance": ("&Balance", "Trade border cells until counts are even: of the chosen groups, or of all", ("B",)),
    "divide": ("&Divide anew", "Form the chosen groups anew; all others stay", ("D",)),
    "swap_groups": ("S&wap two groups", "Exchange the places of two chosen groups in the series order", ("Shift+S",)),
    "earlier": ("One place &earlier", "Move the chosen group towards the negative terminal", ("Ctrl+[",)),
    "later": ("One place &later", "Move the chosen group towards the positive terminal", ("Ctrl+]",)),
    "split": ("&Split", "Divide the chosen group into two", ("Shift+D",)),
    "merge": ("&Merge", "Join the chosen groups into one", ("Shift+M",)),
    "reverse": ("&Reverse the chain", "Let the chain begin at its other end", ("Shift+R",)),
    "inches": ("Lengths in &inches", "Show rulers and read-outs in inches; files keep millimetres", (), "", True),
}  # fmt: skip
EDIT_TOOLS = ("fill", "swap", "measure", "walls")
EDIT_MENUS = {
    "&Cells": "choose_all choose_none choose_invert - choose_group choose_row choose_polarity choose_lock choose_grow "
    "choose_shrink - cut copy paste delete - turn_left turn_right mirror_across "
    "mirror_down align open_rows - into_group lock unlock - loop",
    "&Groups": "balance divide - swap_groups earlier later reverse - split merge",
}
