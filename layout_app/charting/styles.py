"""Styles: what a chart is drawn with. The window makes one from its palette; PAPER is for files and the report."""

from __future__ import annotations

from dataclasses import dataclass

# The program's tints, told apart with every colour vision (window/colours.py); areas wear them with an edge in ink
FILLS = ("#63b4e1", "#e3af5d", "#5f6fb9", "#eef098", "#b45566", "#a2dee3")
HATCH = "////"  # of everything at peak current


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Colours and sizes of a chart; nothing is told by colour alone, so two lines of different kind may share one.

    Attributes
    ----------
    ground, ink, faint, error : of the page, of words and axes, of the grid, of what is over a limit
    fills : of areas
    lines : two or more of marks and lines, with a contrast of at least 3 on the ground (WCAG 2.1, 1.4.11; from memory)
    font_pt : of all words
    most_marks : with more cells than that, groups are drawn as ranges, which keeps files small
    """

    ground: str
    ink: str
    faint: str
    error: str
    fills: tuple[str, ...] = FILLS
    lines: tuple[str, ...]
    font_pt: float
    most_marks: int

    @property
    def em_in(self) -> float:
        """The height of the font in inches: what margins are measured in."""
        return self.font_pt / 72


PAPER = Style(
    ground="#ffffff", ink="#20242a", faint="#d5d8dc", error="#a02020", lines=("#5f6fb9", "#b45566"), font_pt=7.5,
    most_marks=600,
)  # fmt: skip
