"""Windows: an opening must show the terminal it is for and nothing at another potential."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout_app.checks.findings import Finding, named, places
from layout_app.geometry.arrays import BoolArray
from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment

ROUNDING_MM = 1e-6


def positive_windows(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A window over a positive end must not reach the can's shoulder ring, which is at the other potential."""
    shoulder_mm, clearance_mm = layout.cell_type.shoulder_diameter_mm, layout.plates.shoulder_clearance_mm
    yield from _too_wide(
        segment,
        layout,
        segment.is_positive_end,
        limit_mm=shoulder_mm - 2 * clearance_mm,
        end="positive end",
        shows=f"the can's shoulder ({shoulder_mm:g} mm inside) comes nearer than {clearance_mm:g} mm, and it is at the "
        "other potential. Make the positive window smaller",
        source=f"cell type {layout.cell_type.id}, shoulder ring less the chosen clearance",
    )


def negative_windows(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """A window over a can bottom must not be wider than the can: beside it are the neighbours."""
    if not layout.cell_type.has_opposite_contacts:
        return
    yield from _too_wide(
        segment,
        layout,
        ~segment.is_positive_end,
        limit_mm=layout.cell_type.diameter_mm,
        end="can bottom",
        shows="the opening passes the can, and the next can may be at another potential. "
        "Make the negative window smaller",
        source=f"cell type {layout.cell_type.id}, diameter",
    )


def _too_wide(
    segment: Segment, layout: Layout, which: BoolArray, *, limit_mm: float, end: str, shows: str, source: str
) -> Iterator[Finding]:
    """Yield a finding when windows over the `which` cells open further than `limit_mm`, seen from the cell's middle."""
    off_mm = np.hypot(*(segment.window_centres_mm - layout.cells.centres_mm[segment.window_cells]).T)
    opening_mm = 2 * (segment.windows_mm[:, 2] + off_mm)
    wide = np.flatnonzero(which & (opening_mm > limit_mm + ROUNDING_MM))
    if not len(wide):
        return
    cells = segment.window_cells[wide]
    yield Finding(
        rule="window",
        severity="error",
        message=f"Segment {segment.number}: windows open up to {opening_mm[wide].max():.2f} mm over the {end} of "
        f"{named(cells.tolist())}, {limit_mm:.2f} mm at most is safe: {shows}.",
        measured=float(opening_mm[wide].max()),
        limit=limit_mm,
        unit="mm",
        places_mm=places(segment.window_centres_mm[wide]),
        cells=tuple(cells.tolist()),
        segments=(segment.number,),
        source=source,
    )
