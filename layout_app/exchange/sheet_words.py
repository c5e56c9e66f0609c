"""Sheet words: which metal a module's segments are cut from, where single segments differ said so."""

from __future__ import annotations

from collections.abc import Iterable

from layout_app.model.layouts import Layout


def sheet_words(layout: Layout, segments: Iterable[int] | None = None) -> str:
    """Return material and thickness of all segments, or of some; those unlike the rest are named.

    E.g. "Copper, annealed, 0.5 mm; segment 3: Aluminium 1050A, 1 mm".
    """
    shown = set(range(layout.n_segments) if segments is None else segments)
    common = _sheet(layout.plates.material.name, layout.plates.thickness_mm)
    words = [common]
    for override in layout.overrides:
        own = override.of(layout.plates)
        sheet = _sheet(own.material.name, own.thickness_mm)
        if override.segment in shown and sheet != common:
            words.append(f"segment {override.segment}: {sheet}")
    return "; ".join(words)


def setback_words(layout: Layout) -> str:
    """Return the setbacks and radii of segments that have their own, or nothing."""
    words = []
    for override in layout.overrides:
        own = [f"{override.setback_mm:g} mm to wall and keep-outs"] if override.setback_mm is not None else []
        own += [f"corners of {override.corner_radius_mm:g} mm radius"] if override.corner_radius_mm is not None else []
        own += [f"{len(override.keep_outs)} keep-outs of its own"] if override.keep_outs else []
        words += [f"; segment {override.segment}: {', '.join(own)}"] if own else []
    return "".join(words)


def _sheet(material: str, thickness_mm: float) -> str:
    return f"{material}, {thickness_mm:g} mm"
