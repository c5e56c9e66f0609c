"""Report: one page a colleague can check, self-contained, for the screen and for A4."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING, Protocol

from layout_app.exchange.chain_words import BORDER_WORDS, along_words, start_words
from layout_app.exchange.face_views import FaceView
from layout_app.exchange.sheet_words import setback_words, sheet_words
from layout_app.exchange.sheets import STYLE as PICTURE_STYLE
from layout_app.exchange.sheets import picture
from layout_app.exchange.stamps import BLANK, Stamp
from layout_app.exchange.tables import joins, neck_values, step_rows
from layout_app.exchange.wording import CAUTION
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.physics.figures import Figure, number_text
from layout_app.physics.min_cuts import Cut
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from layout_app.physics.currents import Currents
    from layout_app.physics.joint_faults import JointFaults

MOST_PLACES = 3  # a finding may have hundreds; the page names the first

STYLE = """
@page { size: A4; margin: 16mm 16mm 18mm }
:root { color-scheme: light }
body { font: 10pt/1.45 'DejaVu Sans', Arial, sans-serif; color: #20242a; background: #fff; max-width: 178mm;
  margin: 10mm auto; padding: 0 4mm }
h1 { font-size: 20pt; line-height: 1.2; margin: 0 0 1mm } h2 { font-size: 13pt; margin: 9mm 0 2mm; break-after: avoid }
p { margin: 0 0 2mm } table + p { margin-top: 2mm } .lead { color: #5c636b; margin-bottom: 4mm }
.warn { border: .4mm solid #a02020; color: #a02020; padding: 2mm 3mm; margin: 0 0 5mm }
table { border-collapse: collapse; width: 100%; font-size: 8.5pt } thead { display: table-header-group }
th, td { text-align: left; vertical-align: top; padding: 1mm 3mm 1mm 0; border-bottom: .2mm solid #d5d8dc;
  overflow-wrap: break-word }
th, th.n { border-bottom: .4mm solid #30343a; font-weight: 600; white-space: normal;
  vertical-align: bottom }
tr { break-inside: avoid }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }
.small { font-size: 8pt; color: #5c636b } .error { color: #a02020; font-weight: 600 }
.warning { color: #8a5a00; font-weight: 600 } .note { color: #2f5d8a; font-weight: 600 }
figure { margin: 3mm 0 6mm; break-inside: avoid } figure svg { max-width: 100%; height: auto; display: block }
figcaption { font-size: 8.5pt; color: #5c636b; margin-top: 1.5mm } .free { white-space: pre-wrap }
@media print { body { margin: 0; padding: 0; max-width: none } }
"""


class Told(Protocol):
    """What the report needs of a finding; checks stand beside this package, so it cannot name theirs."""

    @property
    def rule(self) -> str: ...
    @property
    def severity(self) -> str: ...
    @property
    def message(self) -> str: ...
    @property
    def measured(self) -> float | None: ...
    @property
    def limit(self) -> float | None: ...
    @property
    def unit(self) -> str: ...
    @property
    def places_mm(self) -> Sequence[tuple[float, float]]: ...
    @property
    def source(self) -> str: ...


def report(
    layout: Layout,
    segments: Sequence[Segment],
    figures: Sequence[Figure],
    findings: Sequence[Told],
    necks: Sequence[Cut | None] = (),
    currents: Currents | None = None,
    joint_faults: JointFaults | None = None,
    stamp: Stamp = BLANK,
) -> str:
    """Return the report as one HTML page without scripts or links to other files; with currents, it shows charts."""
    parts = [
        f'<p class="warn">{escape(CAUTION)}</p>',
        f"<h1>{escape(layout.name or 'Layout without a name')}</h1>",
        f'<p class="lead">{_in_a_line(layout, stamp)}</p>',
        _section("Brief", _brief(layout)),
        _section("Findings", _findings(findings)),
        _section("Figures", _figures(figures)),
        *_charts(layout, segments, currents, joint_faults),
        _section("Faces", "".join(_faces(layout, segments))),
        _section("Segments", _segments(layout, segments, necks)),
        _section("Series order", _steps(layout)),
        _section("Assumptions", _assumptions(layout)),
    ]
    if layout.notes.strip():
        parts.append(_section("Notes", f'<p class="free">{escape(layout.notes)}</p>'))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(layout.name)}: report</title><style>{STYLE}{_scoped(PICTURE_STYLE)}</style></head><body>\n"
        + "\n".join(parts)
        + "\n</body></html>\n"
    )


def _scoped(style: str) -> str:
    """Return the style of the pictures, kept to pictures."""
    rules = [rule.strip() for rule in style.split("}") if rule.strip()]
    return "\n".join(f"svg {rule} }}" for rule in rules)


def _in_a_line(layout: Layout, stamp: Stamp) -> str:
    cell = layout.cell_type
    return escape(
        f"{len(layout.cells)} cells {cell.name}: {layout.n_series} groups in series, {layout.n_parallel} cells in "
        f"parallel, {layout.n_segments} busbar segments" + (f"; {stamp}" if str(stamp) else "")
    )


def _section(heading: str, content: str) -> str:
    return f"<section><h2>{escape(heading)}</h2>\n{content}</section>"


def _table(header: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[int] = ()) -> str:
    """Return a table of cells that are already HTML; `numbers` are the columns set flush right."""

    def row(cells: Sequence[str], tag: str) -> str:
        marks = (' class="n"' if k in numbers else "" for k in range(len(cells)))
        return "<tr>" + "".join(f"<{tag}{m}>{cell}</{tag}>" for m, cell in zip(marks, cells, strict=True)) + "</tr>"

    body = "\n".join(row(cells, "td") for cells in rows)
    return f"<table><thead>{row([escape(name) for name in header], 'th')}</thead><tbody>\n{body}\n</tbody></table>"


def _brief(layout: Layout) -> str:
    housing, cell, plates, lattice = layout.housing, layout.cell_type, layout.plates, layout.lattice
    x_min, y_min, x_max, y_max = housing.outline.bounds_mm
    rows = [
        ("Housing", housing.source or "entered by numbers"),
        ("Space", f"{x_max - x_min:.1f} × {y_max - y_min:.1f} mm over all, keep-outs: {len(housing.keep_outs)}"),
        ("Clearance of cells", f"{housing.wall_clearance_mm:g} mm to the wall, "
                               f"{housing.keep_out_clearance_mm:g} mm to keep-outs"),
        ("Cell", f"{cell.name}: {cell.diameter_mm:g} mm (+{cell.diameter_tolerance_mm:g}) × {cell.height_mm:g} mm, "
                 f"{cell.capacity_ah:g} Ah, {cell.voltage_min_v:g} / {cell.voltage_nominal_v:g} / "
                 f"{cell.voltage_max_v:g} V, contacts at {cell.contacts}"),
        ("Lattice", f"{lattice.kind}, pitch {lattice.pitch_mm:g} mm, gap {lattice.pitch_mm - cell.diameter_mm:.2f} mm"
                    + along_words(lattice)),
        ("Current", f"{_current(layout.design_current_a)} continuous, "
                    f"{_current(layout.peak_current_a)} for ten seconds"),
        ("Chain", layout.chain + start_words(layout)),
        ("Sheet metal", sheet_words(layout)),
        ("Borders", f"{plates.borders}: {BORDER_WORDS[plates.borders]}"),
        ("Metal keeps", f"{plates.gap_mm:g} mm between segments, {plates.setback_mm:g} mm to wall and keep-outs, "
                        f"webs of {plates.min_web_mm:g} mm, corners of {plates.corner_radius_mm:g} mm radius"
                        + setback_words(layout)),
    ]  # fmt: skip
    return _table(("Given", ""), [(escape(name), escape(text)) for name, text in rows])


def _current(current_a: float) -> str:
    return f"{current_a:g} A" if current_a else "not given"


def _findings(findings: Sequence[Told]) -> str:
    if not findings:
        return "<p>The checks have nothing to say. They check what they know of, no more.</p>"
    counts = Counter(finding.severity for finding in findings)  # in the order they come: gravest first
    told = ", ".join(f"{count} {name}{'' if count == 1 else 's'}" for name, count in counts.items())
    rows = [
        (
            f'<span class="{finding.severity}">{finding.severity}</span>',
            f'{escape(finding.message)}<div class="small">{escape(_where(finding))}</div>',
            _measure(finding.measured, finding.unit),
            _measure(finding.limit, finding.unit),
            escape(finding.source),
        )
        for finding in findings
    ]
    return f"<p>{told}.</p>" + _table(("", "Finding", "Measured", "Limit", "Source of the limit"), rows, (2, 3))


def _where(finding: Told) -> str:
    places = "; ".join(f"({x:.1f}, {y:.1f}) mm" for x, y in finding.places_mm[:MOST_PLACES])
    more = len(finding.places_mm) - MOST_PLACES
    return f"{finding.rule}{': at ' + places if places else ''}{f' and {more} more places' if more > 0 else ''}"


def _measure(value: float | None, unit: str) -> str:
    return "" if value is None else escape(f"{number_text(value)} {unit}".strip())


def _figures(figures: Sequence[Figure]) -> str:
    rows = [
        (
            escape(figure.label),
            escape(figure.text),
            f'{escape(figure.formula)}<div class="small">{escape(_inputs(figure))}</div>',
            escape(figure.source),
        )
        for figure in figures
    ]
    return _table(("Figure", "Value", "Formula and inputs", "Source"), rows, (1,))


def _inputs(figure: Figure) -> str:
    return ", ".join(f"{name}: {value}" for name, value in figure.inputs)


def _charts(
    layout: Layout, segments: Sequence[Segment], currents: Currents | None, faults: JointFaults | None
) -> Iterable[str]:
    """Yield the section of charts, or nothing where no current can flow: a finding then says why."""
    if currents is None or faults is None:
        return
    from layout_app.charting.charts import TITLES, chart_of  # the plotting library takes half a second to load
    from layout_app.charting.rendering import svg

    charts = [chart_of(key, layout, segments, currents, faults) for key in TITLES]
    yield _section(
        "Currents, losses and bonds in charts",
        "".join(
            f"<figure>{svg(chart)}"
            f"<figcaption><b>{escape(chart.title)}.</b> {escape(chart.summary)}</figcaption></figure>"
            for chart in charts
        ),
    )


def _faces(layout: Layout, segments: Sequence[Segment]) -> Iterable[str]:
    for view in (FaceView.of(layout, segments, "top"), FaceView.of(layout, segments, "bottom", from_below=True)):
        numbers = ", ".join(str(segment.number) for segment in view.segments) or "none"
        words = f"{view.face.capitalize()} face, {view.seen}. Segments {numbers}."
        if view.mirror_x_mm is not None:
            words += f" Mirrored about the vertical line x = {view.mirror_x_mm:.3f} mm."
        words += " Large: segment; small: parallel group; signs: the end of the cell at this face."
        yield f"<figure>{picture(view)}<figcaption>{escape(words)}</figcaption></figure>"


def _segments(layout: Layout, segments: Sequence[Segment], necks: Sequence[Cut | None]) -> str:
    by_number = {neck.segment: neck for neck in necks if neck is not None}
    rows = [
        (
            str(segment.number), segment.face, escape(joins(segment, len(segments) - 1)),
            str(len(segment.window_cells)), f"{segment.area_mm2:.1f}", f"{segment.mass_g:.2f}",
            f"{segment.perimeter_mm:.1f}", f"{segment.cut_length_mm:.1f}",
            *(_rounded(value) for value in neck_values(layout, segment, by_number.get(segment.number))),
        )
        for segment in segments
    ]  # fmt: skip
    total_g = sum(segment.mass_g for segment in segments)
    header = ("No.", "Face", "Joins", "Joints", "Area mm²", "Mass g", "Edge mm", "Cut mm", "Neck mm", "Neck A", "A/mm²")
    words = (
        f"<p>Sheet: {escape(sheet_words(layout))}. Together {number_text(total_g)} g. "
        "The neck is the section with most current over its width at the design current: what crosses it, and the mean "
        "density; empty where neck or current is not known.</p>"
    )
    return _table(header, rows, (0, 3, 4, 5, 6, 7, 8, 9, 10)) + words


def _rounded(value: str | int | float) -> str:
    return f"{value:.1f}" if isinstance(value, float) else str(value)


def _steps(layout: Layout) -> str:
    rows = [[escape(_rounded(value)) for value in row] for row in step_rows(layout)]
    header = (
        "Group", "Cells", "Positive end", "Negative on segment", "Positive on segment", "Nominal V", "Full V",
        "Pairs to next", "Border to next mm",
    )  # fmt: skip
    words = "<p>Voltages are those of the group's positive end against the negative terminal, without load.</p>"
    return words + _table(header, rows, (0, 1, 3, 4, 5, 6, 7, 8))


def _materials(layout: Layout) -> dict[str, str]:
    """Name and source of every material used."""
    used = [layout.plates.material, *(each.material for each in layout.overrides if each.material is not None)]
    return {material.name: material.source for material in used}


def _assumptions(layout: Layout) -> str:
    rows = [
        (f"Cell type {layout.cell_type.name}", layout.cell_type.source),
        *((f"Material {name}", source) for name, source in _materials(layout).items()),
        *((_limit_words(name, getattr(layout.limits, name)), source) for name, source in layout.limits.SOURCES.items()),
        ("Masses of segments", "area × thickness × density at 20 °C; coatings, bonds and bolts left out"),
        ("Coordinates", "those of the housing drawing, x right, y up, seen from above unless a view says otherwise"),
    ]
    return _table(("Taken as given", "Source"), [(escape(name), escape(source)) for name, source in rows])


def _limit_words(name: str, value: float) -> str:
    """Return a limit as people read it.

    >>> _limit_words("touch_voltage_v", 60.0), _limit_words("web_per_thickness", 1.5)
    ('Limit: touch voltage 60 V', 'Limit: web per thickness 1.5')
    """
    unit = Limits.unit_of(name)
    words = name.rpartition("_")[0] if unit else name
    return f"Limit: {words.replace('_', ' ')} {value:g} {unit}".rstrip()
