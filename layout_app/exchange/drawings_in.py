"""A housing drawing in: which loop is the inner wall, which are keep-outs, and what was left out and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layout_app.exchange.drawing_contents import Contents, drawing_contents
from layout_app.exchange.drawing_errors import JOIN_MM, MOST_JOIN_MM, DrawingError, DrawingSizeError, printable
from layout_app.exchange.drawing_file import open_drawing
from layout_app.exchange.drawing_loops import DrawnLoop, closed_loops
from layout_app.exchange.drawing_units import (
    AS_ASKED,
    ASSUMED,
    FROM_THE_DRAWING,
    LARGEST_HOUSING_MM,
    MILLIMETRE,
    USUAL_HOUSING_MM,
    LengthUnit,
    in_other_units,
    unit_named,
    unit_of_code,
)
from layout_app.geometry.contours import Contour
from layout_app.geometry.edges import Edges
from layout_app.model.housings import Housing
from layout_app.model.validation import require_number

MOST_FILLED = 0.5  # a keep-out over more of the outline than this is more likely the inner wall of a double one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HousingDrawing:
    """What a drawing says about a housing; coordinates in mm, in place.

    Attributes
    ----------
    outline : the largest closed loop, counter-clockwise
    keep_outs : the loops inside it, or growing out of its wall
    loops : every closed loop found, largest first, with its role and why
    units, units_source : e.g. "inch", "from the drawing"
    used, ignored : a line for each kind of entity and layer, with the count and, where ignored, the reason
    notes : what a careful reader should look at
    layers : the layers something is drawn on
    ignored_lines : curves that belong to no closed loop, to be shown greyed
    """

    path: Path
    release: str
    outline: Contour
    keep_outs: tuple[Contour, ...]
    loops: tuple[DrawnLoop, ...]
    units: str
    units_plural: str
    units_source: str
    used: tuple[str, ...]
    ignored: tuple[str, ...]
    notes: tuple[str, ...]
    layers: tuple[str, ...]
    ignored_lines: Edges

    def housing(self, *, wall_clearance_mm: float = 1.0, keep_out_clearance_mm: float = 1.0) -> Housing:
        """Return the housing, with clearances from can to wall and keep-outs."""
        return Housing(
            outline=self.outline,
            keep_outs=self.keep_outs,
            wall_clearance_mm=wall_clearance_mm,
            keep_out_clearance_mm=keep_out_clearance_mm,
            source=f"{printable(self.path.name)[:500]}, {self.units_plural} {self.units_source}",
        )

    def summary(self) -> tuple[str, ...]:
        """Return what was read, used and ignored, in lines for people."""
        outline, n_arcs = self.outline, int(self.outline.is_arc.sum())
        x_min, y_min, x_max, y_max = outline.bounds_mm
        return (
            f"{printable(self.path.name)}: {self.release}, {self.units_plural}, {self.units_source}.",
            f"Outline: {x_max - x_min:.6g} × {y_max - y_min:.6g} mm, {outline.area_mm2:.1f} mm², "
            f"{len(outline.bulges)} edges, {n_arcs} of them arcs, on layer {self.loops[0].layer}.",
            f"Keep-outs: {len(self.keep_outs)}.",
            *self.notes,
            *(f"Used: {line}." for line in self.used),
            *(f"Ignored: {line}." for line in self.ignored),
        )


def read_drawing(
    path: Path | str,
    *,
    units: str | None = None,
    layer: str | Sequence[str] | None = None,
    join_mm: float = JOIN_MM,
) -> HousingDrawing:
    """Return the housing drawn in a DXF file.

    Parameters
    ----------
    path : a DXF of R12 to R2018, text or binary
    units : what the drawing's numbers mean, e.g. "mm" or "inch"; None takes the drawing's word for it
    layer : read only this layer, or these
    join_mm : loose ends at most so far apart are joined

    Raises
    ------
    DrawingError : the file or what is drawn is not usable; the kinds are in drawing_errors
    ValueOutOfRangeError : an unknown unit, or a joining distance out of range
    """
    from layout_app.exchange.drawing_roles import with_roles  # brings shapely, which reading a layout does not need

    require_number("joining distance", join_mm, least=0.0, most=MOST_JOIN_MM, unit="mm")
    path = Path(path)
    asked = None if units is None else unit_named(units)
    opened = open_drawing(path)
    document = opened.document
    unit, source, unit_notes = _units(document.header, asked)
    layers = [layer] if isinstance(layer, str) else layer
    contents = drawing_contents(path, document, unit, layers)
    try:
        found = closed_loops(path, contents, join_mm, unit)
        loops = with_roles(path, found.loops, unit)
    except DrawingError as error:
        error.drawn = Edges.together([strand.edges for strand in contents.strands])
        raise
    _require_housing_size(path, loops[0].contour, unit, source)
    used, ignored = _tally(contents, loops, found.open_strands, found.idle_strands)
    damage = _damage_notes(opened.n_repairs)
    return HousingDrawing(
        path=path,
        release=_release(document),
        outline=loops[0].contour,
        keep_outs=tuple(loop.contour for loop in loops if loop.role == "keep-out"),
        loops=loops,
        units=unit.name,
        units_plural=unit.plural,
        units_source=source,
        used=used,
        ignored=ignored,
        notes=(*damage, *unit_notes, *_size_notes(loops[0].contour, unit), *found.notes, *_role_notes(loops)),
        layers=contents.layers,
        ignored_lines=found.ignored_lines,
    )


def _damage_notes(n_repairs: int) -> tuple[str, ...]:
    if n_repairs == 0:
        return ()
    return (f"The file is damaged; faults repaired on reading: {n_repairs}. Compare it with the original.",)


def _release(document: object) -> str:
    """Return e.g. "DXF R2010"."""
    return f"DXF {getattr(document, 'acad_release', 'of unknown release')}"


def _units(header: Any, asked: LengthUnit | None) -> tuple[LengthUnit, str, tuple[str, ...]]:
    """Return the unit, where it comes from, and what to say about it."""
    code = header.get("$INSUNITS", 0)
    named = unit_of_code(code)
    if asked is not None:
        differs = named is not None and named != asked
        return asked, AS_ASKED, (f"The drawing itself says {named.plural}.",) if named and differs else ()
    if named is not None:
        return named, FROM_THE_DRAWING, ()
    notes = [f"The drawing's unit code {code!r} means nothing."] if code else []
    if header.get("$MEASUREMENT", 1) == 0:
        notes.append("The drawing is set up for imperial hatches: check whether it is in inches.")
    return MILLIMETRE, ASSUMED, tuple(notes)


def _longest_mm(contour: Contour) -> float:
    x_min, y_min, x_max, y_max = contour.bounds_mm
    return max(x_max - x_min, y_max - y_min)


def _require_housing_size(path: Path, outline: Contour, unit: LengthUnit, source: str) -> None:
    longest_mm = _longest_mm(outline)
    if longest_mm <= LARGEST_HOUSING_MM:
        return
    others = in_other_units(longest_mm, unit, *USUAL_HOUSING_MM)
    hint = (
        f"It would be {others}: ask for the right units" if others else "Choose the layer of the housing's inner wall"
    )
    raise DrawingSizeError(
        path,
        f"in {unit.plural} ({source}) the outline is {longest_mm / 1e3:.6g} m long, larger than any housing "
        f"({LARGEST_HOUSING_MM / 1e3:g} m). {hint}.",
    )


def _size_notes(outline: Contour, unit: LengthUnit) -> tuple[str, ...]:
    longest_mm = _longest_mm(outline)
    if longest_mm >= USUAL_HOUSING_MM[0]:
        return ()
    others = in_other_units(longest_mm, unit, *USUAL_HOUSING_MM)
    return (f"The outline is only {longest_mm:.4g} mm long" + (f"; it would be {others}." if others else "."),)


def _role_notes(loops: Sequence[DrawnLoop]) -> tuple[str, ...]:
    """Return what is unusual about the keep-outs."""
    keep_outs = [loop for loop in loops if loop.role == "keep-out"]
    notes = [
        f"{count} keep-outs on layer {layer}: each {remark}." if count > 1 else f"A keep-out on layer {layer} {remark}."
        for (layer, remark), count in Counter((k.layer, k.remark) for k in keep_outs if k.remark).items()
    ]
    notes += [
        f"A keep-out on layer {loop.layer} fills {loop.area_mm2 / loops[0].area_mm2:.0%} of the outline. If it is the "
        "inner wall, ask for its layer alone."
        for loop in keep_outs
        if loop.area_mm2 > MOST_FILLED * loops[0].area_mm2
    ]
    return tuple(notes)


def _tally(
    contents: Contents, loops: Sequence[DrawnLoop], open_strands: frozenset[int], idle_strands: frozenset[int]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the lines for what was used and for what was ignored; every entity is in one of them, once."""
    reasons: dict[int, str] = {}
    for index in idle_strands:
        reasons[index] = "drawn twice, or a line across between walls"
    for index in open_strands:
        reasons[index] = "open, part of no closed loop"
    for loop in loops:
        if loop.role == "ignored":
            reasons |= dict.fromkeys(loop.strands, loop.remark)
    useful = {index for loop in loops if loop.role != "ignored" for index in loop.strands}
    used: Counter[tuple[str, str]] = Counter()
    ignored = Counter(contents.left_out)
    for index, strand in enumerate(contents.strands):
        if index in useful:
            used[strand.kind, strand.layer] += 1
        else:
            ignored[strand.kind, strand.layer, reasons.get(index, "no length")] += 1
    return (
        tuple(f"{count} {kind} on layer {layer}" for (kind, layer), count in used.items()),
        tuple(f"{count} {kind} on layer {layer}: {why}" for (kind, layer, why), count in sorted(ignored.items())),
    )
