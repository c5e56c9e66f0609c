"""What the user chooses about the metal: sheet, gaps, windows and terminal tabs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from layout_app.model.materials import Material
from layout_app.model.validation import require_choice, require_count, require_number, require_place

BorderStyle = Literal["zigzag", "straight"]
Face = Literal["top", "bottom"]
Bolt = Literal["M3", "M4", "M5", "M6", "M8", "M10", "M12"]
TabPlace = Literal["outside", "inside"]

# Clearance holes of the medium series, mm. Source: ISO 273, read second hand
BOLT_HOLE_MM: dict[Bolt, float] = {"M3": 3.4, "M4": 4.5, "M5": 5.5, "M6": 6.6, "M8": 9.0, "M10": 11.0, "M12": 13.5}
LEAST_WINDOW_MM = 0.1  # no tool makes a smaller hole, and one of 1e-30 mm is no circle any more
MAX_TABS = 8  # of a terminal: more would be one wide tab


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateSettings:
    """How every segment is made. A window diameter of None means: worked out from the cell (see plates.windows)."""

    material: Material
    thickness_mm: float = 0.5
    gap_mm: float = 1.5  # insulation gap between segments of a face
    setback_mm: float = 2.0  # metal to the housing's wall and keep-outs
    corner_radius_mm: float = 1.0  # least radius of any corner of the outline
    min_web_mm: float = 1.0  # least metal between windows and from a window to the edge
    shoulder_clearance_mm: float = 0.5  # window edge to the can's shoulder ring, in plan
    positive_window_mm: float | None = None
    negative_window_mm: float | None = None
    borders: BorderStyle = "zigzag"

    def __post_init__(self) -> None:
        require_number("sheet thickness", self.thickness_mm, above=0, most=20, unit="mm")
        require_number("insulation gap", self.gap_mm, above=0, most=50, unit="mm")
        require_number("setback", self.setback_mm, least=0, most=200, unit="mm")
        require_number("corner radius", self.corner_radius_mm, least=0, most=50, unit="mm")
        require_number("least web", self.min_web_mm, least=0, most=50, unit="mm")
        require_number("shoulder clearance", self.shoulder_clearance_mm, least=0, most=20, unit="mm")
        for field, value in (
            ("positive window", self.positive_window_mm),
            ("negative window", self.negative_window_mm),
        ):
            if value is not None:
                require_number(field, value, least=LEAST_WINDOW_MM, most=200, unit="mm")
        require_choice("borders", self.borders, get_args(BorderStyle))


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminal:
    """The tab where a cable or the next module is bolted on.

    The tab sits on the edge of its segment nearest to `near_mm`; None lets the program choose the middle of the
    segment's longest stretch of wall. Outside, it reaches `length_mm` beyond the housing's outline; inside, it lies on
    the face, `length_mm` long from the edge inward. `more_near_mm` gives the terminal further tabs of the same make,
    joined outside the module: the current enters at all of them.
    """

    near_mm: tuple[float, float] | None = None
    width_mm: float = 20.0
    length_mm: float = 18.0
    bolt: Bolt = "M5"
    place: TabPlace = "outside"
    more_near_mm: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        require_choice("bolt", self.bolt, get_args(Bolt))
        require_choice("tab place", self.place, get_args(TabPlace))
        require_number("tab width", self.width_mm, above=BOLT_HOLE_MM[self.bolt], most=500, unit="mm")
        require_number("tab length", self.length_mm, above=BOLT_HOLE_MM[self.bolt], most=500, unit="mm")
        if self.near_mm is not None:
            require_place("tab position", self.near_mm)
        require_count("number of further tabs", len(self.more_near_mm), most=MAX_TABS - 1)
        for near_mm in self.more_near_mm:
            require_place("position of a further tab", near_mm)

    @property
    def places_mm(self) -> tuple[tuple[float, float] | None, ...]:
        """Where each tab is to be; None for one the program places."""
        return (self.near_mm, *self.more_near_mm)
