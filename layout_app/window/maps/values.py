"""Values of maps: what the currents say of each cell and of each triangle of sheet, and the range that shows it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.model.layouts import Layout
from layout_app.model.plates import Face
from layout_app.physics.current_figures import share_of_mean
from layout_app.physics.currents import Currents
from layout_app.physics.joints import joint_ohm
from layout_app.physics.segment_fields import SegmentField
from layout_app.plates.segments import Segment
from layout_app.window.maps import rasters
from layout_app.window.maps.colour_maps import Range
from layout_app.window.maps.kinds import Kind

PER_MILLI = 1e3
MW_CM2_PER_W_MM2 = 1e5
COVERED = 0.98  # of the metal lies in an automatic range: the rest is at feet and corners, where theory has no bound
NICE = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
MOST_PX_PER_MM = 12.0
AT_EDGE_MM2 = 1e-12
N_PIXELS = 6_000_000  # of both faces: 24 MB of values and as much of colours


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """A map's values on one face as pixels, float32; NaN where there is no metal."""

    frame: rasters.Frame
    values: FloatArray


def scale(kind: Kind, found: Currents, current_a: float | None) -> float:
    """Return by what values at the current solved for are multiplied to have them at another one."""
    solved_a = found.solved.current_a
    ratio = 1.0 if current_a is None or not solved_a else current_a / solved_a
    return abs(ratio) if kind.name == "density" else ratio**kind.power  # a density has no sign, a potential has


def cell_values(kind: Kind, layout: Layout, found: Currents) -> FloatArray:
    """Return (n,) the map's value of each cell, at the current solved for; NaN for cells in no group."""
    flow = found.solved.cell_current_a
    values = share_of_mean(layout, flow) if kind.name == "share" else PER_MILLI * flow**2 * joint_ohm(layout.joints)
    return np.where(layout.cells.groups > 0, values, np.nan)


def triangle_values(kind: Kind, field: SegmentField) -> FloatArray:
    """Return (t,) the map's value in the middle of each triangle."""
    if kind.name == "potential":
        return np.asarray(_potentials_mv(field)[field.mesh.triangles].mean(axis=1))
    return MW_CM2_PER_W_MM2 * field.loss_w_mm2 if kind.name == "loss" else field.density_size_a_mm2


def corner_values(kind: Kind, field: SegmentField) -> FloatArray:
    """Return (t, 3) the map's value at the corners of each triangle.

    Densities, which are one in each triangle, are the means of those around a corner.
    """
    triangles = field.mesh.triangles
    if kind.name == "potential":
        return np.asarray(_potentials_mv(field)[triangles])
    areas, n = field.mesh.areas_mm2, len(field.mesh.points_mm)
    weight = np.bincount(triangles.ravel(), weights=np.repeat(areas, 3), minlength=n)
    total = np.bincount(triangles.ravel(), weights=np.repeat(areas * triangle_values(kind, field), 3), minlength=n)
    return np.asarray((total / np.maximum(weight, 1e-300))[triangles])


def mean_potential_v(field: SegmentField) -> float:
    """Return the mean potential over a segment's metal."""
    of_triangles = field.potential_v[field.mesh.triangles].mean(axis=1)
    known = np.isfinite(of_triangles)
    return float(np.average(of_triangles[known], weights=field.mesh.areas_mm2[known])) if known.any() else 0.0


def _potentials_mv(field: SegmentField) -> FloatArray:
    return PER_MILLI * (field.potential_v - mean_potential_v(field))


def face_scale(segments: Sequence[Segment]) -> float:
    """Return the pixels a millimetre has on the pictures of both faces together, so that they stay within bounds."""
    area_mm2 = 0.0
    for face in ("top", "bottom"):
        box = _bounds_mm([segment for segment in segments if segment.face == face])
        area_mm2 += (box[2] - box[0]) * (box[3] - box[1]) if box is not None else 0.0
    return rasters.scale_for(area_mm2, N_PIXELS, MOST_PX_PER_MM)


