"""Terminal fields: bolt, tab and the tab's place of one terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QCoreApplication

from layout_app.edits import ChangeTerminal
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.plates import BOLT_HOLE_MM
from layout_app.window.document import Document
from layout_app.window.panels.fields import Field

translate = QCoreApplication.translate


class TerminalFields:
    """Makes the fields of the negative or the positive terminal.

    Parameters
    ----------
    number, choice : make a field that shows what a function reads from a layout and asks for the edit another makes
    """

    def __init__(
        self, document: Document, is_positive: bool, number: Callable[..., Field], choice: Callable[..., Field]
    ) -> None:
        self._document, self._is_positive = document, is_positive
        self._number, self._choice = number, choice
        self._sign = "+ " if is_positive else "− "
        self.places = [self._place(axis) for axis in (0, 1)]
        self.all = [*self._choices(), self._feeds(), *self._sizes(), *self.places]

    def _choices(self) -> list[Field]:
        holes = [
            (bolt, translate("settings", "{bolt}, hole {hole:g} mm").format(bolt=bolt, hole=hole))
            for bolt, hole in BOLT_HOLE_MM.items()
        ]
        places = (("outside", translate("settings", "Outside")), ("inside", translate("settings", "Inside")))
        bolt, tab = translate("settings", "Bolt"), translate("settings", "Tab")
        tips = (
            translate("settings", "ISO 273 medium clearance hole"),
            translate("settings", "Beyond the housing, or inside on the face"),
        )
        return [
            self._choice(bolt, holes, self._read("bolt"), self._edit("bolt"), self._sign + bolt, tips[0]),
            self._choice(tab, places, self._read("place"), self._edit("place"), self._sign + tab, tips[1]),
        ]

    def _feeds(self) -> Field:
        """One tab, or two at the quarter points of the terminal's edge; more come by dragging and by the file."""
        label, ways = translate("settings", "Tabs"), (
            (1, translate("settings", "One")),
            (2, translate("settings", "Two, at quarter points")),
        )  # fmt: skip
        tip = translate("settings", "Two tabs joined outside spread the current better than one; drag each by its hole")

        def read(layout: Layout) -> int:
            return len(layout.terminals[self._is_positive].places_mm)

        def make(n_tabs: int) -> ChangeTerminal:
            changes = {"more_near_mm": ()} if n_tabs == 1 else self._quarter_points()
            return ChangeTerminal(is_positive=self._is_positive, changes=changes)

        return self._choice(label, ways, read, make, self._sign + label, tip)

    def _quarter_points(self) -> dict[str, Any]:
        from layout_app.advising.edges import quarter_points, terminal_edge

        plates = self._document.plates
        edge = None if plates is None else terminal_edge(plates, self._is_positive)
        if edge is None:
            raise LayoutError(
                translate("settings", "Its segment has no edge long enough for two tabs. Make them narrower.")
            )
        return quarter_points(edge).changes

    def _sizes(self) -> list[Field]:
        sizes = (("width_mm", translate("settings", "Tab width")), ("length_mm", translate("settings", "Tab length")))
        return [
            self._number(label, "mm", self._read(name), self._edit(name), self._sign + label, step=1.0)
            for name, label in sizes
        ]

    def _edit(self, field: str) -> Callable[[Any], ChangeTerminal]:
        return lambda value: ChangeTerminal(is_positive=self._is_positive, changes={field: value})

    def _read(self, field: str) -> Callable[[Layout], Any]:
        return lambda layout: getattr(layout.terminals[self._is_positive], field)

    def _place(self, axis: int) -> Field:
        """One coordinate of the bolt hole; with none, the program chooses the tab's place."""
        label = translate("settings", "Tab at {axis}").format(axis="xy"[axis])

        def read(layout: Layout) -> float | None:
            near_mm = layout.terminals[self._is_positive].near_mm
            return None if near_mm is None else (self._hole_mm() or near_mm)[axis]

        def make(value: float | None) -> ChangeTerminal:
            near_mm = self._hole_mm() or self._document.current.terminals[self._is_positive].near_mm or (0.0, 0.0)
            fresh = None if value is None else (value, near_mm[1]) if axis == 0 else (near_mm[0], value)
            return ChangeTerminal(is_positive=self._is_positive, changes={"near_mm": fresh})

        tip = translate(
            "settings",
            "Where the bolt hole is; with another number the tab moves along the edge to the place nearest to it. "
            "Or drag the hole",
        )
        chosen = translate("settings", "chosen")
        return self._number(label, "mm", read, make, self._sign + label, step=1.0, none_text=chosen, tip=tip)

    def _hole_mm(self) -> tuple[float, float] | None:
        """Where the bolt hole really is; None while the metal is worked out."""
        segments = self._document.segments
        if not segments or not self._document.is_settled:
            return None
        hole = segments[-1 if self._is_positive else 0].bolt_hole_mm
        return None if hole is None else hole[:2]
