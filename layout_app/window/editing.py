"""Editing: what the editing actions of a window do, always to the chosen cells; says why where one cannot be done."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QMimeData
from PySide6.QtWidgets import QApplication

from layout_app.edits import (
    AlignCells,
    BalanceGroups,
    Clip,
    DivideAnew,
    Edit,
    EraseCells,
    LockCells,
    MergeGroups,
    MirrorCells,
    MoveGroup,
    OpenRows,
    OwnKeepOut,
    PaintCells,
    ReverseChain,
    SplitGroup,
    SwapGroups,
    TurnCells,
    UnlockCells,
    choosing,
)
from layout_app.edits.groups import groups_of
from layout_app.window.edit_actions import EDIT_ENTRIES
from layout_app.window.snapping import Snapping
from layout_app.window.tools import FillTool, MeasureTool, PasteTool, SwapTool, WallsTool
from layout_app.window.words import cells_text

if TYPE_CHECKING:
    from layout_app.window.workbench import Workbench

CLIP_KIND = "application/x-busweave-cells"
NO_CELLS = QT_TRANSLATE_NOOP(
    "editing", "No cell is chosen. Click one, or drag a box around some with the tool Choose (C)."
)
NO_GROUP = QT_TRANSLATE_NOOP("editing", "No group is chosen. Choose a cell of it, or click it in the list of groups.")
translate = QCoreApplication.translate
TURNS_RAD = {"hexagonal": math.pi / 3, "square": math.pi / 2, "compressed": math.pi}


class Editing:
    """Connects the editing actions of a workbench."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench
        self.canvas, self.document = bench.canvas, bench.document
        self.tools = {"fill": FillTool(), "swap": SwapTool(), "measure": MeasureTool(), "walls": WallsTool()}
        self.row_gap_mm = 3.0
        self.canvas.explained.connect(bench.tool_line.explain)
        self.document.spared.connect(bench.tool_line.tell)
        todo = self._todo()
        for name in EDIT_ENTRIES:
            if name in todo:
                bench.actions[name].triggered.connect(lambda _=False, do=todo[name]: do())
        bench.actions["inches"].toggled.connect(lambda on: self.canvas.set_unit("inch" if on else "mm"))
        bench.actions["walls"].triggered.connect(lambda: bench.docks["facts"].raise_())
        bench.actions["loop"].toggled.connect(self._set_loop)

    def _todo(self) -> dict[str, Callable[[], None]]:
        widen = choosing.WIDENINGS
        todo: dict[str, Callable[[], None]] = {
            "choose_all": lambda: self.canvas.choose(choosing.all_cells(self.document.layout)),
            "choose_none": self.canvas.choose, "choose_invert": lambda: self._widen(widen["invert"], needs_some=False),
            "cut": self._cut, "copy": self._copy, "paste": self._paste, "delete": self._delete,
            "turn_left": lambda: self._turn(1), "turn_right": lambda: self._turn(-1),
            "mirror_across": lambda: self._to_cells(lambda cells: MirrorCells(cells, "left to right")),
            "mirror_down": lambda: self._to_cells(lambda cells: MirrorCells(cells, "top to bottom")),
            "align": lambda: self._to_cells(AlignCells),
            "into_group": lambda: self._to_cells(lambda cells: PaintCells(cells, self._bench.group)),
            "lock": lambda: self._lock(LockCells), "unlock": lambda: self._lock(UnlockCells),
            "open_rows": lambda: self._to_cells(lambda cells: OpenRows(cells, self.row_gap_mm)),
            "add_corner": self.add_corner, "balance": lambda: self.do(BalanceGroups(self._groups())),
            "divide": lambda: self._to_groups(DivideAnew), "merge": lambda: self._to_groups(MergeGroups),
            "split": lambda: self._to_one_group(SplitGroup),
            "swap_groups": self._swap_groups, "reverse": lambda: self.do(ReverseChain()),
            "earlier": lambda: self._shift_group(-1), "later": lambda: self._shift_group(1),
        }  # fmt: skip
        for name in ("group", "row", "polarity", "lock", "grow", "shrink"):
            todo[f"choose_{name}"] = lambda widening=widen[name]: self._widen(widening)
        return todo

    def do(self, edit: Edit) -> bool:
        """Do an edit, saying in the tool line why it cannot be; return whether something changed."""
        self.canvas.cancel_gesture()
        before = self.document.current
        self.document.request(edit, self.explain)
        return self.document.current is not before

    def explain(self, message: str) -> None:
        """Say why something was not done."""
        self._bench.tool_line.explain(message)

    def choose_groups(self, groups: tuple[int, ...]) -> None:
        """Choose all cells of some groups."""
        layout = self.document.layout
        self.canvas.choose(frozenset(cell for group in groups for cell in layout.cells.of_group(group).tolist()))

    def set_shape(self, shape: str) -> None:
        """Let a drag of the tool for the housing change loops, or draw keep-outs."""
        self.tools["walls"].shape = shape
        self._bench.tool_line.show_shape(shape)
        self.canvas.set_tool(self.canvas.tool)
        self.canvas.setFocus()

    def edit_keep_outs(self, segment: int) -> None:
        """Take up the tool for the housing on what a segment keeps off alone, its face turned to the viewer."""
        layout, walls = self.document.current, self.tools["walls"]
        if layout.face_of(segment) not in self.canvas.scene.faces:
            self._bench.actions[layout.face_of(segment)].trigger()
        override = layout.override_of(segment)
        has_some = override is not None and bool(override.keep_outs)
        shape = "edit" if has_some else "own rectangle"
        self._bench.actions["walls"].trigger()
        self._bench.tool_line.show_shape(shape)
        self.set_shape(shape)
        walls.choose(self.canvas, OwnKeepOut(segment, 0) if has_some else None)
        if not has_some:
            words = translate("editing", "Drag over segment {number}, from corner to corner, what it shall keep off.")
            self._bench.tool_line.tell(words.format(number=segment))

    def add_corner(self) -> None:
        """Put a corner amid the edge after the chosen corner, or amid the longest edge of the chosen loop."""
        walls = self.tools["walls"]
        loop = walls.contour(self.canvas) if self._bench.tool_name == "walls" else None
        if loop is None:
            self.explain(
                translate("editing", "No loop is chosen. Take the tool Housing and keep-outs (W), click an edge.")
            )
            return
        is_at_corner = walls.corner is not None and walls.corner < len(loop.bulges)
        walls.add_corner(self.canvas, walls.corner if is_at_corner else int(loop.lengths_mm.argmax()))

    def set_snapping(self, snapping: Snapping) -> None:
        """Let other things draw what is dragged."""
        self.canvas.snapping = snapping

    # -- cells --------------------------------------------------------------------------------------------------

    def _cells(self) -> tuple[int, ...]:
        return tuple(sorted(self.canvas.chosen_cells))

    def _to_cells(self, make: Callable[[tuple[int, ...]], Edit]) -> None:
        if self._cells():
            self.do(make(self._cells()))
        else:
            self.explain(translate("editing", NO_CELLS))

    def _widen(self, widening: Callable[[object, frozenset[int]], frozenset[int]], needs_some: bool = True) -> None:
        if needs_some and not self.canvas.chosen_cells:
            self.explain(translate("editing", NO_CELLS))
        else:
            self.canvas.choose(widening(self.document.layout, self.canvas.chosen_cells))

    def _turn(self, sign: int) -> None:
        angle = sign * TURNS_RAD[self.document.layout.lattice.kind]
        self._to_cells(lambda cells: TurnCells(cells, angle))

    def _set_loop(self, is_loop: bool) -> None:
        self._bench.tools["choose"].draws_loop = is_loop

    def _lock(self, kind: type[LockCells] | type[UnlockCells]) -> None:
        if not self._cells():
            self.explain(translate("editing", NO_CELLS))
        elif not self.do(kind(self._cells())):
            alike = translate("editing", "locked") if kind is LockCells else translate("editing", "not locked")
            self.explain(translate("editing", "What is chosen is {alike} already.").format(alike=alike))

    def _delete(self) -> None:
        if self._bench.tool_name == "walls":
            self.tools["walls"].delete(self.canvas)
        elif self._cells():
            self.do(EraseCells(self._cells()))  # what is locked stays, and stays chosen
        else:
            self.explain(translate("editing", NO_CELLS))

    # -- clipboard ----------------------------------------------------------------------------------------------

    def _copy(self) -> bool:
        if not self._cells():
            self.explain(translate("editing", NO_CELLS))
            return False
        clip, data = Clip.of(self.document.current, self._cells()), QMimeData()
        text = json.dumps({"offsets_mm": clip.offsets_mm, "groups": clip.groups})
        data.setData(CLIP_KIND, text.encode())
        QApplication.clipboard().setMimeData(data)
        self._bench.tool_line.tell(
            translate("editing", "Copied {cells}. Ctrl+V hangs them under the pointer.").format(
                cells=cells_text(len(clip.groups))
            )
        )
        return True

    def _cut(self) -> None:
        if self._copy():
            self._delete()

    def _paste(self) -> None:
        clip = _clip_of(QApplication.clipboard().mimeData())
        if clip is None:
            self.explain(translate("editing", "Nothing was copied. Choose cells and copy them (Ctrl+C) first."))
            return
        self._bench.actions["choose"].trigger()
        self.canvas.set_tool(PasteTool(clip, self._end_paste))
        self._bench.tool_line.tell(
            translate("editing", "Click to put the cells down; Alt keeps them off the sites. Esc drops them.")
        )

    def _end_paste(self) -> None:
        self._bench.tool_line.rest()
        self._bench.actions["choose"].trigger()

    # -- groups -------------------------------------------------------------------------------------------------

    def _groups(self) -> tuple[int, ...]:
        return groups_of(self.document.current, self.canvas.chosen_cells)

    def _to_groups(self, make: Callable[[tuple[int, ...]], Edit]) -> None:
        if self._groups():
            self.do(make(self._groups()))
        else:
            self.explain(translate("editing", NO_GROUP))

    def _to_one_group(self, make: Callable[[int], Edit]) -> None:
        groups = self._groups()
        if len(groups) == 1:
            self.do(make(groups[0]))
        else:
            self.explain(
                translate("editing", "This is done to one group; {number} are chosen.").format(number=len(groups))
                if groups
                else translate("editing", NO_GROUP)
            )

    def _swap_groups(self) -> None:
        groups = self._groups()
        if len(groups) == 2:
            self.do(SwapGroups(*groups))
        else:
            self.explain(
                translate("editing", "Swapping takes cells of exactly two groups; {number} are chosen.").format(
                    number=len(groups)
                )
            )

    def _shift_group(self, step: int) -> None:
        groups, last = self._groups(), self.document.current.n_series
        if len(groups) == 1 and not 1 <= groups[0] + step <= last:
            self.explain(
                translate("editing", "Group {group} is the first of the chain already.").format(group=groups[0])
                if step < 0
                else translate("editing", "Group {group} is the last of the chain already.").format(group=groups[0])
            )
            return
        self._to_one_group(lambda group: MoveGroup(group, group + step))


def _clip_of(data: QMimeData | None) -> Clip | None:
    """Return the cells on the clipboard; None when there are none, or when they make no sense."""
    if data is None or not data.hasFormat(CLIP_KIND):
        return None
    try:
        fields = json.loads(bytes(data.data(CLIP_KIND).data()))
        offsets = tuple((float(x), float(y)) for x, y in fields["offsets_mm"])
        groups = tuple(int(group) for group in fields["groups"])
    except (ValueError, KeyError, TypeError):
        return None
    is_sound = len(offsets) == len(groups) and all(map(math.isfinite, sum(offsets, ()))) and min(groups, default=0) >= 0
    return Clip(offsets, groups) if is_sound and groups else None
