"""DXF out: one drawing per face and one per segment, at the housing drawing's own coordinates, arcs as arcs.

Every drawing is made as bytes, the same bytes for the same layout, so that a new export differs only where the layout
does; `exchange.export` puts them into a folder.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence

import numpy as np

from layout_app.exchange import dxf_layers as layers
from layout_app.exchange.dxf_bulk import Bulk
from layout_app.exchange.dxf_layers import DxfVersion, as_we_write, new_drawing, require_version
from layout_app.exchange.face_views import FaceView
from layout_app.exchange.hole_table import HEADINGS, HoleTable
from layout_app.exchange.sheet_words import sheet_words
from layout_app.exchange.wording import CAUTION, drawing_text
from layout_app.geometry.contours import Contour
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face
from layout_app.plates.segments import Segment

# Sizes as parts of the cell diameter, so that a drawing of large cells is not covered in small print
TITLE_HEIGHT, NOTE_HEIGHT, TABLE_HEIGHT = 0.3, 0.16, 0.1
LEAST_ROWS = 40  # a hole table is broken into blocks no shorter than this
COLUMN_WIDTHS = (6, 12, 12, 9, 8, 9)  # of the hole table, in text heights
LINE_PITCH = 5 / 3  # text heights from line to line: the single spacing of DXF multi-line text


def dxf_files(layout: Layout, segments: Sequence[Segment], *, version: str = "R2010") -> Iterator[tuple[str, bytes]]:
    """Yield (path, content) of every drawing: the faces, the bottom seen from below, then the segments to cut."""
    known = require_version(version)
    views = [FaceView.of(layout, segments, face) for face in ("top", "bottom")]
    for view in views:
        yield face_path(view.face), face_drawing(view, known)
    yield (
        face_path("bottom", from_below=True),
        face_drawing(FaceView.of(layout, segments, "bottom", from_below=True), known),
    )
    digits = len(str(layout.n_series))
    for view in views:
        for segment in view.segments:
            yield segment_path(segment, digits), segment_drawing(view, segment, known)


def face_path(face: Face, *, from_below: bool = False) -> str:
    """Return the file name of a face's drawing.

    >>> face_path("bottom", from_below=True)
    'bottom_face_seen_from_below.dxf'
    """
    return f"{face}_face{'_seen_from_below' if from_below else ''}.dxf"


def segment_path(segment: Segment, n_digits: int) -> str:
    """Return the file name of a segment's drawing, e.g. segments/segment_03_top.dxf."""
    return f"segments/segment_{segment.number:0{max(2, n_digits)}d}_{segment.face}.dxf"


def face_drawing(view: FaceView, version: DxfVersion = "R2010") -> bytes:
    """Return the assembly drawing of one face: housing, cells, metal, numbers, hole table."""
    sheet = FaceSheet(view, version)
    sheet.loop(view.outline, layers.HOUSING)
    for keep_out in view.keep_outs:
        sheet.loop(keep_out, layers.KEEP_OUT)
    sheet.cells()
    for segment, label in zip(view.segments, view.segment_labels_mm.tolist(), strict=True):
        sheet.metal(segment, label)
    sheet.holes(view.holes)
    sheet.polarity(view.holes)
    seen = view.seen.upper() if view.from_below else view.seen
    sheet.notes(f"{view.layout.name} - {view.face} face, {seen}", _face_notes(view))
    return sheet.encoded()


def segment_drawing(view: FaceView, segment: Segment, version: DxfVersion = "R2010") -> bytes:
    """Return the cutting drawing of one segment; only outline, holes and windows lie on the layers to cut."""
    sheet = FaceSheet(view, version, bounds_of=segment)
    label = view.segment_labels_mm[view.segments.index(segment)]
    sheet.metal(segment, label.tolist())
    sheet.holes(view.holes.of_segment(segment.number))
    title = f"{view.layout.name} - segment {segment.number}, {segment.face} face, {view.seen}"
    notes = [
        f"{segment.material.name}, {segment.thickness_mm:g} mm thick. Millimetres; coordinates of the housing drawing.",
        f"Cut the layers {', '.join(layers.CUT_LAYERS)}; everything else is to be read. Hole numbers are those of "
        "the face drawing.",
    ]
    sheet.notes(title, notes)
    return sheet.encoded()


