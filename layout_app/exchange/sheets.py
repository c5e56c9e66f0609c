"""Sheets: a drawing of each face to scale, as an SVG any browser shows and prints, with a title block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from layout_app.exchange.face_views import FaceView
from layout_app.exchange.sheet_words import sheet_words
from layout_app.exchange.stamps import BLANK, Stamp
from layout_app.exchange.wording import CAUTION, one_line
from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.geometry.regions import Region
from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment

SHEET_MM = (420.0, 297.0)  # ISO 216 A3, lying
MARGIN_MM = 10.0
BLOCK_MM = 30.0  # height of the title block along the lower edge
# Recommended reductions (ISO 5455, from memory), full size first
SCALES = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
SCALE_BARS_MM = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000)
METALS = ("#d9a066", "#e3bd8f")  # neighbours on a face in turn, so that their gap shows
LEAST_TEXT_MM = 0.45  # on paper: smaller numbers print as dirt and are left to the DXF

STYLE = """
.housing { fill: #fbfbf9; stroke: #30343a; stroke-width: .35 }
.keep-out { fill: #d5d8dc; stroke: #30343a; stroke-width: .25 }
.metal { stroke: #6b4420; stroke-width: .18; fill-rule: evenodd }
.cell { fill: none; stroke: #8b939c; stroke-width: .1; stroke-dasharray: .8 .5 }
.sign { stroke: #30343a; stroke-width: .16; fill: none }
text { font-family: 'DejaVu Sans', Arial, sans-serif; fill: #20242a }
.group { fill: #2c6a4f } .segment { fill: #17406d; font-weight: bold } .number { text-anchor: middle }
.rule { fill: none; stroke: #30343a; stroke-width: .25 } .small { font-size: 2.6px } .large { font-size: 5px }
.caution { font-size: 2.6px; fill: #a02020 } .name { font-size: 2px; fill: #5c636b }
"""


def sheets(layout: Layout, segments: Sequence[Segment], stamp: Stamp = BLANK) -> Iterator[tuple[str, bytes]]:
    """Yield (path, content) of the sheets: both faces, and the bottom seen from below as it lies on the bench."""
    views = [FaceView.of(layout, segments, face) for face in ("top", "bottom")]
    views.append(FaceView.of(layout, segments, "bottom", from_below=True))
    for view in views:
        suffix = "_seen_from_below" if view.from_below else ""
        yield f"{view.face}_face{suffix}.svg", sheet(view, stamp).encode()


def sheet(view: FaceView, stamp: Stamp = BLANK) -> str:
    """Return a sheet with frame, drawing, scale bar, title block and caution."""
    width_mm, height_mm = SHEET_MM
    free_mm = height_mm - BLOCK_MM - 4.5 * MARGIN_MM  # between the frame and the scale bar
    paper = Paper.fitting(view, width_mm - 4 * MARGIN_MM, free_mm)
    paper = paper.shifted((width_mm - paper.width_mm) / 2, 2 * MARGIN_MM + (free_mm - paper.height_mm) / 2)
    frame = (
        f'<rect class="rule" x="{MARGIN_MM}" y="{MARGIN_MM}" width="{width_mm - 2 * MARGIN_MM}" '
        f'height="{height_mm - 2 * MARGIN_MM}"/>'
    )
    body = [frame, *face_marks(view, paper), *_scale_bar(paper), *_title_block(view, paper, stamp)]
    title = f"{one_line(view.layout.name)}: {view.face} face, {view.seen}"
    return _document(width_mm, height_mm, title, body)


def picture(view: FaceView, width_mm: float = 178.0, most_high_mm: float = 200.0) -> str:
    """Return the face alone, for a page that says the rest; an svg element `width_mm` wide at most."""
    paper = Paper.fitting(view, width_mm, most_high_mm, any_scale=True)
    title = f"{view.face} face, {view.seen}"
    return _document(paper.width_mm, paper.height_mm, title, face_marks(view, paper), standalone=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """How drawing coordinates land on paper: (x, y) becomes ((x - x_left) / scale, (y_top - y) / scale)."""

    scale: float  # 5 means 1:5
    x_left_mm: float
    y_top_mm: float
    width_mm: float  # on paper
    height_mm: float

    @classmethod
    def fitting(cls, view: FaceView, width_mm: float, height_mm: float, *, any_scale: bool = False) -> Paper:
        """Return the largest standard scale at which the view fits a place of the given size on paper."""
        x_min, y_min, x_max, y_max = view.bounds_mm
        needed = max((x_max - x_min) / width_mm, (y_max - y_min) / height_mm)
        scale = needed if any_scale else next((scale for scale in SCALES if scale >= needed), needed)
        size = (x_max - x_min) / scale, (y_max - y_min) / scale
        return cls(scale=scale, x_left_mm=x_min, y_top_mm=y_max, width_mm=size[0], height_mm=size[1])

    def shifted(self, right_mm: float, down_mm: float) -> Paper:
        """Return the same view further right and down on the paper."""
        return Paper(
            scale=self.scale,
            x_left_mm=self.x_left_mm - right_mm * self.scale,
            y_top_mm=self.y_top_mm + down_mm * self.scale,
            width_mm=self.width_mm,
            height_mm=self.height_mm,
        )

    def place(self, points_mm: PointArray) -> PointArray:
        """Return (n, 2) places on paper."""
        return (points_mm - (self.x_left_mm, self.y_top_mm)) * (1, -1) / self.scale


def face_marks(view: FaceView, paper: Paper) -> Iterator[str]:
    """Yield the SVG elements of a face, from the housing up to the numbers."""
    yield f'<path class="housing" d="{path(view.outline, paper)}"/>'
    yield from (f'<path class="keep-out" d="{path(loop, paper)}"/>' for loop in view.keep_outs)
    for k, segment in enumerate(view.segments):
        circles = circles_path(segment.circles_mm, paper)
        outlines = " ".join(_region_path(piece, paper) for piece in segment.pieces)
        yield f'<path class="metal" fill="{METALS[k % 2]}" d="{outlines} {circles}"/>'
    radius = view.layout.cell_type.diameter_mm / 2 / paper.scale
    for x, y in paper.place(view.centres_mm).tolist():
        yield f'<circle class="cell" cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}"/>'
    yield f'<path class="sign" d="{_signs(view, paper)}"/>'
    groups = [str(group or "") for group in view.layout.cells.groups.tolist()]
    yield from _numbers(groups, view.group_labels_mm, paper, "group")
    yield from _numbers([str(segment.number) for segment in view.segments], view.segment_labels_mm, paper, "segment")


def path(contour: Contour, paper: Paper) -> str:
    """Return the SVG path data of a contour, arcs as arcs.

    >>> paper = Paper(scale=1, x_left_mm=0, y_top_mm=10, width_mm=10, height_mm=10)
    >>> path(Contour([(0, 0), (4, 0), (4, 4)], [0, 0.4, 0]), paper)
    'M0.000 10.000L4.000 10.000A2.900 2.900 0 0 0 4.000 6.000Z'
    """
    drawn = _with_long_arcs_halved(contour)
    places = [f"{x:.3f} {y:.3f}" for x, y in paper.place(drawn.vertices_mm).tolist()]
    radii, bulges = (drawn.arc_radii_mm / paper.scale).tolist(), drawn.bulges.tolist()
    edges = [f"M{places[0]}"]
    for radius, bulge, end in zip(radii, bulges, [*places[1:], ""], strict=True):
        if bulge:  # y runs down on paper, so a counter-clockwise arc has sweep 0
            edges.append(f"A{radius:.3f} {radius:.3f} 0 0 {int(bulge < 0)} {end or places[0]}")
        elif end:  # Z draws the last straight edge
            edges.append(f"L{end}")
    return "".join(edges) + "Z"


def circles_path(circles_mm: FloatArray, paper: Paper) -> str:
    """Return the SVG path data of (n, 3) circles x, y, radius.

    >>> paper = Paper(scale=1, x_left_mm=0, y_top_mm=10, width_mm=10, height_mm=10)
    >>> circles_path(np.array([[5.0, 5.0, 2.0]]), paper)
    'M3.000 5.000a2.000 2.000 0 1 0 4.000 0a2.000 2.000 0 1 0 -4.000 0Z'
    """
    centres = paper.place(circles_mm[:, :2])
    radii = (circles_mm[:, 2] / paper.scale).round(3)  # rounded first, so that twice the radius is the chord exactly
    starts = zip((centres[:, 0] - radii).tolist(), centres[:, 1].tolist(), radii.tolist(), strict=True)
    return "".join(
        f"M{x:.3f} {y:.3f}a{r:.3f} {r:.3f} 0 1 0 {2 * r:.3f} 0a{r:.3f} {r:.3f} 0 1 0 {-2 * r:.3f} 0Z"
        for x, y, r in starts
    )


def _with_long_arcs_halved(contour: Contour) -> Contour:
    """Return the contour with arcs of more than about a quarter turn in two.

    SVG gives an arc by its ends and radius; near half a turn the last digit of those would move its middle visibly.
    """
    bulges = contour.bulges
    long = np.abs(bulges) > 0.5
    if not long.any():
        return contour
    across = (contour.ends_mm - contour.vertices_mm) @ np.array([[0.0, -1.0], [1.0, 0.0]])  # to the chord's right
    middles = (contour.vertices_mm + contour.ends_mm + bulges[:, None] * across) / 2
    halves = np.where(long, (np.sqrt(1 + bulges**2) - 1) / np.where(long, bulges, 1), bulges)  # tan of half the angle
    after = np.flatnonzero(long) + 1
    return Contour(np.insert(contour.vertices_mm, after, middles[long], axis=0), np.insert(halves, after, halves[long]))


def _region_path(region: Region, paper: Paper) -> str:
    return " ".join(path(loop, paper) for loop in (region.outline, *region.holes))


def _signs(view: FaceView, paper: Paper) -> str:
    """Return the strokes of all polarity signs as one path."""
    holes = view.holes
    places = paper.place(holes.circles_mm[:, :2]).tolist()
    halves = (0.45 * holes.circles_mm[:, 2] / paper.scale).tolist()
    strokes = []
    for (x, y), half, positive in zip(places, halves, holes.is_positive.tolist(), strict=True):
        strokes.append(f"M{x - half:.3f} {y:.3f}h{2 * half:.3f}")
        if positive:
            strokes.append(f"M{x:.3f} {y - half:.3f}v{2 * half:.3f}")
    return "".join(strokes)


def _numbers(texts: Sequence[str], labels_mm: np.ndarray, paper: Paper, kind: str) -> Iterator[str]:
    """Yield a text element for every number, centred on its place."""
    places = paper.place(labels_mm[:, :2]).tolist()
    for text, (x, y), height in zip(texts, places, (labels_mm[:, 2] / paper.scale).tolist(), strict=True):
        if text and height >= LEAST_TEXT_MM:  # digits are 0.73 of the font size high (the usual sans faces)
            size = height / 0.73
            place = f'x="{x:.3f}" y="{y + height / 2:.3f}" font-size="{size:.2f}"'
            yield f'<text class="number {kind}" {place}>{text}</text>'


def _scale_bar(paper: Paper) -> Iterator[str]:
    """Yield a bar of a round length, a tenth to a quarter of the sheet, above the title block."""
    longest = SHEET_MM[0] / 4 * paper.scale
    length_mm = max((bar for bar in SCALE_BARS_MM if bar <= longest), default=SCALE_BARS_MM[0])
    x, y, width = 2 * MARGIN_MM, SHEET_MM[1] - MARGIN_MM - BLOCK_MM - 6, length_mm / paper.scale
    ticks = f"M{x} {y - 2}v4M{x + width / 2:g} {y - 1}v2M{x + width:g} {y - 2}v4"
    yield f'<path class="rule" d="{ticks}M{x} {y}h{width:g}"/>'
    yield f'<text class="small" x="{x + width + 2:g}" y="{y + 1}">{length_mm} mm, scale {scale_text(paper)}</text>'


def scale_text(paper: Paper) -> str:
    """Return the scale as drawings write it, e.g. 1:5."""
    return f"1:{paper.scale:g}"


def _fitted(text: str, most: int) -> str:
    """Return the text on one line, cut with an ellipsis where it is longer than its place in the title block."""
    line = one_line(text)
    return line if len(line) <= most else line[: most - 1] + "…"


def _title_block(view: FaceView, paper: Paper, stamp: Stamp) -> Iterator[str]:
    layout = view.layout
    left, top = MARGIN_MM, SHEET_MM[1] - MARGIN_MM - BLOCK_MM
    fields = [
        ("housing", _fitted(layout.housing.source, 56) or "entered by numbers", 0.24),
        ("cells", f"{len(layout.cells)} of {layout.cell_type.diameter_mm:g} mm, {layout.n_series} in series, "
                  f"{layout.n_parallel} in parallel", 0.2),
        ("sheet metal", _fitted(sheet_words(layout, [segment.number for segment in view.segments]), 40), 0.2),
        ("scale on A3, lengths in mm", scale_text(paper), 0.14),
        ("revision", stamp.revision, 0.11),
        ("date", stamp.date, 0.11),
    ]  # fmt: skip
    width = SHEET_MM[0] - 2 * MARGIN_MM
    yield f'<path class="rule" d="M{left} {top}h{width}M{left} {top + 12}h{width}M{left} {top + 22}h{width}"/>'
    yield f'<text class="large" x="{left + 3}" y="{top + 8}">{escape(_fitted(layout.name, 70))}</text>'
    seen = f"{view.face.upper()} FACE, {view.seen.upper()}"
    yield f'<text class="large" x="{left + width - 3}" y="{top + 8}" text-anchor="end">{seen}</text>'
    for name, text, share in fields:
        yield f'<text class="name" x="{left + 3:g}" y="{top + 15}">{escape(name)}</text>'
        yield f'<text class="small" x="{left + 3:g}" y="{top + 19.5}">{escape(text)}</text>'
        left += share * width
    mirrored = "" if view.mirror_x_mm is None else f"Mirrored about the vertical line x = {view.mirror_x_mm:.3f} mm. "
    yield f'<text class="caution" x="{MARGIN_MM + 3}" y="{top + 27}">{escape(mirrored + CAUTION)}</text>'


def _document(
    width_mm: float, height_mm: float, title: str, body: Iterator[str] | list[str], *, standalone: bool = True
) -> str:
    head = '<?xml version="1.0" encoding="UTF-8"?>\n' if standalone else ""
    style = f"<style>{STYLE}</style>" if standalone else ""  # a page brings its own, once for all its pictures
    return (
        f'{head}<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" height="{height_mm:g}mm" '
        f'viewBox="0 0 {width_mm:g} {height_mm:g}" role="img"><title>{escape(title)}</title>{style}\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )
