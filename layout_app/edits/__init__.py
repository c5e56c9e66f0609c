"""What a user may do to a layout: small frozen values with `label` and `apply(layout) -> layout`.

An edit that cannot be done raises a LayoutError that explains; the layout it was asked of is untouched, because
layouts never change. An edit that changes nothing hands back the very same layout.
"""

from typing import Protocol

from layout_app.edits.cells import EraseCells, PaintCells, PlaceCells
from layout_app.edits.copies import ArrayCells, Clip, PasteCells
from layout_app.edits.gaps import OpenRows
from layout_app.edits.groups import (
    BalanceGroups,
    DivideAnew,
    MergeGroups,
    MoveGroup,
    ReverseChain,
    SplitGroup,
    SwapCells,
    SwapGroups,
)
from layout_app.edits.history import History
from layout_app.edits.housings import AddCorner, AddKeepOut, ChangeLoop, OwnKeepOut, RemoveCorner, RemoveKeepOut
from layout_app.edits.locks import LockCells, UnlockCells
from layout_app.edits.moves import AlignCells, MirrorCells, MoveCells, TurnCells
from layout_app.edits.overrides import OverrideSegment, ResetSegment
from layout_app.edits.planning import ChangeCellType, ChangeFill, ChangeGrouping, SetHousing
from layout_app.edits.settings import ChangeBrief, ChangeJoints, ChangeLimits, ChangePlates, ChangeTerminal
from layout_app.model.layouts import Layout


class Edit(Protocol):
    """Anything that turns one layout into the next."""

    @property
    def label(self) -> str:
        """What the Edit menu shows after "Undo", in words, e.g. "Paint 3 cells into group 2"."""
        ...

    def apply(self, layout: Layout) -> Layout:
        """Return the next layout; raise LayoutError when it cannot be."""
        ...


__all__ = [
    "AddCorner", "AddKeepOut", "AlignCells", "ArrayCells", "BalanceGroups", "ChangeBrief", "ChangeCellType",
    "ChangeFill", "ChangeGrouping", "ChangeJoints", "ChangeLimits", "ChangeLoop", "ChangePlates", "ChangeTerminal",
    "Clip", "DivideAnew", "Edit", "EraseCells", "History", "LockCells", "MergeGroups", "MirrorCells", "MoveCells",
    "MoveGroup", "OpenRows", "OverrideSegment", "OwnKeepOut", "PaintCells", "PasteCells", "PlaceCells", "RemoveCorner",
    "RemoveKeepOut", "ResetSegment", "ReverseChain", "SetHousing", "SplitGroup", "SwapCells", "SwapGroups", "TurnCells",
    "UnlockCells",
]  # fmt: skip
