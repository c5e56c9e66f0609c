"""Corners: a tool of the chosen radius gets into each of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout_app.checks.findings import Finding, places
from layout_app.checks.shapes import SLACK_MM
from layout_app.geometry.arrays import FloatArray, PointArray
from layout_app.geometry.contours import Contour
from layout_app.model.layouts import Layout
from layout_app.plates.segments import Segment

SHARP_RAD = 0.1  # turns of less leave no corner anybody could feel: a tenth of a millimetre rises by 5 µm


def corner_radius(segment: Segment, layout: Layout) -> Iterator[Finding]:
    """No corner of a segment may be tighter than the radius chosen for it."""
    limit_mm = layout.plates_of(segment.number).corner_radius_mm
    found = [_tight_corners(loop, limit_mm) for loop in segment.contours()]
    where = np.concatenate([np.empty((0, 2)), *(points for points, _ in found)])
    if not len(where):
        return
    radii = np.concatenate([radii for _, radii in found])
    worst = radii.argsort(kind="stable")
    least = "is sharp" if radii.min() == 0 else f"has a radius of {radii.min():.2f} mm"
    many = f"{len(where)} corners are tighter; the tightest" if len(where) > 1 else "one corner"
    yield Finding(
        rule="corner",
        severity="warning",
        message=f"Segment {segment.number}: {many} {least}, where {limit_mm:g} mm is wanted. Round a corner of the "
        "wall or keep-out there, make the setback at least the corner radius, or move the terminal away.",
        measured=float(radii.min()),
        limit=limit_mm,
        unit="mm",
        places_mm=places(where[worst]),
        segments=(segment.number,),
        source="corner radius chosen in this layout's plate settings",
    )


def _tight_corners(loop: Contour, limit_mm: float) -> tuple[PointArray, FloatArray]:
    """Return (n, 2) where a loop is tighter than a radius, and (n,) how tight it is there."""
    if limit_mm <= 0:
        return np.empty((0, 2)), np.empty(0)
    is_sharp = np.abs(loop.turns_rad) > SHARP_RAD
    swept = np.abs(4 * np.arctan(loop.bulges))
    is_tight = (loop.arc_radii_mm < limit_mm - SLACK_MM) & (swept > SHARP_RAD) & loop.is_arc
    edges = np.flatnonzero(is_tight)
    middles = loop.points_along(edges, np.full(len(edges), 0.5))
    where = np.concatenate([loop.vertices_mm[is_sharp], middles])
    return where, np.concatenate([np.zeros(int(is_sharp.sum())), loop.arc_radii_mm[edges]])
