"""Consequences: what an edit changed besides what was asked for, and what it left alone, in sentences."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout_app.edits.cells import EraseCells, PaintCells
from layout_app.edits.gaps import OpenRows
from layout_app.edits.groups import BalanceGroups, DivideAnew
from layout_app.edits.locks import named_cells
from layout_app.edits.moves import AlignCells, MirrorCells, MoveCells, TurnCells
from layout_app.edits.planning import first_group_side_rad
from layout_app.edits.repairs import MendGroups, PutCells
from layout_app.geometry.arrays import IntArray
from layout_app.model.layouts import Layout

if TYPE_CHECKING:
    from layout_app.edits import Edit

OF_CELLS = (PaintCells, EraseCells, MoveCells, TurnCells, MirrorCells, AlignCells, PutCells)  # as if not chosen
SIDE_WORDS = {math.pi: "left", 0.0: "right", math.pi / 2: "top", -math.pi / 2: "bottom"}
TURNED_RAD = 1e-3  # less cannot be seen


def consequences(edit: object, before: Layout, after: Layout, *, is_by_hand: bool) -> list[str]:
    """Return what else changed; `is_by_hand` says that cells were placed or painted since the last laying out."""
    told = []
    if getattr(edit, "lattice", None) is None and after.lattice.kind != before.lattice.kind:
        told.append(f"The lattice is {after.lattice.kind} now: {before.lattice.kind} rows do not hold the cells.")
    elif abs(math.remainder(after.lattice.angle_rad - before.lattice.angle_rad, math.pi)) > TURNED_RAD:
        told.append("The rows run in another direction now: as before they do not hold the cells.")
    side_rad = first_group_side_rad(after)
    if getattr(edit, "start_rad", None) is None and side_rad not in (None, first_group_side_rad(before)):
        told.append(f"Group 1 lies at the {SIDE_WORDS[side_rad]} now: from the side before no sound chain was found.")
    if is_by_hand and after.cells is not before.cells:
        told.append("Cells placed, moved or painted by hand were replaced by a new division.")
    return told


def label_done(edit: Edit, before: Layout) -> str:
    """Return the label of an edit that was done; locked cells it left alone are not counted."""
    spared = set(_spared(edit, before).tolist())
    if not spared or not isinstance(edit, OF_CELLS):
        return edit.label
    return replace(edit, cells=tuple(cell for cell in edit.cells if cell not in spared)).label


def left_alone(edit: object, before: Layout) -> str:
    """Return which locked cells an edit that was done has left as they were, as a sentence; nothing where none."""
    if isinstance(edit, OpenRows) and before.cells.has_locks:
        return f"Rows with locked cells stayed: {named_cells(np.flatnonzero(before.cells.locked).tolist())}."
    spared = _spared(edit, before).tolist()
    if not spared:
        return ""
    verb, keeps = ("is", "stays as it was") if len(spared) == 1 else ("are", "stay as they were")
    named = named_cells(spared)
    return f"{named[:1].upper()}{named[1:]} {verb} locked and {keeps}."


def _spared(edit: object, before: Layout) -> IntArray:
    """Return the locked cells, by index, among those an edit would have changed or traded."""
    locked, groups = before.cells.locked, before.cells.groups
    if not locked.any():
        return np.empty(0, dtype=np.int64)
    if isinstance(edit, OF_CELLS):
        chosen = np.array(sorted(edit.cells), dtype=np.int64)
        chosen = chosen[locked[chosen]]
        return chosen[groups[chosen] != edit.group] if isinstance(edit, PaintCells) else chosen
    if isinstance(edit, BalanceGroups | DivideAnew):
        return np.flatnonzero(locked & (np.isin(groups, edit.groups) if edit.groups else groups > 0))
    return np.flatnonzero(locked) if isinstance(edit, MendGroups) else np.empty(0, dtype=np.int64)
