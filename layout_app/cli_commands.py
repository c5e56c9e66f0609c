"""What each command does. Everything a command needs is imported when it runs, so that all of them start at once."""

from __future__ import annotations

import math
import os
from argparse import Namespace
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from layout_app.cli_console import Progress, complain, say, say_json, say_table
from layout_app.cli_window import open_window, why_no_window
from layout_app.model.errors import LayoutError

if TYPE_CHECKING:
    from layout_app.checks.findings import Finding
    from layout_app.exchange.stamps import Stamp
    from layout_app.model.cell_types import CellType
    from layout_app.model.housings import Housing
    from layout_app.model.layouts import Layout
    from layout_app.workings import Workings

DONE, HAS_ERRORS = 0, 1
PLACES_SHOWN = 3
SAMPLE_HOUSING, SAMPLE_CELL = "housings/orchard_rover_tray.dxf", "21700-energy"


def cells(options: Namespace) -> int:
    """List the cell types."""
    from dataclasses import asdict

    from layout_app.model import catalogues

    types = list(catalogues.cell_types().values())
    for problem in catalogues.user_cell_problems():
        complain(problem)
    if options.json:
        say_json([asdict(cell) for cell in types])
        return DONE
    heads = ("id", "⌀ mm", "height mm", "g", "Ah", "V", "mΩ", "A", "A 10 s", "contacts", "source")
    say_table([heads, *(_cell_row(cell) for cell in types)], right="l r r r r r r r r l l")
    say(f"Your own cell types: {catalogues.user_cells_file()}")
    return DONE


def _cell_row(cell: CellType) -> tuple[str, ...]:
    numbers = (cell.diameter_mm, cell.height_mm, cell.mass_g, cell.capacity_ah, cell.voltage_nominal_v,
               cell.resistance_ohm * 1000, cell.continuous_current_a, cell.peak_current_a)  # fmt: skip
    return (cell.id, *(f"{number:g}" for number in numbers), cell.contacts, cell.source)


def figures(options: Namespace) -> int:
    """Tell what a layout amounts to."""
    from layout_app.physics.figures import figures

    told = figures(_layout(options.file))
    if options.json:
        say_json({figure.key: _rounded(figure.value) for figure in told})
        return DONE
    width = max(len(figure.label) for figure in told)
    for figure in told:
        say(f"{figure.label.ljust(width)}  {figure.text}")
        if options.explain:
            given = "; ".join(f"{name}: {value}" for name, value in figure.inputs)
            say(f"{' ' * width}    {figure.formula}{f' ({given})' if given else ''}. Source: {figure.source}")
    return DONE


def _rounded(value: float | int) -> float | int:
    """Return a number without the last digits that binary arithmetic leaves, as 403.20000000000005."""
    return value if isinstance(value, int) else float(f"{value:.12g}")


def check(options: Namespace) -> int:
    """Judge a layout."""
    from layout_app.workings import Workings

    layout = _layout(options.file)
    with Progress("Checking"):
        found = Workings(layout).findings
    if options.json:
        say_json([finding.as_json() for finding in found])
    else:
        for finding in found:
            say(_finding_text(finding))
        say(_summary(found))
    return HAS_ERRORS if any(finding.severity == "error" for finding in found) else DONE


def _finding_text(finding: Finding) -> str:
    places = [f"({x:.2f}, {y:.2f})" for x, y in finding.places_mm[:PLACES_SHOWN]]
    more = len(finding.places_mm) - len(places)
    where = f" [at {', '.join(places)}{f' and {more} more' if more else ''} mm]" if places else ""
    return f"{finding.severity}: {finding.rule}: {finding.message}{where}"


def _summary(found: Sequence[Finding]) -> str:
    counts = Counter(finding.severity for finding in found)
    return ", ".join(f"{counts[s]} {s}{'' if counts[s] == 1 else 's'}" for s in ("error", "warning", "note"))


