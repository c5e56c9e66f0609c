"""Figure: a computed quantity that can tell its formula, its inputs and its source."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One quantity. `key` is the name other tools rely on and carries the unit."""

    key: str  # e.g. "energy_wh"
    label: str  # e.g. "Energy"
    value: float | int
    unit: str
    formula: str  # e.g. "cells × capacity × nominal voltage"
    inputs: tuple[tuple[str, str], ...]  # ("cells", "516"), …
    source: str
