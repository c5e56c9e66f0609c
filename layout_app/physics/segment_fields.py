"""Segment fields: what flows where in the sheet of a segment, for maps and for the peaks a reader may rely on.

Where metal is held at one potential round a corner, linear theory has no bound: the density there is whatever the mesh
makes of it. So two peaks are told: one away from all contacts, and one at the feet, as a mean over a stretch as long as
the sheet is thick, for below that the sheet is no plane any more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, PointArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.sheet import Sheet

if TYPE_CHECKING:
    from shapely import MultiPolygon

AWAY_MM = 2.0  # from a contact's edge: further off the density is the plate's, nearer it is the contact's


@dataclass(frozen=True, slots=True, eq=False)
class SegmentField:
    """What flows in one segment's sheet.

    Attributes
    ----------
    mesh : the finer mesh
    potential_v : (n,) float array, of each mesh point; NaN on metal no contact reaches
    density_a_mm2 : (t, 2) float array, in each triangle; there and in the loss, 0 on metal no contact reaches
    loss_w_mm2 : (t,) float array, per area of sheet
    peak_a_mm2 : float, largest density further than two millimetres from every foot and from the terminal's edge
    peak_mm : (x, y) of it
    peak_error_a_mm2 : float, how far two meshes put the peak apart; at an inside corner that is not rounded the
        density has no bound, and this stays large
    foot_a_mm2 : float, largest mean density over the edge of a land's feet
    foot_peak_a_mm2 : float, largest mean density over a stretch of a foot's edge as long as the sheet is thick
    foot_peak_mm : (x, y) of it
    """

    mesh: Mesh
    potential_v: FloatArray
    density_a_mm2: FloatArray
    loss_w_mm2: FloatArray
    peak_a_mm2: float
    peak_mm: tuple[float, float]
    peak_error_a_mm2: float
    foot_a_mm2: float
    foot_peak_a_mm2: float
    foot_peak_mm: tuple[float, float]

    @property
    def density_size_a_mm2(self) -> FloatArray:
        """(t,): how large the current density is in each triangle."""
        return np.asarray(np.hypot(*self.density_a_mm2.T))


def segment_field(
    coarse: Sheet,
    feet: Sequence[MultiPolygon],
    thickness_mm: float,
    contact_v: FloatArray,
    land_a: FloatArray,
) -> SegmentField:
    """Return what flows in a segment's sheet.

    Parameters
    ----------
    coarse : the coarse mesh, its contacts the lands and after them the terminal, if there is one
    feet : (w,) the metal each land takes
    contact_v : (k,) potentials of the contacts
    land_a : (w,) current of each land's cell
    """
    level_v = float(contact_v.mean())  # drops of microvolts lose digits beside hundreds of volts
    fine = coarse.refined()
    flows = [_Flow.of(sheet, contact_v - level_v, thickness_mm) for sheet in (coarse, fine)]
    peaks = [flow.peak(AWAY_MM) for flow in flows]
    flow = flows[1]
    foot_peak_a_mm2, foot_peak_mm = flow.foot_peak(len(feet))
    round_feet = np.array([foot.length for foot in feet])
    return SegmentField(
        mesh=fine.mesh,
        potential_v=flow.potential_v + level_v,
        density_a_mm2=flow.density_a_mm2,
        loss_w_mm2=np.nan_to_num(fine.losses_w_mm2(flow.potential_v)),
        peak_a_mm2=peaks[1][0],
        peak_mm=peaks[1][1],
        peak_error_a_mm2=abs(peaks[1][0] - peaks[0][0]),
        foot_a_mm2=float((np.abs(land_a) / (round_feet * thickness_mm)).max(initial=0.0)),
        foot_peak_a_mm2=foot_peak_a_mm2,
        foot_peak_mm=foot_peak_mm,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Flow:
    """What flows on one mesh."""

    sheet: Sheet
    thickness_mm: float
    potential_v: FloatArray
    density_a_mm2: FloatArray

    @classmethod
    def of(cls, sheet: Sheet, contact_v: FloatArray, thickness_mm: float) -> _Flow:
        potential_v = sheet.potentials_v(contact_v)
        return cls(sheet, thickness_mm, potential_v, np.nan_to_num(sheet.densities_a_mm2(potential_v, thickness_mm)))

    def peak(self, away_mm: float) -> tuple[float, tuple[float, float]]:
        """Return the largest density away from the contacts, and where it is.

        The size of a harmonic function's gradient is largest on the edge of where it is looked at: on the metal's edge,
        or where "away" begins, which lies inside.
        """
        mesh = self.sheet.mesh
        along = np.nan_to_num(self.sheet.edge_densities_a_mm2(self.potential_v, self.thickness_mm))
        size = np.concatenate([along, np.hypot(*self.density_a_mm2.T)])
        middle = np.vstack([mesh.points_mm[part].mean(axis=1) for part in (mesh.edges, mesh.triangles)])
        largest = np.argsort(-size)
        held = mesh.points_mm[self.sheet.contact_of_points >= 0]
        first = _first_away(middle[largest], held, away_mm)
        if first is None:
            return 0.0, (float(middle[0, 0]), float(middle[0, 1]))
        k = int(largest[first])
        return float(size[k]), (float(middle[k, 0]), float(middle[k, 1]))

    def foot_peak(self, n_lands: int) -> tuple[float, tuple[float, float]]:
        """Return the largest mean density over a stretch of a foot's edge as long as the sheet is thick, and where."""
        from scipy.spatial import cKDTree

        mesh, contact = self.sheet.mesh, self.sheet.contact_of_points
        foot = np.flatnonzero((contact >= 0) & (contact < n_lands))
        if len(foot) == 0:
            return 0.0, (float(mesh.points_mm[0, 0]), float(mesh.points_mm[0, 1]))
        tree = cKDTree(mesh.points_mm[foot])
        together = tree.sparse_distance_matrix(tree, self.thickness_mm / 2, output_type="coo_matrix")
        row, column = together.row, together.col
        same = contact[foot[row]] == contact[foot[column]]
        inflow, length = self.sheet.inflows_a(self.potential_v)[foot], _lengths_held(self.sheet)[foot]
        sums = [
            np.bincount(row[same], weights=each[column[same]], minlength=len(foot)) for each in (np.abs(inflow), length)
        ]
        mean = sums[0] / (sums[1] * self.thickness_mm)
        k = int(mean.argmax())
        return float(mean[k]), (float(mesh.points_mm[foot[k], 0]), float(mesh.points_mm[foot[k], 1]))


def _lengths_held(sheet: Sheet) -> FloatArray:
    """Return the (n,) length of contact's edge that belongs to each mesh point: half of each edge beside it."""
    held = sheet.mesh.edge_marks >= 0
    half = np.diff(sheet.mesh.edge_ends_mm[held], axis=1)[:, 0] / 2
    n = len(sheet.mesh.points_mm)
    start, end = sheet.mesh.edges[held].T
    return np.asarray(np.bincount(start, weights=half, minlength=n) + np.bincount(end, weights=half, minlength=n))


def _first_away(points: PointArray, centres: PointArray, reach_mm: float) -> int | None:
    """Return the first of the points that lies away from all centres; most often one of the very first."""
    from scipy.spatial import cKDTree

    tree, begin, n = cKDTree(centres), 0, 256
    while begin < len(points):
        distance, _ = tree.query(points[begin : begin + n], distance_upper_bound=reach_mm)
        is_away: BoolArray = ~np.isfinite(distance)
        if is_away.any():
            return begin + int(is_away.argmax())
        begin, n = begin + n, 4 * n
    return None
