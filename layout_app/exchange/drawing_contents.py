"""Everything drawn in model space, blocks opened up: the curves, and a tally of what is not one."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout_app.exchange.drawing_curves import (
    CURVE_KINDS,
    FARTHEST_MM,
    NotUsableError,
    OutOfReachError,
    Strand,
    curve_edges,
)
from layout_app.exchange.drawing_errors import DrawingError, DrawingSizeError, NoLayerError, printable
from layout_app.exchange.drawing_units import USUAL_HOUSING_MM, LengthUnit, in_other_units

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.math import Matrix44

MAX_ENTITIES = 100_000  # after opening blocks; the largest rack drawn with every cell has a quarter of it
MAX_BLOCK_DEPTH = 32  # blocks within blocks; deeper ones are a slip, or go in circles

NOTES = {
    *("TEXT", "MTEXT", "RTEXT", "ATTDEF", "ATTRIB", "SHAPE", "TABLE", "ACAD_TABLE", "TOLERANCE", "POINT"),
    *("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER"),
    *("HATCH", "MPOLYGON", "WIPEOUT", "IMAGE"),
}


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """What was found: curves in mm, and (kind, layer, reason) of everything left out, counted."""

    strands: tuple[Strand, ...]
    left_out: Counter[tuple[str, str, str]]
    layers: tuple[str, ...]
    kinds: Counter[str]


@dataclass(slots=True, eq=False)
class _Walk:
    """One pass through a drawing."""

    path: Path
    document: Drawing
    unit: LengthUnit
    wanted: frozenset[str] | None
    strands: list[Strand] = field(default_factory=list)
    left_out: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    layers: dict[str, str] = field(default_factory=dict)
    kinds: Counter[str] = field(default_factory=Counter)
    n_seen: int = 0
    n_edges: int = 0


def drawing_contents(path: Path, document: Drawing, unit: LengthUnit, wanted: Iterable[str] | None) -> Contents:
    """Return the curves of model space in mm, on the layers wanted or on all that are visible.

    Hidden layers (off or frozen) and invisible entities are left out and tallied; naming a hidden layer shows it.
    In a block, layer 0 stands for the layer the block is placed on.

    Raises
    ------
    NoLayerError : a layer wanted is not in the drawing
    DrawingSizeError : a coordinate is no finite number, or too far away
    DrawingError : absurdly many entities
    """
    from ezdxf.math import Matrix44

    names = None if wanted is None else tuple(wanted)
    walk = _Walk(path, document, unit, None if names is None else frozenset(name.casefold() for name in names))
    for entity, layer, matrix in _visited(walk, document.modelspace(), Matrix44.scale(unit.mm), None, ()):
        _take(walk, entity, layer, matrix)
    for name in names or ():
        if name.casefold() not in walk.layers:
            raise NoLayerError(path, name, sorted(walk.layers.values()))
    return Contents(tuple(walk.strands), walk.left_out, tuple(walk.layers.values()), walk.kinds)


def _visited(
    walk: _Walk, entities: Iterable[Any], matrix: Matrix44, inherited: str | None, inside: tuple[str, ...]
) -> Iterator[tuple[Any, str, Matrix44]]:
    """Yield every entity that is not a block reference, with its layer and the way to mm."""
    for entity in entities:
        kind = printable(entity.dxftype())
        layer = printable(str(_attribute(entity, "layer", "0")))
        layer = inherited if layer == "0" and inherited is not None else layer
        _count(walk, kind)
        if kind != "INSERT":
            yield entity, layer, matrix
        elif (reason := _closed_block(walk, entity, layer, inside)) is not None:
            walk.left_out[kind, layer, reason] += 1
        else:
            block = walk.document.blocks.get(entity.dxf.name)
            for placed in _placements(walk, entity, layer):
                yield from _visited(walk, block, placed * matrix, layer, (*inside, block.name.casefold()))


def _count(walk: _Walk, kind: str, more: int = 1) -> None:
    walk.n_seen += more
    walk.kinds[kind] += more
    if walk.n_seen > MAX_ENTITIES:
        raise DrawingError(
            walk.path,
            f"the drawing has more than {MAX_ENTITIES} entities, blocks opened up. Save the outline on its own.",
        )


def _closed_block(walk: _Walk, insert: Any, layer: str, inside: tuple[str, ...]) -> str | None:
    """Return why a block reference is not opened, or None."""
    name = str(_attribute(insert, "name", ""))
    block = walk.document.blocks.get(name)
    name = printable(name)
    if block is None or block.block is None:
        return f"block {name!r} is missing"
    if block.block.is_xref or block.block.is_xref_overlay:
        return f"block {name!r} is another drawing"
    if block.name.casefold() in inside:
        return f"block {name!r} contains itself"
    if len(inside) >= MAX_BLOCK_DEPTH:
        return f"blocks nested more than {MAX_BLOCK_DEPTH} deep"
    return _hidden(walk, insert, layer)


def _placements(walk: _Walk, insert: Any, layer: str) -> list[Matrix44]:
    """Return the matrix of each place a block reference puts its block: one, or rows x columns of them."""
    from ezdxf.math import Matrix44, Vec3

    dxf = insert.dxf
    _count(walk, "INSERT", max(1, dxf.row_count) * max(1, dxf.column_count) - 1)
    try:
        base, ocs = insert.matrix44(), insert.ocs()
        steps = [
            ocs.to_wcs(Vec3(column * dxf.column_spacing, row * dxf.row_spacing).rotate_deg(dxf.rotation))
            for row in range(max(1, dxf.row_count))
            for column in range(max(1, dxf.column_count))
        ]
        return [base * Matrix44.translate(*step) for step in steps]
    except Exception as error:  # whatever a damaged entity makes the library trip over
        walk.left_out["INSERT", layer, _damage(error)] += 1
        return []


def _damage(error: Exception) -> str:
    return printable(f"damaged: {' '.join(str(error).split())[:80] or type(error).__name__}")


def _attribute(entity: Any, name: str, default: object) -> object:
    """Return an attribute of any entity, even of a kind the library does not know."""
    return getattr(entity.dxf, name) if entity.dxf.hasattr(name) else default


def _hidden(walk: _Walk, entity: Any, layer: str) -> str | None:
    """Return why an entity is not to be seen, or None. A layer asked for by name is seen whatever its state."""
    if _attribute(entity, "invisible", 0):
        return "invisible"
    if walk.wanted is not None and layer.casefold() in walk.wanted:
        return None
    if walk.document.layers.has_entry(layer):
        entry = walk.document.layers.get(layer)
        if entry.is_off():
            return "its layer is off"
        if entry.is_frozen():
            return "its layer is frozen"
    return None


def _take(walk: _Walk, entity: Any, layer: str, matrix: Matrix44) -> None:
    """Add one entity to the strands or to the tally."""
    kind = printable(entity.dxftype())
    walk.layers.setdefault(layer.casefold(), layer)
    reason = _not_wanted(walk, kind, layer) or _hidden(walk, entity, layer)
    if reason is not None:
        walk.left_out[kind, layer, reason] += 1
        return
    try:
        edges, closed = curve_edges(entity, matrix)
    except NotUsableError as why:
        walk.left_out[kind, layer, str(why)] += 1
        return
    except OutOfReachError as far:
        raise _size_error(walk, kind, layer, far.value_mm) from None
    except Exception as error:  # as in INSERT: told in the summary, so nothing goes missing unsaid
        walk.left_out[kind, layer, _damage(error)] += 1
        return
    walk.n_edges += len(edges)
    if walk.n_edges > MAX_ENTITIES:
        raise DrawingError(walk.path, f"the curves have more than {MAX_ENTITIES} edges. Save the outline on its own.")
    walk.strands.append(Strand(kind, layer, edges, closed))


def _not_wanted(walk: _Walk, kind: str, layer: str) -> str | None:
    if kind in NOTES:
        return "annotation"
    if kind not in CURVE_KINDS:
        return "not an outline"
    if walk.wanted is not None and layer.casefold() not in walk.wanted:
        return "another layer was asked for"
    return None


def _size_error(walk: _Walk, kind: str, layer: str, value_mm: float) -> DrawingSizeError:
    if not math.isfinite(value_mm):
        reason = "has a coordinate that is not a finite number. Draw it again."
    else:
        others = in_other_units(value_mm, walk.unit, *USUAL_HOUSING_MM)
        reason = (
            f"lies {value_mm / 1e6:.3g} km from the origin in {walk.unit.plural}; at most {FARTHEST_MM / 1e6:g} km is "
            "possible. " + (f"It would be {others}: ask for the right units." if others else "Move the drawing nearer.")
        )
    return DrawingSizeError(walk.path, f"a {kind} on layer {layer} {reason}")
