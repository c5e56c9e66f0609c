"""Finding: something a check has to say, with a place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from layout_app.geometry.arrays import PointArray

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing a rule found. `cells` are indices; people and files see numbers, which are one higher."""

    rule: str  # e.g. "insulation gap"
    severity: Severity
    message: str
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    places_mm: tuple[tuple[float, float], ...] = ()
    cells: tuple[int, ...] = ()
    segments: tuple[int, ...] = ()
    source: str = ""  # where the limit comes from

    def as_json(self) -> dict[str, Any]:
        """Return the object other tools read; cells by number, counted from 1."""
        return {
            "rule": self.rule, "severity": self.severity, "message": self.message, "measured": self.measured,
            "limit": self.limit, "unit": self.unit, "places_mm": [list(place) for place in self.places_mm],
            "cells": [cell + 1 for cell in self.cells], "segments": list(self.segments), "source": self.source,
        }  # fmt: skip


def gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with errors first, then warnings, then notes; otherwise as they came."""
    return tuple(sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity)))


def places(points_mm: PointArray) -> tuple[tuple[float, float], ...]:
    """Return an (n, 2) array as the plain tuples a finding keeps."""
    return tuple((float(x), float(y)) for x, y in points_mm)


def named(cells: Sequence[int], most: int = 4) -> str:
    """Return the cells (indices) by number as people write them.

    >>> named([11]), named([0, 1, 2]), named(range(9), most=2)
    ('cell 12', 'cells 1, 2 and 3', 'cells 1, 2 and 7 more')
    """
    numbers = [str(cell + 1) for cell in cells[:most]]
    if len(cells) == 1:
        return f"cell {numbers[0]}"
    last = f"{len(cells) - most} more" if len(cells) > most else numbers.pop()
    return f"cells {', '.join(numbers)} and {last}"


def at(place_mm: Sequence[float]) -> str:
    """Return a place as people read it, e.g. "x 12.50, y -3.00 mm"."""
    return f"x {place_mm[0]:.2f}, y {place_mm[1]:.2f} mm"
