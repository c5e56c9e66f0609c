"""Which edits may take long, and so are done beside the window."""

from __future__ import annotations

from layout_app.edits import (
    BalanceGroups,
    ChangeCellType,
    ChangeFill,
    ChangeGrouping,
    DivideAnew,
    Edit,
    SetHousing,
    SplitGroup,
)
from layout_app.edits.repairs import MendGroups
from layout_app.model.layouts import Layout

LAYS_OUT_ANEW = (ChangeFill, ChangeGrouping, ChangeCellType, SetHousing, MendGroups)  # these may take a second
TRADES = (BalanceGroups, DivideAnew, SplitGroup)  # and so may these, on a large module
FEW_TRADED = 1500  # cells; among fewer, trades take some milliseconds


def is_slow(edit: Edit, layout: Layout) -> bool:
    """Whether the window would stand still for an edit, were it done at once."""
    return isinstance(edit, LAYS_OUT_ANEW + TRADES) and not _is_quick(edit, layout)


def _is_quick(edit: Edit, layout: Layout) -> bool:
    """Whether an edit of the laying-out kind only turns the first group over, or trades among few cells."""
    if isinstance(edit, TRADES):  # dividing tries many ways, half a second for 300 cells strewn about
        return len(layout.cells) <= FEW_TRADED and not isinstance(edit, DivideAnew)
    return isinstance(edit, ChangeGrouping) and edit == ChangeGrouping(first_group_up=edit.first_group_up)
