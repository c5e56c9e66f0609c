"""Overrides: what is different about one segment, and back to what all others have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from layout_app.edits.settings import in_words
from layout_app.model.layouts import Layout
from layout_app.model.overrides import SegmentOverride
from layout_app.model.validation import require_count


@dataclass(frozen=True, slots=True)
class OverrideSegment:
    """Give fields of one segment values of its own, e.g. {"thickness_mm": 1.0}; None: as all others."""

    segment: int
    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change segment 3's sheet thickness"."""
        return f"Change segment {self.segment}'s {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed override; one that changes nothing any more is dropped."""
        require_count("segment", self.segment, most=layout.n_series)
        before = layout.override_of(self.segment) or SegmentOverride(segment=self.segment)
        return _with(layout, replace(before, **self.changes))


@dataclass(frozen=True, slots=True)
class ResetSegment:
    """Let a segment be as all others."""

    segment: int

    @property
    def label(self) -> str:
        """E.g. "Reset segment 3"."""
        return f"Reset segment {self.segment}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout without the segment's override."""
        return _with(layout, SegmentOverride(segment=self.segment))


def _with(layout: Layout, override: SegmentOverride) -> Layout:
    rest = [other for other in layout.overrides if other.segment != override.segment]
    kept = rest if override.is_empty else sorted([*rest, override], key=lambda each: each.segment)
    return layout if tuple(kept) == layout.overrides else replace(layout, overrides=tuple(kept))
