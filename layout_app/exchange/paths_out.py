"""Paths out: stream lines and necks as a drawing of each face, to lay under others: for reference, nothing to be cut.

Coordinates are the housing drawing's, as everywhere; both faces are seen from above.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from layout_app.exchange import dxf_layers as layers
from layout_app.exchange.drawings_out import NOTE_HEIGHT, FaceSheet
from layout_app.exchange.dxf_layers import DxfVersion, require_version
from layout_app.exchange.face_views import FaceView
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face

if TYPE_CHECKING:
    from layout_app.physics.min_cuts import Cut
    from layout_app.physics.stream_lines import StreamLines
    from layout_app.plates.deriving import Plates
    from layout_app.plates.segments import Segment

STREAM_LAYER, NECK_LAYER = "REFERENCE_STREAM_LINES", "REFERENCE_NECKS"
_COLOURS = {STREAM_LAYER: 140, NECK_LAYER: 210}  # read, not cut: cool, as the other layers to read
MOST_LINES = 4000  # on a face, where its joints are not more than that: a drawing still quick to handle
PER_JOINT = 6.0
THIN_MM, SAFE_MM = 0.05, 0.005  # what a line may be straightened by; near the metal's edge only the less
CHORDS_MM = 0.002  # sagitta of the chords that stand for arcs of the metal
MODEL_SHARE = 0.9  # of the work is finding the currents

Progress = Callable[[float], None]


def path_files(
    plates: Plates, *, version: str = "R2010", progress: Progress | None = None
) -> Iterator[tuple[str, bytes]]:
    """Yield (path, content) of the drawings of current paths, one a face that has metal.

    Parameters
    ----------
    plates : the metal of a layout; its currents are found by the sheet model, at the design current
    progress : called with the share done of finding the currents; what it raises ends the work and comes through

    Raises
    ------
    LayoutError : no metal, or none that current can flow through
    """
    known = require_version(version)
    lines, cuts, current_a = _found(plates, progress)
    for face in ("top", "bottom"):
        if any(segment.face == face and segment.pieces for segment in plates.segments):
            yield paths_path(face), _drawing(plates.layout, plates.segments, face, lines, cuts, current_a, known)


def paths_path(face: Face) -> str:
    """Return the file name of a face's drawing of current paths.

    >>> paths_path("top")
    'paths/top_face_current_paths.dxf'
    """
    return f"paths/{face}_face_current_paths.dxf"


def _found(plates: Plates, progress: Progress | None) -> tuple[Sequence[StreamLines], Sequence[Cut | None], float]:
    from layout_app.physics.current_paths import module_lines
    from layout_app.physics.currents import SheetModel
    from layout_app.physics.min_cuts import module_cuts

    def part(begin: float, end: float) -> Progress | None:
        return None if progress is None else lambda share: progress(begin + share * (end - begin))

    model = SheetModel(plates, progress=part(0.0, MODEL_SHARE))
    found = model.solve()
    fields = model.fields(found, part(MODEL_SHARE, 0.97))
    n_joints = max(1, int((plates.layout.cells.groups > 0).sum()))
    per_joint = min(PER_JOINT, MOST_LINES / n_joints)
    lines = module_lines(plates.segments, fields, found, per_joint=per_joint, progress=part(0.97, 1.0))
    return lines, module_cuts(plates, found), found.solved.current_a


def _drawing(
    layout: Layout,
    segments: Sequence[Segment],
    face: Face,
    lines: Sequence[StreamLines],
    cuts: Sequence[Cut | None],
    current_a: float,
    version: DxfVersion,
) -> bytes:
    view = FaceView.of(layout, segments, face)
    sheet = FaceSheet(view, version)
    for name in layers.CUT_LAYERS:  # no cutter shall find a layer here that it knows
        sheet.drawing.layers.remove(name)
    for name, colour in _COLOURS.items():
        sheet.drawing.layers.add(name, color=colour)
    sheet.loop(view.outline, layers.HOUSING)
    for keep_out in view.keep_outs:
        sheet.loop(keep_out, layers.KEEP_OUT)
    notes = [
        f"FOR REFERENCE, NOT TO BE CUT: layers {STREAM_LAYER} and {NECK_LAYER}. "
        "Millimetres; coordinates of the housing drawing. Seen from above.",
        f"Stream lines at {current_a:g} A, by the sheet model: between two neighbours flows what each stands for.",
    ]
    for segment in view.segments:
        drawn, cut = lines[segment.number], cuts[segment.number]
        for shape in _thinned(segment, drawn):
            _polyline(sheet, shape, STREAM_LAYER)
        if cut is not None:
            _neck(sheet, cut)
        notes.append(_told(segment.number, drawn, cut))
    sheet.notes(f"{layout.name} - {face} face, current paths, for reference", notes)
    return sheet.encoded()


def _thinned(segment: Segment, lines: StreamLines) -> Any:
    """Return the lines with no more points than they need, still inside the metal."""
    import shapely

    if len(lines) == 0:
        return []
    metal = segment.metal(CHORDS_MM)
    shapely.prepare(metal)
    thin, safe = lines.shapes(THIN_MM), lines.shapes(SAFE_MM)
    return np.where(shapely.covers(metal, thin), thin, safe)


def _polyline(sheet: FaceSheet, line: Any, layer: str) -> None:
    add = sheet.space.add_polyline2d if sheet.version == "R12" else sheet.space.add_lwpolyline
    add([(round(x, 4), round(y, 4)) for x, y in line.coords], dxfattribs={"layer": layer})


def _neck(sheet: FaceSheet, cut: Cut) -> None:
    """Draw a neck's stretches, and write beside the longest what it amounts to."""
    import shapely

    for line in cut.lines_mm:
        _polyline(sheet, shapely.LineString(line), NECK_LAYER)
    if cut.place_mm is not None:
        height_mm = NOTE_HEIGHT / 2 * sheet.diameter_mm
        x_mm, y_mm = cut.place_mm
        sheet.line(_neck_words(cut), x_mm + height_mm, y_mm - height_mm / 2, height_mm, NECK_LAYER)


def _neck_words(cut: Cut) -> str:
    return f"{cut.width_mm:.1f} mm: {cut.current_a:.1f} A, {cut.density_a_mm2:.2g} A/mm²"


def _told(number: int, lines: StreamLines, cut: Cut | None) -> str:
    if len(lines) == 0:
        return f"Segment {number}: no current."
    least, most = lines.current_a.min(), lines.current_a.max()
    each = f"{least:.3g} A" if f"{least:.3g}" == f"{most:.3g}" else f"{least:.3g} to {most:.3g} A"
    neck = (
        "" if cut is None else f" Neck, of all sections the one with most current over its width: {_neck_words(cut)}."
    )
    return f"Segment {number}: {len(lines)} lines, each for {each}.{neck}"
