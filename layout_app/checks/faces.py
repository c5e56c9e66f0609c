"""What lies together on a face: segments apart from each other, every cell joined at both ends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from layout_app.checks.findings import Finding, at, named, places
from layout_app.checks.shapes import SLACK_MM, nearest_places, solid
from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment


def insulation_gap(one: Segment, other: Segment, layout: Layout) -> Iterator[Finding]:
    """Two segments of a face must stay the insulation gap apart."""
    limit_mm = layout.plates.gap_mm
    if not shapely.dwithin(solid(one), solid(other), limit_mm - SLACK_MM):
        return
    measured = float(shapely.distance(solid(one), solid(other)))
    where = nearest_places(solid(one), solid(other), limit_mm - SLACK_MM)
    how = f"come within {measured:.2f} mm of each other" if measured > 0 else "touch: a short circuit"
    yield Finding(
        rule="insulation gap",
        severity="error",
        message=f"Segments {one.number} and {other.number} {how} at {at(where[0])}; the insulation gap is "
        f"{limit_mm:.2f} mm. Move what lies there (a terminal's tab?) or make the gap smaller.",
        measured=measured,
        limit=limit_mm,
        unit="mm",
        places_mm=places(where),
        segments=(one.number, other.number),
        source="chosen in this layout's plate settings",
    )


def joints(layout: Layout, segments: Sequence[Segment]) -> Iterator[Finding]:
    """Every cell of a group must lie under two windows, one over each terminal."""
    if not layout.cell_type.has_opposite_contacts:
        return
    positive = _windows_over(layout, segments, is_positive_end=True)
    negative = _windows_over(layout, segments, is_positive_end=False)
    loose = np.flatnonzero((layout.cells.groups > 0) & ((positive != 1) | (negative != 1)))
    if len(loose):
        yield Finding(
            rule="joint",
            severity="error",
            message=f"{named(loose.tolist()).capitalize()} cannot be joined at both ends: one window over the positive "
            "and one over the negative terminal are wanted. Look at the findings of the segments there.",
            measured=float(np.minimum(positive, negative)[loose].min()),
            limit=1.0,
            places_mm=places(layout.cells.centres_mm[loose]),
            cells=tuple(loose.tolist()),
            source="definition",
        )


def _windows_over(layout: Layout, segments: Sequence[Segment], *, is_positive_end: bool) -> np.ndarray:
    """Return (n,) how many windows lie over that end of each cell."""
    cells = [s.window_cells[s.is_positive_end == is_positive_end] for s in segments if s.pieces]
    return np.bincount(np.concatenate([np.empty(0, dtype=np.int64), *cells]), minlength=len(layout.cells))


def contacts(layout: Layout, segments: Sequence[Segment]) -> Iterator[Finding]:
    """Segments are drawn only for cells contacted at opposite ends."""
    if layout.cell_type.has_opposite_contacts:
        return
    yield Finding(
        rule="contacts",
        severity="error",
        message=f"Cell type {layout.cell_type.id} is contacted at one end; segments for such cells cannot be drawn "
        "yet. Choose a cell type contacted at opposite ends.",
        segments=tuple(range(layout.n_segments)),
    )
