"""What each command does. Everything a command needs is imported when it runs, so that all of them start at once."""

from __future__ import annotations

import math
import os
import sys
from argparse import Namespace
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from layout_app.cli_console import Progress, complain, say, say_json, say_table
from layout_app.model.errors import LayoutError

if TYPE_CHECKING:
    from layout_app.checks.findings import Finding
    from layout_app.model.cell_types import CellType
    from layout_app.model.housings import Housing
    from layout_app.model.layouts import Layout

DONE, HAS_ERRORS = 0, 1
PLACES_SHOWN = 3
SAMPLE_HOUSING, SAMPLE_CELL = "housings/orchard_rover_tray.dxf", "21700-energy"
QT_PROBE = "from PySide6.QtWidgets import QApplication; QApplication([])"
QT_PATIENCE_S = 30


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
        say_json({figure.key: figure.value for figure in told})
        return DONE
    width = max(len(figure.label) for figure in told)
    for figure in told:
        say(f"{figure.label.ljust(width)}  {figure.text}")
        if options.explain:
            given = "; ".join(f"{name}: {value}" for name, value in figure.inputs)
            say(f"{' ' * width}    {figure.formula}{f' ({given})' if given else ''}. Source: {figure.source}")
    return DONE


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
    with Progress("Filling the housing"):
        ranked = arrangements(housing, cell, gap_mm=options.gap)
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
    from dataclasses import replace

    from layout_app.model.saved_file import ENDING, save
    from layout_app.planning import laying

    if options.out.suffix != ENDING:
        raise LayoutError(f"lay: {options.out}: a layout's name ends in {ENDING}; add that to --out.")
    housing, cell = _housing(options), _cell(options)
    with Progress("Filling the housing and forming groups"):
        layout = laying.lay(
            housing,
            cell,
            n_series=options.series,
            n_parallel=options.parallel,
            gap_mm=options.gap,
            lattice=None if options.lattice == "best" else options.lattice,
            chain=options.chain,
            start_rad=options.start,
        )
    layout = replace(
        layout,
        name=options.name or options.out.stem,
        design_current_a=options.current,
        peak_current_a=options.peak,
    )
    save(layout, options.out)
    _tell_layout(layout)
    say(f"Saved: {options.out}. 'busweave check {options.out}' judges it.")
    return DONE


def export(options: Namespace) -> int:
    """Write drawings, tables and a report."""
    layout = _layout(options.file)
    written = _export(layout, options.to, only=options.only, dxf_version=options.dxf)
    say(f"{len(written)} files written to {written[0].parent if len(written) == 1 else os.path.commonpath(written)}")
    return DONE


def _export(layout: Layout, folder: Path, *, only: Sequence[str] | None, dxf_version: str) -> Sequence[Path]:
    """Export, and say on stderr when what is handed on has errors."""
    from layout_app.exchange import export as exporting
    from layout_app.workings import Workings

    with Progress("Deriving the segments") as progress:
        workings = Workings(layout)
        segments, found = workings.segments, workings.findings
        written = exporting.export(
            layout,
            segments,
            workings.figures,
            found,
            folder,
            only=only,
            dxf_version=dxf_version,
            progress=lambda path: progress.now(f"Writing {path}"),
        )
    n_errors = sum(finding.severity == "error" for finding in found)
    if n_errors:
        complain(
            f"mind that the layout has {n_errors} error{'s' if n_errors > 1 else ''}; 'busweave check' tells them."
        )
    return written


def demo(options: Namespace) -> int:
    """Do the whole job on the sample housing; open the window on the result where that is possible."""
    from dataclasses import replace

    from layout_app.exchange.drawings_in import read_drawing
    from layout_app.model.catalogues import cell_type
    from layout_app.model.resources import resource
    from layout_app.model.saved_file import save
    from layout_app.planning import laying

    folder = _existing(options.to) if options.to else _fresh_folder(Path("busweave_demo"))
    with Progress("Laying out the orchard rover's tray"):
        housing = read_drawing(resource(SAMPLE_HOUSING)).housing()
        layout = laying.lay(housing, cell_type(SAMPLE_CELL), n_series=6, n_parallel=20)
    layout = replace(layout, name="orchard rover", design_current_a=80.0, peak_current_a=160.0)
    file = folder / "orchard_rover.busweave"
    save(layout, file)
    _tell_layout(layout)
    written = _export(layout, folder, only=None, dxf_version="R2010")
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


# -- the window ------------------------------------------------------------------------------------------------------


def open_window(files: Sequence[Path]) -> int:
    """Open the window on the files; return its exit code."""
    if not _has_display():
        raise LayoutError(
            "There is no display here to open a window on. 'busweave --help' lists what works without one."
        )
    try:
        from layout_app.window.app import run
    except ImportError as error:
        if (error.name or "").startswith("layout_app"):
            raise
        raise LayoutError(
            f"The window needs Qt and its system libraries: {error}. Install them as the README says; "
            "'busweave --help' lists what works without a window."
        ) from error
    return int(run(list(files)) or DONE)


def why_no_window() -> str:
    """Return why no window can be opened here, in a few words; empty when one can.

    Qt ends the whole program when a library of its platform is missing, so it is tried in another process first.
    """
    import subprocess

    if not _has_display():
        return "there is no display"
    try:
        tried = subprocess.run(
            [sys.executable, "-c", QT_PROBE], capture_output=True, text=True, timeout=QT_PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"Qt does not start: {type(error).__name__}"
    if tried.returncode == 0:
        return ""
    lines = [line for line in tried.stderr.splitlines() if line.strip()]
    told = next((line for line in lines if "needed" in line), lines[-1] if lines else "no reason given")
    return f"Qt does not start: {told.strip()}"


def _has_display() -> bool:
    needs_one = sys.platform.startswith(("linux", "freebsd"))
    named = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    return not needs_one or any(os.environ.get(name) for name in named)


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


def _tell_layout(layout: Layout) -> None:
    """Say in a few lines what was laid out, and what the checks of cells and groups have against it."""
    from layout_app.checks.rules import layout_findings

    lattice, cell = layout.lattice, layout.cell_type
    say(
        f"{layout.n_series} × {layout.n_parallel} = {len(layout.cells)} cells {cell.id}, {lattice.kind} lattice, "
        f"rows at {math.degrees(lattice.angle_rad):.1f}°, {layout.chain} chain"
    )
    say(
        f"{layout.n_series * cell.voltage_nominal_v:.1f} V, {layout.n_parallel * cell.capacity_ah:.1f} Ah, "
        f"{len(layout.cells) * cell.capacity_ah * cell.voltage_nominal_v:.0f} Wh"
    )
    for finding in layout_findings(layout):
        say(_finding_text(finding))
