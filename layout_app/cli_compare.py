"""The command `busweave compare A B`: what differs between two saved layouts."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout_app.cli_console import Progress, say, say_json
from layout_app.model.errors import LayoutError

if TYPE_CHECKING:
    from layout_app.checks.findings import Finding
    from layout_app.comparing import Comparison
    from layout_app.model.layouts import Layout
    from layout_app.plates.segments import Segment

DONE = 0
CELLS_SHOWN = 12  # of each kind; --json tells all


def compare(options: Namespace) -> int:
    """Tell what differs between two layouts."""
    from layout_app.comparing import Comparison
    from layout_app.workings import Workings

    a, b = (Workings(_layout(file)) for file in (options.a, options.b))
    with Progress("Comparing"):
        comparison = Comparison(a, b)
        told = _as_json(comparison, options.a, options.b) if options.json else list(_lines(comparison))
    if options.json:
        say_json(told)
    else:
        for line in told:
            say(line)
    return DONE


def _layout(file: Path) -> Layout:
    from layout_app.model.saved_file import load

    if file.suffix.lower() == ".dxf":
        raise LayoutError(f"compare: {file}: this is a drawing. Name two saved layouts (.busweave).")
    return load(file)


# -- for people -----------------------------------------------------------------------------------------------------


def _lines(comparison: Comparison) -> Iterator[str]:
    if comparison.is_same:
        yield "The two layouts are the same."
        return
    yield f"Cells: {comparison.cells.text}"
    yield from _cell_lines(comparison)
    yield "Segments: " + (", ".join(f"{s.number} {s.kind}" for s in comparison.segments) or "the same")
    yield from _figure_lines(comparison)
    yield from _finding_lines(comparison)
    yield "Settings:" if comparison.settings else "Settings: the same"
    for change in comparison.settings:
        yield f"  {change.name}: {_plain(change.a)} → {_plain(change.b)}"


def _cell_lines(comparison: Comparison) -> Iterator[str]:
    a, b, cells = comparison.a.layout.cells, comparison.b.layout.cells, comparison.cells
    rows = (
        [f"{_place(a, i)} moved to {_place(b, j)}" for i, j in cells.moved.tolist()],
        [f"{_place(b, j)} added, group {b.groups[j]}" for j in cells.added.tolist()],
        [f"{_place(a, i)} removed, group {a.groups[i]}" for i in cells.removed.tolist()],
        [f"{_place(b, j)} from group {a.groups[i]} to {b.groups[j]}" for i, j in cells.regrouped.tolist()],
        [f"{_place(b, j)} locked" for _, j in cells.locked.tolist()],
        [f"{_place(b, j)} unlocked" for _, j in cells.unlocked.tolist()],
    )
    for kind in rows:
        yield from (f"  {line}" for line in kind[:CELLS_SHOWN])
        if len(kind) > CELLS_SHOWN:
            yield f"  … and {len(kind) - CELLS_SHOWN} more"


def _place(cells: Any, index: int) -> str:
    x, y = cells.centres_mm[index].tolist()
    return f"cell {index + 1} ({x:.2f}, {y:.2f})"


def _figure_lines(comparison: Comparison) -> Iterator[str]:
    from layout_app.comparing import difference_text

    if not comparison.figures:
        yield "Figures: the same"
        return
    yield "Figures:"
    width = max(len(change.either.label) for change in comparison.figures)
    for change in comparison.figures:
        before, after = (figure.text if figure else "–" for figure in (change.a, change.b))
        yield f"  {change.either.label.ljust(width)}  {before} → {after}  {difference_text(change)}"


def _finding_lines(comparison: Comparison) -> Iterator[str]:
    only_a, only_b = comparison.findings
    if not only_a and not only_b:
        yield "Findings: the same"
        return
    yield f"Findings: {len(only_a)} gone, {len(only_b)} new"
    yield from (f"  gone: {_said(finding)}" for finding in only_a)
    yield from (f"  new: {_said(finding)}" for finding in only_b)


def _said(finding: Finding) -> str:
    return f"{finding.severity}: {finding.rule}: {finding.message}"


# -- for programs ---------------------------------------------------------------------------------------------------


def _as_json(comparison: Comparison, file_a: Path, file_b: Path) -> dict[str, Any]:
    """Return all that differs; cells are told by number, counted from 1."""
    only_a, only_b = comparison.findings
    return {
        "a": str(file_a),
        "b": str(file_b),
        "same": comparison.is_same,
        "figures": {
            change.either.key: {
                "a": _rounded(change.a.value) if change.a else None,
                "b": _rounded(change.b.value) if change.b else None,
                "difference": None if change.difference is None else _rounded(change.difference),
            }
            for change in comparison.figures
        },
        "findings": {"gone": [f.as_json() for f in only_a], "new": [f.as_json() for f in only_b]},
        "cells": _cells_as_json(comparison),
        "segments": [
            {"segment": s.number, "change": s.kind, "a": _metal(s.a), "b": _metal(s.b)} for s in comparison.segments
        ],
        "settings": {change.name: {"a": _value(change.a), "b": _value(change.b)} for change in comparison.settings},
    }


def _cells_as_json(comparison: Comparison) -> dict[str, Any]:
    a, b, cells = comparison.a.layout.cells, comparison.b.layout.cells, comparison.cells

    def lone(layout_cells: Any, indices: Sequence[int]) -> list[dict[str, Any]]:
        return [
            {"cell": i + 1, "place_mm": layout_cells.centres_mm[i].tolist(), "group": int(layout_cells.groups[i])}
            for i in indices
        ]

    return {
        "added": lone(b, cells.added.tolist()),
        "removed": lone(a, cells.removed.tolist()),
        "moved": [
            {"cell_a": i + 1, "cell_b": j + 1, "from_mm": a.centres_mm[i].tolist(), "to_mm": b.centres_mm[j].tolist()}
            for i, j in cells.moved.tolist()
        ],
        "regrouped": [
            {"cell_a": i + 1, "cell_b": j + 1, "group_a": int(a.groups[i]), "group_b": int(b.groups[j])}
            for i, j in cells.regrouped.tolist()
        ],
        "locked": [{"cell_a": i + 1, "cell_b": j + 1} for i, j in cells.locked.tolist()],
        "unlocked": [{"cell_a": i + 1, "cell_b": j + 1} for i, j in cells.unlocked.tolist()],
    }


def _metal(segment: Segment | None) -> dict[str, Any] | None:
    if segment is None:
        return None
    return {
        "face": segment.face,
        "area_mm2": _rounded(segment.area_mm2),
        "mass_g": _rounded(segment.mass_g),
        "windows": len(segment.windows_mm),
    }


def _value(value: Any) -> Any:
    """Return a setting as JSON has it; what it has no word for as text."""
    if isinstance(value, tuple):
        return [_value(item) for item in value]
    return value if value is None or isinstance(value, bool | int | float | str) else str(value)


def _plain(value: Any) -> str:
    return "–" if value is None else f"{value:.6g}" if isinstance(value, float) else str(value)


def _rounded(value: float | int) -> float | int:
    """Return a number without the last digits that binary arithmetic leaves."""
    return value if isinstance(value, int) else float(f"{value:.12g}")
