"""Repairs of segments: windows, tabs, sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from layout_app.checks.findings import Finding
from layout_app.edits import ChangePlates, ChangeTerminal, OverrideSegment
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.plates.windows import negative_window_mm, positive_window_mm
from layout_app.repairs.offers import Offer

STEP_MM = 0.01  # windows are made smaller by whole steps
LEAST_WINDOW = 0.4  # of the present one: smaller, no tool reaches the terminal
SHEET_STEP_MM, THICKEST_MM = 0.1, 3.0  # thicker sheet is no longer stamped or laser cut for cells (from memory)


def smaller_windows(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Make all windows smaller by what the web lacks."""
    if finding.measured is None or finding.limit is None:
        return
    lack_mm = finding.limit - finding.measured
    is_between = len(finding.cells) > 1 and "between" in finding.message
    less_mm = math.ceil((lack_mm if is_between else 2 * lack_mm) / STEP_MM) * STEP_MM
    changes = {}
    for field, now_mm in _windows(layout).items():
        changes[field] = round(now_mm - less_mm, 6)
        if changes[field] < LEAST_WINDOW * now_mm:
            return
    yield Offer(f"Make all windows {less_mm:.2f} mm smaller", ChangePlates(changes))


def safe_windows(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Set the window to the widest that shows nothing at another potential."""
    if finding.measured is None or finding.limit is None:
        return
    field = "positive_window_mm" if "positive end" in finding.message else "negative_window_mm"
    now_mm = _windows(layout)[field]
    allowed_mm = math.floor((now_mm - (finding.measured - finding.limit)) / STEP_MM + 1e-6) * STEP_MM
    if allowed_mm > 0:
        words = f"Set the {field.partition('_')[0]} window to {allowed_mm:.2f} mm"
        yield Offer(words, ChangePlates({field: round(allowed_mm, 6)}))


def move_terminal(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Let the program choose a free place for a terminal that was put somewhere by hand."""
    for is_positive in _terminals(finding, layout):
        if any(near_mm is not None for near_mm in layout.terminals[is_positive].places_mm):
            words = f"Move the {_sign(is_positive)} terminal to a free place"
            yield Offer(words, ChangeTerminal(is_positive, {"near_mm": None, "more_near_mm": ()}))


def tab_outside(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Put a tab outside when its bolt meets a cell or a window."""
    for is_positive in _terminals(finding, layout):
        if finding.cells and layout.terminals[is_positive].place == "inside":
            yield Offer(
                f"Put the {_sign(is_positive)} tab outside the housing",
                ChangeTerminal(is_positive, {"place": "outside"}),
            )


def wider_tab(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Widen the tab by the metal that is missing on both sides of the bolt hole."""
    if finding.source != Limits.SOURCES["bolt_margin_per_hole"] or finding.measured is None or finding.limit is None:
        return
    for is_positive in _terminals(finding, layout):
        now_mm = layout.terminals[is_positive].width_mm
        wide_mm = math.ceil(2 * (now_mm + 2 * (finding.limit - finding.measured)) - 1e-6) / 2
        words = f"Widen the {_sign(is_positive)} tab to {wide_mm:g} mm"
        yield Offer(words, ChangeTerminal(is_positive, {"width_mm": wide_mm}))


def thicker_sheet(finding: Finding, layout: Layout) -> Iterator[Offer]:
    """Use sheet thick enough for the common current density at this neck."""
    if finding.measured is None or finding.limit is None or not finding.segments:
        return
    number = finding.segments[0]
    wanted_mm = layout.plates_of(number).thickness_mm * finding.measured / finding.limit
    thick_mm = round(math.ceil(wanted_mm / SHEET_STEP_MM - 1e-6) * SHEET_STEP_MM, 6)
    if thick_mm > THICKEST_MM:
        return
    changes = {"thickness_mm": thick_mm}
    if layout.override_of(number) is None:
        yield Offer(f"Use sheet of {thick_mm:g} mm", ChangePlates(changes))
    yield Offer(f"Use sheet of {thick_mm:g} mm for segment {number} alone", OverrideSegment(number, changes))


def _windows(layout: Layout) -> dict[str, float]:
    return {
        "positive_window_mm": positive_window_mm(layout),
        "negative_window_mm": negative_window_mm(layout),
    }


def _terminals(finding: Finding, layout: Layout) -> list[bool]:
    """Return the terminals a finding is about; True is the positive one."""
    ends = {0: False, layout.n_series: True}
    return [ends[number] for number in finding.segments if number in ends]


def _sign(is_positive: bool) -> str:
    return "positive" if is_positive else "negative"
