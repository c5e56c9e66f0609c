"""Contacts: resistances between contacts on a sheet of metal of any shape, with an estimate of their error.

`contact_resistances` is the entry: a shapely polygon with holes, a thickness, a resistivity and contacts in; a matrix
of resistances out. A contact is metal held at one potential. No current flows in the sheet under it, so the metal
under it is taken away and the edge it leaves is held instead.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from layout_app.geometry.arrays import FloatArray, IntArray
from layout_app.geometry.mesh_nodes import Sizes
from layout_app.geometry.mesh_rings import Rings
from layout_app.geometry.meshes import MeshError, mesh_of
from layout_app.model.errors import LayoutError
from layout_app.model.validation import require_number
from layout_app.physics.contact_marks import ContactError, marked_rings
from layout_app.physics.contact_sizes import sizes_at_contacts
from layout_app.physics.sheet import Sheet

if TYPE_CHECKING:
    from shapely import LineString, MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

ON_EDGE_SHARE = 1e-5  # of the metal's extent: how far from its edge a line may lie and still be on it
APART_SHARE = 1e-6  # of the metal's extent: contacts closer together touch
CUT_SHARE = 1e-9  # as ON_EDGE_SHARE, for the edge an area leaves when it is cut out: only rounding lies between
EDGES_ALONG = 36.0  # mesh edges along the square root of the metal's area, where nothing asks for more
LEAST_RADIUS = 1e-6  # of the metal's extent: nodes round a smaller contact drown in rounding
POINT_QUARTER = 64  # chords in a quarter of a round contact
LINES = ("LineString", "LinearRing", "MultiLineString")
RATE_FACTOR = 4.0  # halving the size of linear triangles divides the error by this
ERROR_SHARE = 2 / 3  # of the difference of two meshes: bounds what is left even where singular places slow that down


@dataclass(frozen=True, slots=True)
class PatchContact:
    """A contact over an area: a polygon, or several that are joined outside the sheet."""

    area: Polygon | MultiPolygon


@dataclass(frozen=True, slots=True)
class EdgeContact:
    """A contact along a piece of the metal's edge, the outline or a hole: a line that runs on it."""

    line: LineString


@dataclass(frozen=True, slots=True)
class PointContact:
    """A round contact of a given radius; its middle may lie on the edge, where only part of it is on the metal."""

    x_mm: float
    y_mm: float
    radius_mm: float


class TooFineError(LayoutError):
    """Metal whose edges all but touch, or whose details drown in rounding."""


Contact: TypeAlias = PatchContact | EdgeContact | PointContact


@dataclass(frozen=True, slots=True, eq=False)
class ContactResistances:
    """What a sheet does between its contacts.

    Attributes
    ----------
    conductance_s : (k, k) float array: currents into the contacts = conductance_s @ potentials of the contacts
    resistance_ohm : (k, k) float array: between every two contacts, the others left open; infinite where no metal
        joins them
    error_ohm : (k, k) float array: estimate of how far each resistance may be off
    coarse_ohm : (k, k) float array: what the coarser of the two meshes says
    n_triangles : of the finer of the two meshes
    """

    conductance_s: FloatArray
    resistance_ohm: FloatArray
    error_ohm: FloatArray
    coarse_ohm: FloatArray
    n_triangles: int

    def transfer_ohm(self, fed: tuple[int, int], sensed: tuple[int, int]) -> float:
        """Return the voltage between the `sensed` contacts over a current from the first to the second of `fed`.

        Positive when the first sensed contact is at the higher potential.
        """
        return _transfer(self.resistance_ohm, fed, sensed)

    def transfer_error_ohm(self, fed: tuple[int, int], sensed: tuple[int, int]) -> float:
        """Return the estimate of how far `transfer_ohm` may be off."""
        beyond_coarse = _transfer(self.resistance_ohm - self.coarse_ohm, fed, sensed)
        return abs(beyond_coarse) * ERROR_SHARE * (RATE_FACTOR - 1) / RATE_FACTOR


def _transfer(r: FloatArray, fed: tuple[int, int], sensed: tuple[int, int]) -> float:
    (a, b), (c, d) = fed, sensed
    return float(r[a, d] + r[b, c] - r[a, c] - r[b, d]) / 2


