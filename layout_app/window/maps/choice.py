"""Choice: which map is looked at, by which model, at which current, in which range; the window's, not the layout's."""

from __future__ import annotations

from dataclasses import dataclass

from layout_app.window.maps.kinds import KINDS, Kind, MapName, ModelName


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is chosen in the panel.

    Attributes
    ----------
    current_a : the module's current to look at; None for the design current
    low, high : the range; None where it follows the values
    shows_lines : stream lines over the metal
    shows_ways : the ways of the worst-placed cells
    shows_necks : the narrowest lines across segments that carry most
    """

    map: MapName = "none"
    model: ModelName = "network"
    current_a: float | None = None
    low: float | None = None
    high: float | None = None
    shows_lines: bool = False
    shows_ways: bool = False
    shows_necks: bool = False

    @property
    def kind(self) -> Kind | None:
        """The kind of map, or None for none."""
        return KINDS.get(self.map)

    @property
    def wants_sheet(self) -> bool:
        """Whether something is chosen that only the sheet model can tell."""
        is_of_sheet = self.kind is not None and not self.kind.is_of_cells
        return is_of_sheet or self.model == "sheet" or self.shows_lines or self.shows_ways