def _face_notes(view: FaceView) -> list[str]:
    layout, last = view.layout, view.layout.n_series
    terminals = {0: " (negative terminal)", last: " (positive terminal)"}
    numbers = [f"{segment.number}{terminals.get(segment.number, '')}" for segment in view.segments]
    notes = [
        f"{len(layout.cells)} cells {layout.cell_type.diameter_mm:g} mm, {layout.n_series} groups in series, "
        f"{layout.n_parallel} cells in parallel. "
        f"Sheet: {sheet_words(layout, [segment.number for segment in view.segments])}. "
        "Millimetres; coordinates of the housing drawing.",
        f"Segments on this face: {', '.join(numbers) or 'none'}.",
        "In each window: the sign of the cell's end on this face, and the hole's number. Beside the window: the "
        "parallel group. On the metal, larger: the segment's number.",
    ]
    if view.mirror_x_mm is not None:
        notes.insert(0, f"SEEN FROM BELOW: mirrored about the vertical line x = {view.mirror_x_mm:.3f} mm.")
    elif view.face == "bottom":
        notes.insert(0, "Seen from above, through the module. A mirrored copy seen from below lies beside this file.")
    return notes


class FaceSheet:
    """One DXF drawing being drawn."""

    def __init__(self, view: FaceView, version: DxfVersion, bounds_of: Segment | None = None) -> None:
        self.view, self.version = view, version
        self.diameter_mm = view.layout.cell_type.diameter_mm
        self.drawing = new_drawing(version, self.diameter_mm)
        self.space = self.drawing.modelspace()
        self.bulk = Bulk(self.drawing, version)
        boxes = [view.bounds_mm] if bounds_of is None else [piece.outline.bounds_mm for piece in bounds_of.pieces]
        self.x_min, self.y_min = np.array(boxes)[:, :2].min(axis=0).tolist()
        self.x_max, self.y_max = np.array(boxes)[:, 2:].max(axis=0).tolist()

    # -- to scale -----------------------------------------------------------------------------------------------

    def loop(self, contour: Contour, layer: str) -> None:
        """Draw a closed contour: a circle if it is one, else a polyline with true arcs."""
        circle = contour.as_circle
        if circle is not None:
            self.circle(circle[0], circle[1], circle[2], layer)
            return
        points = np.column_stack([contour.vertices_mm, contour.bulges]).tolist()
        add = self.space.add_polyline2d if self.version == "R12" else self.space.add_lwpolyline
        add(points, format="xyb", close=True, dxfattribs={"layer": layer})

    def circle(self, x_mm: float, y_mm: float, radius_mm: float, layer: str) -> None:
        self.bulk.circle(x_mm, y_mm, radius_mm, layer)

    def cells(self) -> None:
        """Draw every can and its group's number."""
        radius_mm = self.diameter_mm / 2
        for x_mm, y_mm in self.view.centres_mm.tolist():
            self.circle(x_mm, y_mm, radius_mm, layers.CELL)
        groups = self.view.layout.cells.groups.tolist()
        for group, label in zip(groups, self.view.group_labels_mm.tolist(), strict=True):
            if group:  # an unassigned cell has none
                self.number(group, label, layers.GROUP_NUMBER)

    def metal(self, segment: Segment, label: Sequence[float]) -> None:
        """Draw a segment's outlines, the holes in them and its number."""
        for piece in segment.pieces:
            self.loop(piece.outline, layers.SEGMENT_OUTLINE)
            for hole in piece.holes:
                self.loop(hole, layers.HOLE)
        self.number(segment.number, label, layers.SEGMENT_NUMBER)

    def holes(self, holes: HoleTable) -> None:
        """Draw windows and bolt holes, their numbers in their lower half, and the table beside the drawing."""
        is_window = (holes.cells >= 0).tolist()
        numbers = holes.numbers.tolist()
        for (x, y, radius), number, window in zip(holes.circles_mm.tolist(), numbers, is_window, strict=True):
            self.circle(x, y, radius, layers.WINDOW if window else layers.HOLE)
            self.number(number, (x, y - 0.42 * radius, 0.38 * radius), layers.HOLE_NUMBER)
        self.table(holes)

    def polarity(self, holes: HoleTable) -> None:
        """Draw the sign of each window's end in its upper half, and of each terminal in its bolt hole."""
        for (x, y, radius), positive in zip(holes.circles_mm.tolist(), holes.is_positive.tolist(), strict=True):
            size = 0.6 * radius
            name = layers.PLUS if positive else layers.MINUS
            self.bulk.block(name, x, y + 0.4 * radius, size, layers.POLARITY)

    # -- to read ------------------------------------------------------------------------------------------------

    def number(self, number: int, label: Sequence[float], layer: str) -> None:
        """Write a number centred on label = (x, y, height); a height of 0 means no room was found."""
        x_mm, y_mm, height_mm = label
        if height_mm > 0:
            self.bulk.number(number, x_mm, y_mm, height_mm, layer)

    def line(self, text: str, x_mm: float, y_mm: float, height_mm: float, layer: str) -> None:
        """Write one line that starts at (x, y), on its base line."""
        words = drawing_text(text, ascii_needed=self.version == "R12")
        self.space.add_text(words, height=height_mm, dxfattribs={"layer": layer, "insert": (x_mm, y_mm)})

    def notes(self, title: str, notes: Sequence[str]) -> None:
        """Write title, notes and caution below everything drawn."""
        height_mm = NOTE_HEIGHT * self.diameter_mm
        y_mm = self.y_min - self.diameter_mm
        self.line(title, self.x_min, y_mm, TITLE_HEIGHT * self.diameter_mm, layers.TITLE)
        for note, layer in [*((note, layers.TITLE) for note in notes), (CAUTION, layers.CAUTION)]:
            y_mm -= 1.8 * height_mm
            self.line(note, self.x_min, y_mm, height_mm, layer)
        self.y_min = y_mm

    def table(self, holes: HoleTable) -> None:
        """Write the hole table right of everything drawn, in blocks no higher than it."""
        height_mm = TABLE_HEIGHT * self.diameter_mm
        n_rows = max(LEAST_ROWS, int((self.y_max - self.y_min) / (LINE_PITCH * height_mm)) - 1)
        columns = holes.columns()
        right_mm = self.x_max + self.diameter_mm
        for first in range(0, len(holes), n_rows):
            for heading, column, width in zip(HEADINGS, columns, COLUMN_WIDTHS, strict=True):
                right_mm += width * height_mm
                self.column([heading, *column[first : first + n_rows]], right_mm, height_mm)
            right_mm += 4 * height_mm
        self.x_max = right_mm

    def column(self, lines: Sequence[str], right_mm: float, height_mm: float) -> None:
        """Write lines under one another, flush right, from the top of the drawing down."""
        attributes = {"layer": layers.HOLE_TABLE}
        if self.version != "R12":  # one text for the column: a table of 8 000 holes stays light
            where = {"insert": (right_mm, self.y_max), "char_height": height_mm, "attachment_point": 3}
            self.space.add_mtext("\\P".join(lines), dxfattribs=attributes | where | {"line_spacing_style": 2})
            return
        for k, line in enumerate(lines):
            place = (right_mm, self.y_max - height_mm - k * LINE_PITCH * height_mm)
            where = {"insert": place, "halign": 2, "align_point": place}
            self.space.add_text(line, height=height_mm, dxfattribs=attributes | where)

    def encoded(self) -> bytes:
        """Return the finished file."""
        self._frame()
        self.bulk.reserve_handles()
        stream = io.StringIO()
        with as_we_write():
            self.drawing.write(stream)
        return bytes(self.drawing.encode(self.bulk.inserted(stream.getvalue())))

    def _frame(self) -> None:
        """Tell readers what to show at first: everything."""
        x_mid, y_mid = (self.x_min + self.x_max) / 2, (self.y_min + self.y_max) / 2
        self.space.reset_extents((self.x_min, self.y_min, 0), (self.x_max, self.y_max, 0))
        height_mm = 1.1 * max(self.y_max - self.y_min, (self.x_max - self.x_min) / 2)
        self.drawing.set_modelspace_vport(height_mm, (x_mid, y_mid))
