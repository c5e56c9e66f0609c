"""Workings: everything derived from one layout, computed on first use and reused while its parts are the same."""

from __future__ import annotations

from functools import cached_property

from layout_app.checks.findings import Finding
from layout_app.model.layouts import Layout
from layout_app.physics.figures import Figure
from layout_app.plates.segments import Segment


class Workings:
    """What follows from a layout. Pass the workings of the layout it came from, and unchanged parts are reused."""

    def __init__(self, layout: Layout, previous: Workings | None = None) -> None:
        self.layout = layout

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """Segments 0…S, in order."""
        return ()

    @cached_property
    def figures(self) -> tuple[Figure, ...]:
        """Every figure, in the order shown."""
        return ()

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Everything the checks have to say, errors first."""
        return ()