def contact_resistances(
    metal: Polygon | MultiPolygon,
    *,
    thickness_mm: float,
    resistivity_ohm_m: float,
    contacts: Sequence[Contact],
    mesh_mm: float | None = None,
) -> ContactResistances:
    """Return the resistances between contacts on a sheet.

    Parameters
    ----------
    metal : polygon, mm, with any holes
    thickness_mm, resistivity_ohm_m : of the sheet, uniform
    contacts : two or more, none touching another
    mesh_mm : length of the coarse mesh's longest edges; the fine one halves them. By default a thirty-sixth of the
        square root of the metal's area. Meshes are finer by themselves where metal is narrow, at inside corners, at
        small contacts and at the ends of edge contacts.

    Returns
    -------
    ContactResistances : extrapolated from two meshes, with the error estimated from their difference

    Raises
    ------
    LayoutError : shapes that are no sound polygons, contacts off the metal or touching, sizes that are not positive

    >>> import shapely
    >>> ends = [EdgeContact(shapely.LineString([(x, 0), (x, 10)])) for x in (0, 30)]
    >>> found = contact_resistances(shapely.box(0, 0, 30, 10), thickness_mm=0.5, resistivity_ohm_m=1.7241e-8,
    ...                             contacts=ends)
    >>> f"{found.resistance_ohm[0, 1]:.6e}"  # three squares
    '1.034460e-04'
    """
    require_number("sheet thickness", thickness_mm, above=0, most=1e3)
    require_number("resistivity", resistivity_ohm_m, above=0, most=1e3)
    if mesh_mm is not None:
        require_number("mesh size", mesh_mm, above=0)
    _require_sound(metal, "The metal")
    if len(contacts) < 2:
        raise LayoutError(f"A resistance lies between two contacts; {len(contacts)} given. Give at least two.")
    sheet_s = thickness_mm * 1e-3 / resistivity_ohm_m
    coarse = contacted_sheet(metal, contacts, sheet_s, mesh_mm)
    fine = coarse.refined()
    return extrapolated(coarse, fine)


def extrapolated(coarse: Sheet, fine: Sheet) -> ContactResistances:
    """Return what two meshes of one family tell: Richardson's extrapolation, and an error from their difference.

    The extrapolation takes the error as falling with the square of the size; where singular places slow that down to
    the first power, two thirds of the difference still bound what is left.
    """
    g = [sheet.contact_conductance_s() for sheet in (coarse, fine)]
    r = [resistances_ohm(matrix, fine.part_of_unknowns[fine.n_free :]) for matrix in g]
    with np.errstate(invalid="ignore"):  # infinity less infinity, put right below
        step = np.where(np.isfinite(r[1]), r[1] - r[0], 0.0)
    return ContactResistances(
        conductance_s=g[1] + (g[1] - g[0]) / (RATE_FACTOR - 1),
        resistance_ohm=r[1] + step / (RATE_FACTOR - 1),
        error_ohm=np.abs(step) * ERROR_SHARE,
        coarse_ohm=r[0],
        n_triangles=len(fine.mesh.triangles),
    )


def resistances_ohm(conductance_s: FloatArray, parts: IntArray) -> FloatArray:
    """Return the (k, k) resistances between every two contacts; infinite between contacts of different parts.

    With the contacts of a part all tied softly to ground the matrix can be inverted, and R_ab = Z_aa + Z_bb - 2 Z_ab is
    the same whatever the tie.
    """
    k = len(conductance_s)
    same = parts[:, None] == parts[None, :]
    tie = np.where(same, np.abs(np.diag(conductance_s)).mean() / k, 0.0)
    z = np.linalg.inv(conductance_s + tie)
    between = np.diag(z)[:, None] + np.diag(z)[None, :] - 2 * z
    np.fill_diagonal(between, 0.0)
    return np.where(same, between, np.inf)


