"""Rendering: a chart as pixels for the window, and as SVG or PNG for files and the report."""

from __future__ import annotations

import io
import re
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
    with _figure(style, size_in, 72.0) as figure:
        chart.draw(figure, style)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return _for_a_page(stream.getvalue(), chart.title)


def svg_file(chart: Chart, style: Style = PAPER) -> bytes:
    """Return a chart as an SVG file."""
    return b'<?xml version="1.0" encoding="utf-8"?>\n' + svg(chart, style).encode()


def png_file(chart: Chart, style: Style = PAPER) -> bytes:
    """Return a chart as a PNG file."""
    with _figure(style, SIZE_IN, FILE_DPI) as figure:
        chart.draw(figure, style)
        stream = io.BytesIO()
        figure.savefig(stream, format="png", metadata={"Software": None, "Title": chart.title})
    return stream.getvalue()


@contextmanager
def _figure(style: Style, size_in: tuple[float, float], dpi: float) -> Iterator[Figure]:
    """Hand out an empty figure, with settings that no file of the user's can change."""
    with _drawing:
        import matplotlib as mpl
        from matplotlib.figure import Figure

        ours = {
            "font.family": ["DejaVu Sans"], "font.size": style.font_pt, "svg.fonttype": "none",
            "svg.hashsalt": ID_SALT, "axes.unicode_minus": True, "text.color": style.ink, "legend.fontsize": "medium",
            "axes.labelsize": "medium", "xtick.labelsize": "medium", "ytick.labelsize": "medium",
            "hatch.linewidth": 0.6, "path.simplify": True, "savefig.facecolor": "auto",
        }  # fmt: skip
        with mpl.rc_context():
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
    used = set(re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", body))
    known = {name for pair in used for name in pair if name}
    body = re.sub(r'\s+id="([^"]+)"', lambda found: found[0] if found[1] in known else "", body)
    body = re.sub(r"<[^>]+>", lambda tag: re.sub(r"(\.\d\d)\d+", r"\1", tag[0]), body)  # points: finer than print
    body = re.sub(r"<defs>\s*</defs>\s*", "", body)
    named = f'<svg role="img" aria-label="{title}" stroke-linejoin="round" stroke-linecap="butt"'
    return re.sub(r"\n\s*", "\n", body.replace("<svg", named, 1))