def capacity(options: Namespace) -> int:
    """Tell how many cells fit, lattice by lattice."""
    from layout_app.planning.filling import arrangements

    housing, cell = _housing(options), _cell(options)
    with Progress("Filling the housing") as progress:
        ranked = arrangements(housing, cell, gap_mm=options.gap, progress=progress.done)
    rows = [(a.lattice.kind, math.degrees(a.rotation_rad), len(a), a.fraction_of_bound) for a in ranked]
    if options.json:
        keys = ("lattice", "rotation_deg", "cells", "fraction_of_bound")
        say_json([dict(zip(keys, row, strict=True)) for row in rows])
        return DONE
    say(f"{cell.name} in {housing.source}, {options.gap:g} mm from can to can")
    texts = [(kind, f"{deg:.1f}°", str(n), f"{fraction:.1%}") for kind, deg, n, fraction in rows]
    say_table([("lattice", "rows at", "cells", "of the most that can fit"), *texts], right="l r r r")
    return DONE


def lay(options: Namespace) -> int:
    """Fill a housing, form groups, save the layout."""
    from layout_app.model.saved_file import ENDING, save
    from layout_app.planning import laying
    from layout_app.workings import Workings

    if options.out.suffix != ENDING:
        raise LayoutError(f"lay: {options.out}: a layout's name ends in {ENDING}; add that to --out.")
    housing, cell = _housing(options), _cell(options)
    with Progress("Filling the housing and forming groups") as progress:
        layout = laying.lay(
            housing,
            cell,
            n_series=options.series,
            n_parallel=options.parallel,
            gap_mm=options.gap,
            lattice=options.lattice,
            chain=options.chain,
            start_rad=options.start,
            name=options.name or options.out.stem,
            design_current_a=options.current,
            peak_current_a=options.peak,
            progress=progress.done,
        )
    save(layout, options.out)
    with Progress("Checking"):
        found = Workings(layout).findings
    _tell_layout(layout, found)
    say(f"Saved: {options.out}")
    return DONE


def export(options: Namespace) -> int:
    """Write drawings, tables and a report."""
    from layout_app.exchange.export import KINDS
    from layout_app.exchange.stamps import Stamp
    from layout_app.workings import Workings

    unknown = [kind for kind in options.only or () if kind not in KINDS]
    if unknown:  # said before the work, not after it
        raise LayoutError(f"--only: there is no export {unknown[0]!r}; choose from {', '.join(KINDS)}.")
    stamp = Stamp(date=options.date, revision=options.revision)
    workings = Workings(_layout(options.file))
    written = _export(workings, options.to, only=options.only, dxf_version=options.dxf, stamp=stamp)
    say(f"{len(written)} files written to {written[0].parent if len(written) == 1 else os.path.commonpath(written)}")
    return DONE


def _export(
    workings: Workings, folder: Path, *, only: Sequence[str] | None, dxf_version: str, stamp: Stamp | None = None
) -> Sequence[Path]:
    """Export, and say on stderr when what is handed on has errors."""
    from layout_app.exchange import export as exporting
    from layout_app.exchange.stamps import BLANK

    with Progress("Deriving the segments") as progress:
        segments, found, necks = workings.segments, workings.findings, workings.necks
        progress.now("Writing drawings, tables and report")
        written = exporting.export(
            workings.layout,
            segments,
            workings.figures,
            found,
            folder,
            necks=necks,
            currents=workings.currents,
            joint_faults=workings.joint_faults,
            stamp=stamp or BLANK,
            only=only,
            dxf_version=dxf_version,
            progress=progress.done,
        )
    n_errors = sum(finding.severity == "error" for finding in found)
    if n_errors:
        complain(
            f"mind that the layout has {n_errors} error{'s' if n_errors > 1 else ''}; 'busweave check' tells them."
        )
    return written


def demo(options: Namespace) -> int:
    """Do the whole job on the sample housing; open the window on the result where that is possible."""
    from layout_app.exchange.drawings_in import read_drawing
    from layout_app.model.catalogues import cell_type
    from layout_app.model.resources import resource
    from layout_app.model.saved_file import save
    from layout_app.planning import laying
    from layout_app.workings import Workings

    folder = _existing(options.to) if options.to else _fresh_folder(Path("busweave_demo"))
    with Progress("Laying out the orchard rover's tray"):
        housing = read_drawing(resource(SAMPLE_HOUSING)).housing()
        layout = laying.lay(
            housing,
            cell_type(SAMPLE_CELL),
            n_series=6,
            n_parallel=32,
            gap_mm=1.5,
            name="orchard rover",
            design_current_a=80.0,
            peak_current_a=160.0,
        )
    file = folder / "orchard_rover.busweave"
    save(layout, file)
    workings = Workings(layout)
    written = _export(workings, folder, only=None, dxf_version="R2010")
    _tell_layout(layout, workings.findings)
    n_dxf = sum(path.suffix == ".dxf" for path in written)
    say(f"{len(written)} files, {n_dxf} of them DXF, are in {folder}; the layout is {file}")
    hindrance = "as asked" if options.no_window else why_no_window()
    if hindrance:
        say(f"No window ({hindrance}): the job was done without one.")
        return DONE
    return open_window([file])


