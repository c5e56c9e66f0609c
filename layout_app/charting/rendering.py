"""Rendering: a chart as pixels for the window, and as SVG or PNG for files and the report."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from layout_app.charting.charts import Chart, Spots
from layout_app.charting.styles import PAPER, Style
from layout_app.geometry.arrays import FloatArray, IntArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIZE_IN = (7.0, 4.2)  # of files: the width of the text on A4
FILE_DPI = 200.0
SVG_DATA: dict[str, str | None] = {"Date": None, "Creator": None, "Format": None, "Type": None}
ID_SALT = "busweave"  # the same chart gives the same bytes
_drawing = Lock()  # the plotting library keeps settings and fonts of all threads in one place


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picture:
    """A chart as pixels.

    Attributes
    ----------
    width_px, height_px, rgba : rows from the top, four bytes a pixel
    spots_px : (n, 2) float array, where the spots are, from the upper left corner
    words, cells, segments : of each spot; see `Spots`
    """

    width_px: int
    height_px: int
    rgba: bytes
    spots_px: FloatArray
    words: tuple[str, ...]
    cells: IntArray
    segments: IntArray


def picture(chart: Chart, style: Style, width_px: int, height_px: int, dpi: float) -> Picture:
    """Return a chart drawn to fit so many pixels."""
    with _figure(style, (width_px / dpi, height_px / dpi), dpi) as figure:
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        canvas = FigureCanvasAgg(figure)
        spots = chart.draw(figure, style)
        canvas.draw()
        wide, high = canvas.get_width_height()
        places = [_from_top(each, high) for each in spots]
        return Picture(
            width_px=wide,
            height_px=high,
            rgba=canvas.buffer_rgba().tobytes(),
            spots_px=np.vstack([*places, np.empty((0, 2))]),
            words=tuple(words for each in spots for words in each.words),
            cells=np.concatenate([*(each.cells for each in spots), np.empty(0, np.int64)]),
            segments=np.concatenate([*(each.segments for each in spots), np.empty(0, np.int64)]),
        )


def svg(chart: Chart, style: Style = PAPER, size_in: tuple[float, float] = SIZE_IN) -> str:
    """Return a chart as SVG to stand in a page: words stay words, no header, its ids its own."""
    return _for_a_page(_file(chart, style, size_in, "svg", SVG_DATA, "").decode(), chart.title)


def svg_file(chart: Chart, heading: str = "", style: Style = PAPER) -> bytes:
    """Return a chart as an SVG file with a heading."""
    return _file(chart, style, SIZE_IN, "svg", SVG_DATA | {"Title": heading or chart.title}, heading)


def png_file(chart: Chart, heading: str = "", style: Style = PAPER) -> bytes:
    """Return a chart as a PNG file with a heading."""
    return _file(chart, style, SIZE_IN, "png", {"Software": None, "Title": heading or chart.title}, heading)


def _file(
    chart: Chart, style: Style, size_in: tuple[float, float], kind: str, data: dict[str, str | None], heading: str
) -> bytes:
    with _figure(style, size_in, FILE_DPI if kind == "png" else 72.0) as figure:
        chart.draw(figure, style)
        stream, size = io.BytesIO(), None
        if heading:
            figure.text(0.01, 1.01, heading, fontweight="bold", va="bottom", color=style.ink)
            size = "tight"  # as large as what is drawn, the heading above the rest included
        figure.savefig(stream, format=kind, metadata=data, bbox_inches=size)
    return stream.getvalue()


@contextmanager
def _figure(style: Style, size_in: tuple[float, float], dpi: float) -> Iterator[Figure]:
    """Hand out an empty figure, with settings that no file of the user's can change."""
    with _drawing:
        import matplotlib as mpl
        from matplotlib.figure import Figure

        ours = {
            "font.family": ["DejaVu Sans"], "font.size": style.font_pt, "text.parse_math": False,
            "svg.fonttype": "none", "svg.hashsalt": ID_SALT, "axes.unicode_minus": True, "text.color": style.ink,
            "legend.fontsize": "medium", "axes.labelsize": "medium", "xtick.labelsize": "medium",
            "ytick.labelsize": "medium", "hatch.linewidth": 0.6, "path.simplify": True, "savefig.facecolor": "auto",
        }  # fmt: skip
        with mpl.rc_context(), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph")  # a name in letters the font lacks is shown as boxes
            mpl.rcdefaults()
            mpl.rcParams.update(ours)
            yield Figure(figsize=size_in, dpi=dpi, facecolor=style.ground)


def _from_top(spots: Spots, height_px: int) -> FloatArray:
    at = np.asarray(spots.axes.transData.transform(spots.at.reshape(-1, 2)), dtype=np.float64)
    return np.column_stack([at[:, 0], height_px - at[:, 1]])


def _for_a_page(text: str, title: str) -> str:
    """Return the drawing without header, and so that it does not meddle with the rest of the page.

    Its style would be that of everything on the page; ids nothing refers to would stand there once a chart.
    """
    start = text.index("<svg")
    body = re.sub(r"<metadata>.*?</metadata>\s*|<style[^>]*>.*?</style>\s*|<!--.*?-->\s*", "", text[start:], flags=re.S)
    used = {name for pair in re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", body) for name in pair if name}
    own = re.sub(r"\W+", "_", title.lower())
    body = re.sub(r'\s+id="([^"]+)"', lambda at: f' id="{own}-{at[1]}"' if at[1] in used else "", body)
    body = re.sub(r'(url\(#|href="#)', rf"\g<1>{own}-", body)
    body = re.sub(r"<[^>]+>", lambda tag: re.sub(r"(\.\d\d)\d+", r"\1", tag[0]), body)  # points: finer than print
    body = re.sub(r"<defs>\s*</defs>\s*", "", body)
    named = f'<svg role="img" aria-label="{title}" stroke-linejoin="round" stroke-linecap="butt"'
    return re.sub(r"\n\s*", "\n", body.replace("<svg", named, 1))
