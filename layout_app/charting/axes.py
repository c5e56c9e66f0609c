"""Axes: where the panels and the key of a chart stand, and how its axes look. Loads the plotting library."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.legend import Legend
from matplotlib.lines import Line2D

from layout_app.charting.keys import LINE_EM, are_beside, key_size_em, n_key_columns
from layout_app.charting.styles import Style

LEFT_EM, RIGHT_EM, BOTTOM_EM, TOP_EM = 6.4, 1.6, 3.6, 1.4  # around a panel, for ticks and words
BLANK = Line2D([], [], linestyle="none")  # stands before words in the key that explain no mark


@dataclass(frozen=True, slots=True)
class Room:
    """A rectangle in inches from the figure's lower left corner."""

    x: float
    y: float
    width: float
    height: float


def put_key(figure: Figure, style: Style, handles: Sequence[Artist], words: Sequence[str]) -> Room:
    """Put the key under everything, in as many columns as fit; return the room that is left above it."""
    width, height = figure.get_size_inches()
    columns = n_key_columns(words, width / style.em_in - 2)
    used = key_size_em(words, columns)[1] * style.em_in
    _key(figure, style, handles, words, columns, "lower left", (0.6 * style.em_in / width, 0.0))
    return Room(0.0, used, width, height - used)


def put_key_beside(figure: Figure, style: Style, handles: Sequence[Artist], words: Sequence[str], columns: int) -> Room:
    """Put the key at the right in so many columns; return the room that is left."""
    width, height = figure.get_size_inches()
    used = key_size_em(words, columns)[0] * style.em_in
    _key(figure, style, handles, words, columns, "upper left", (1 - used / width, 1 - 0.6 * style.em_in / height))
    return Room(0.0, 0.0, width - used, height)


def _key(
    figure: Figure, style: Style, handles: Sequence[Artist], words: Sequence[str], columns: int, corner: str,
    at: tuple[float, float],
) -> Legend:  # fmt: skip
    legend = figure.legend(
        list(handles), list(words), loc=corner, bbox_to_anchor=at, ncols=columns, frameon=False, borderpad=0.2,
        borderaxespad=0.0, labelspacing=LINE_EM - 1.2, handlelength=2.0, handletextpad=0.6, columnspacing=1.4,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_color(style.ink)
    return legend


def two_panels(figure: Figure, style: Style, room: Room, shares: tuple[float, float]) -> tuple[Axes, Axes]:
    """Return two panels: side by side or above each other as the room is; `shares` of width or height."""
    first = shares[0] / sum(shares)
    if are_beside(room.width / style.em_in, room.height / style.em_in):
        return (
            panel(figure, style, Room(room.x, room.y, first * room.width, room.height)),
            panel(figure, style, Room(room.x + first * room.width, room.y, (1 - first) * room.width, room.height)),
        )
    return (
        panel(figure, style, Room(room.x, room.y + (1 - first) * room.height, room.width, first * room.height)),
        panel(figure, style, Room(room.x, room.y, room.width, (1 - first) * room.height)),
    )


def panel(figure: Figure, style: Style, room: Room, left_em: float = LEFT_EM, right_em: float = RIGHT_EM) -> Axes:
    """Return axes that fill a room but for what their words need."""
    width, height = figure.get_size_inches()
    em = style.em_in
    across, up = room.width - (left_em + right_em) * em, room.height - (BOTTOM_EM + TOP_EM) * em
    rectangle = (
        (room.x + left_em * em) / width, (room.y + BOTTOM_EM * em) / height, max(across, em) / width,
        max(up, em) / height,
    )  # fmt: skip
    axes = figure.add_axes(rectangle, facecolor=style.ground)
    dress(axes, style)
    return axes


def dress(axes: Axes, style: Style) -> None:
    """Give axes the colours of a style."""
    for name, spine in axes.spines.items():
        spine.set_color(style.ink)
        spine.set_linewidth(0.6)
        spine.set_visible(name in ("left", "bottom"))
    axes.tick_params(colors=style.ink, width=0.6, length=0.35 * style.font_pt, which="major")
    axes.tick_params(colors=style.ink, width=0.4, length=0.2 * style.font_pt, which="minor")
    axes.grid(visible=True, axis="y", color=style.faint, linewidth=0.5)
    axes.set_axisbelow(True)


def name_axes(axes: Axes, style: Style, x_words: str, y_words: str) -> None:
    """Say under and beside axes what they measure."""
    axes.set_xlabel(x_words, color=style.ink, labelpad=0.3 * style.font_pt)
    axes.set_ylabel(y_words, color=style.ink, labelpad=0.4 * style.font_pt)
