"""Finding: something a check has to say, with a place."""

from dataclasses import dataclass
from typing import Any, Literal

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