def contacted_sheet(
    metal: Polygon | MultiPolygon,
    contacts: Sequence[Contact],
    sheet_s: float,
    mesh_mm: float | None = None,
    sizing: Callable[[Rings], Sizes] | None = None,
) -> Sheet:
    """Return the coarse mesh of the metal the contacts leave, with its edges marked by contact.

    `sizing` makes the sizes wanted from the marked rings; without it `sizes_at_contacts` does, from `mesh_mm`.

    Raises
    ------
    LayoutError : a contact off the metal, or contacts that touch or leave nothing between them
    """
    import shapely

    extent = float(np.ptp(np.array(metal.bounds).reshape(2, 2), axis=0).max())
    _require_contacts(contacts, extent)
    areas = [_area(contact) for contact in contacts]
    covered = [area for area in areas if area is not None]
    left = shapely.difference(metal, shapely.union_all(covered)) if covered else metal
    pieces = [piece for piece in shapely.get_parts(left) if piece.geom_type == "Polygon" and piece.area > 0]
    if not pieces:
        raise ContactError("The contacts cover all of the metal. Make them smaller.", tuple(range(len(contacts))))
    lines = [_outline(contact, area) for contact, area in zip(contacts, areas, strict=True)]
    _require_apart(lines, extent)
    on_edge = np.array([ON_EDGE_SHARE if area is None else CUT_SHARE for area in areas])
    rings = marked_rings(Rings.of(pieces), lines, extent * on_edge)
    size_mm = mesh_mm if mesh_mm is not None else float(np.sqrt(metal.area)) / EDGES_ALONG
    try:
        mesh = mesh_of(rings, sizing(rings) if sizing is not None else sizes_at_contacts(rings, size_mm))
    except MeshError as error:
        raise TooFineError(
            f"This metal cannot be meshed: {error} Leave out details that small, or move contacts apart."
        ) from error
    return Sheet(mesh, sheet_s, len(contacts))


def _require_sound(shape: BaseGeometry, name: str) -> None:
    import shapely

    if getattr(shape, "geom_type", None) not in ("Polygon", "MultiPolygon") or shape.is_empty:
        raise LayoutError(f"{name} must be a polygon or several, and not empty.")
    if not shape.is_valid:
        raise LayoutError(f"{name} is no sound polygon: {shapely.is_valid_reason(shape)}. Put its outline right.")


def _require_contacts(contacts: Sequence[Contact], extent: float) -> None:
    """Raise when something given as a contact is none, or too small to be solved."""
    for k, contact in enumerate(contacts):
        if isinstance(contact, PatchContact):
            _require_sound(contact.area, f"The area of contact {k} (counted from 0)")
        elif isinstance(contact, PointContact):
            require_number(f"x of contact {k} (counted from 0)", contact.x_mm)
            require_number(f"y of contact {k} (counted from 0)", contact.y_mm)
            require_number(f"radius of contact {k} (counted from 0)", contact.radius_mm, above=0)
            if contact.radius_mm < LEAST_RADIUS * extent:
                raise ContactError(
                    f"Contact {k} (counted from 0) has a radius of {contact.radius_mm:g} mm; on metal {extent:.4g} mm "
                    f"across it must be at least {LEAST_RADIUS * extent:.4g} mm to be solved.",
                    (k,),
                )
        elif not isinstance(contact, EdgeContact):
            raise ContactError(
                f"Contact {k} (counted from 0) is a {type(contact).__name__}. Give a PatchContact, an EdgeContact or a "
                "PointContact.",
                (k,),
            )
        elif getattr(contact.line, "geom_type", None) not in LINES or not 0 < contact.line.length < np.inf:
            raise ContactError(f"Edge contact {k} (counted from 0) must be a line with a length.", (k,))


def _area(contact: Contact) -> BaseGeometry | None:
    import shapely

    if isinstance(contact, EdgeContact):
        return None
    if isinstance(contact, PatchContact):
        return contact.area
    turn = np.pi / 2 / POINT_QUARTER
    same_area = np.sqrt(turn / np.sin(turn))  # chords of a circle enclose less, and spread current like a smaller one
    return shapely.Point(contact.x_mm, contact.y_mm).buffer(contact.radius_mm * same_area, quad_segs=POINT_QUARTER)


def _outline(contact: Contact, area: Any) -> BaseGeometry:
    return contact.line if isinstance(contact, EdgeContact) else area.boundary


def _require_apart(lines: Sequence[BaseGeometry], extent: float) -> None:
    import shapely

    tree = shapely.STRtree(lines)
    one, other = tree.query(lines, predicate="dwithin", distance=extent * APART_SHARE)
    touching = np.flatnonzero(one < other)
    if len(touching):
        a, b = int(one[touching[0]]), int(other[touching[0]])
        raise ContactError(
            f"Contacts {a} and {b} (counted from 0) touch, so there is no resistance between them. Move them apart.",
            (a, b),
        )