def _existing(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LayoutError(f"{folder}: cannot make this folder: {error.strerror}. Name another one.") from None
    return folder


def _fresh_folder(wanted: Path) -> Path:
    """Make and return a new folder of that name, numbered when it is taken."""
    for number in range(1, 1000):
        folder = wanted if number == 1 else wanted.with_name(f"{wanted.name}_{number}")
        try:
            folder.mkdir()
        except FileExistsError:
            continue
        except OSError as error:
            raise LayoutError(
                f"{folder}: cannot make this folder here: {error.strerror}. Name one with --to."
            ) from None
        return folder
    raise LayoutError(f"{wanted}: a thousand of these are here already. Take some away or name a folder with --to.")


# -- what several commands need --------------------------------------------------------------------------------------


def _layout(file: Path) -> Layout:
    from layout_app.model.saved_file import load

    if file.suffix.lower() == ".dxf":
        raise LayoutError(f"{file}: this is a drawing, a layout is wanted. 'busweave lay {file} …' makes one from it.")
    return load(file)


def _cell(options: Namespace) -> CellType:
    from layout_app.model.catalogues import cell_type

    return cell_type(options.cell)


def _housing(options: Namespace) -> Housing:
    """Return the housing of a drawing, or of the numbers given in its place, with the clearances asked for."""
    given = (options.outline is not None) + (options.rectangle is not None) + (options.circle is not None)
    if given != 1:
        raise LayoutError("Name one housing: a drawing OUTLINE.dxf, or --rectangle WxH[xR], or --circle D.")
    wall_mm = options.wall
    keep_out_mm = wall_mm if options.keep_out is None else options.keep_out
    if options.outline is None:
        return _plain_housing(options, wall_mm)
    from layout_app.exchange.drawings_in import read_drawing

    with Progress(f"Reading {options.outline}"):
        drawing = read_drawing(options.outline, units=options.units, layer=options.layer)
    if not getattr(options, "json", False):
        for line in drawing.summary():
            say(line)
    return drawing.housing(wall_clearance_mm=wall_mm, keep_out_clearance_mm=keep_out_mm)


def _plain_housing(options: Namespace, wall_mm: float) -> Housing:
    """Return a rectangle with its lower left corner, or a circle with its middle, at the origin."""
    from layout_app.model.housings import Housing
    from layout_app.model.shapes import circle, rectangle_from_text

    if options.units or options.layer:
        raise LayoutError("--units and --layer go with a drawing; --rectangle and --circle are in millimetres.")
    if options.circle is not None:
        outline, source = circle(options.circle), f"a circle of {options.circle:g} mm"
    else:
        outline, source = rectangle_from_text(options.rectangle), f"a rectangle of {options.rectangle} mm"
    return Housing(outline=outline, wall_clearance_mm=wall_mm, keep_out_clearance_mm=wall_mm, source=source)


def _tell_layout(layout: Layout, found: Sequence[Finding]) -> None:
    """Say in a few lines what was laid out, and what the checks have against it."""
    from layout_app.physics import figures as figuring

    lattice, cell = layout.lattice, layout.cell_type
    say(
        f"{layout.n_series} × {layout.n_parallel} = {len(layout.cells)} cells {cell.id}, {lattice.kind} lattice, "
        f"rows at {math.degrees(lattice.angle_rad):.1f}°, {layout.chain} chain"
    )
    told = {figure.key: figure.text for figure in figuring.figures(layout)}
    say(", ".join(told[key] for key in ("voltage_nominal_v", "capacity_ah", "energy_wh", "volumetric_energy_wh_l")))
    for finding in found:
        say(_finding_text(finding))
    say(_summary(found))