def raster(
    kind: Kind,
    face: Face,
    segments: Sequence[Segment],
    fields: Sequence[SegmentField],
    px_per_mm: float,
    within_mm: tuple[float, float, float, float] | None = None,
) -> Raster | None:
    """Return a map of one face as pixels, at the current solved for; None when it has no metal there.

    Parameters
    ----------
    within_mm : the rectangle wanted (x min, y min, x max, y max); all of the face by default
    """
    here = [(s, f) for s, f in zip(segments, fields, strict=True) if s.face == face]
    box = _bounds_mm([segment for segment, _ in here]) if within_mm is None else within_mm
    if box is None:
        return None
    frame = rasters.Frame.around(box, px_per_mm)
    picture = np.full((frame.n_rows, frame.n_columns), np.nan, dtype=np.float32)
    for _, field in here:
        low, high = field.mesh.points_mm.min(axis=0), field.mesh.points_mm.max(axis=0)
        if (high >= box[:2]).all() and (low <= box[2:]).all():
            rasters.draw(picture, frame, field.mesh.points_mm, field.mesh.triangles, corner_values(kind, field))
    return Raster(frame, rasters.grown(picture))


def _bounds_mm(segments: Sequence[Segment]) -> tuple[float, float, float, float] | None:
    """Return the box round the metal of segments, bulges of arcs included; None without any."""
    boxes = np.array([contour.bounds_mm for segment in segments for contour in segment.contours()]).reshape(-1, 4)
    if not len(boxes):
        return None
    return (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())


def automatic_range(kind: Kind, values: FloatArray) -> Range:
    """Return the range for some values: all of them on cells, all but the highest peaks in sheet."""
    known = values[np.isfinite(values)]
    if not len(known):
        return Range(0.0, 1.0) if kind.middle is None else Range(kind.middle - 1, kind.middle + 1)
    if kind.middle is not None:
        reach = max(float(np.abs(known - kind.middle).max()), kind.least_spread * max(abs(kind.middle), 1e-3))
        return Range(kind.middle - nice(reach), kind.middle + nice(reach))
    if not kind.is_of_cells:
        return Range(0.0, nice(max(float(np.quantile(known, COVERED)), 1e-9)))
    low, high = float(known.min()), float(known.max())
    lacking = max(kind.least_spread * max(abs(high), 1e-9) - (high - low), 0.0) / 2
    low, high = low - lacking, high + lacking
    step = nice(high - low) / 10
    return Range(math.floor(low / step) * step, math.ceil(high / step) * step)


def nice(value: float) -> float:
    """Return the least round number that is not below a positive one.

    >>> nice(0.0231), nice(7.0)
    (0.025, 8.0)
    """
    power = 10.0 ** math.floor(math.log10(value))
    return next((step * power for step in NICE if step * power >= value * (1 - 1e-9)), 10 * power)


def triangle_under(field: SegmentField, x_mm: float, y_mm: float) -> int | None:
    """Return the triangle a point lies in, or None."""
    near = _with_box_over(field, x_mm, y_mm)
    a, b, c = np.moveaxis(field.mesh.points_mm[field.mesh.triangles[near]] - (x_mm, y_mm), 1, 0)
    turns = np.stack([p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] for p, q in ((a, b), (b, c), (c, a))])
    inside = np.flatnonzero((turns >= -AT_EDGE_MM2).all(axis=0))
    return int(near[inside[0]]) if len(inside) else None


def _with_box_over(field: SegmentField, x_mm: float, y_mm: float) -> IntArray:
    """Return the triangles that have corners on both sides of a point, across and along."""
    mesh = field.mesh
    sides = (mesh.points_mm[:, 0] <= x_mm, mesh.points_mm[:, 1] <= y_mm)
    left, below = (side[mesh.triangles].sum(axis=1) % 3 > 0 for side in sides)
    return np.flatnonzero(left & below)
