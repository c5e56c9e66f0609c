"""The layers of our drawings: plain trade words, one kind of thing to a layer, cuts apart from everything else."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal, get_args

from layout_app.model.errors import LayoutError

DxfVersion = Literal["R2010", "R12"]
DXF_VERSIONS: tuple[DxfVersion, ...] = get_args(DxfVersion)

SEGMENT_OUTLINE = "SEGMENT_OUTLINE"
WINDOW = "WINDOW"
HOLE = "HOLE"
HOUSING = "HOUSING"
KEEP_OUT = "KEEP_OUT"
CELL = "CELL"
POLARITY = "POLARITY"
GROUP_NUMBER = "GROUP_NUMBER"
SEGMENT_NUMBER = "SEGMENT_NUMBER"
HOLE_NUMBER = "HOLE_NUMBER"
HOLE_TABLE = "HOLE_TABLE"
TITLE = "TITLE"
CAUTION = "CAUTION"

CUT_LAYERS = (SEGMENT_OUTLINE, WINDOW, HOLE)  # what the cutter follows; all else is to be read

# colour index (group 62) of each layer: cuts warm, what is given grey, what is read cool
_COLOURS = {
    SEGMENT_OUTLINE: 32,
    WINDOW: 12,
    HOLE: 22,
    HOUSING: 250,
    KEEP_OUT: 252,
    CELL: 253,
    POLARITY: 240,
    GROUP_NUMBER: 92,
    SEGMENT_NUMBER: 150,
    HOLE_NUMBER: 8,
    HOLE_TABLE: 8,
    TITLE: 250,
    CAUTION: 10,
}
PLUS, MINUS = "POSITIVE_END", "NEGATIVE_END"  # blocks, one unit wide
_CELL_DASHES = "CELL_DASHES"


def require_version(version: str) -> DxfVersion:
    """Return the version if we write it, else raise a LayoutError that names those we do."""
    for known in DXF_VERSIONS:
        if version.upper() == known:
            return known
    raise LayoutError(f"DXF version {version!r} is not one this program writes; use {' or '.join(DXF_VERSIONS)}.")


def new_drawing(version: DxfVersion, cell_diameter_mm: float) -> Any:
    """Return an empty drawing in millimetres with our layers, the cell's dashes and the two polarity signs."""
    from ezdxf import units
    from ezdxf.filemanagement import new

    with as_we_write():
        drawing: Any = new(version)
        drawing.units = units.MM
    drawing.header["$MEASUREMENT"] = 1
    dash, space = 0.12 * cell_diameter_mm, 0.06 * cell_diameter_mm
    drawing.linetypes.add(_CELL_DASHES, [dash + space, dash, -space], description="cell __ __ __")
    for name, colour in _COLOURS.items():
        drawing.layers.add(name, color=colour, linetype=_CELL_DASHES if name == CELL else "Continuous")
    for name in (PLUS, MINUS):
        block = drawing.blocks.new(name)
        block.add_line((-0.5, 0), (0.5, 0))  # on layer 0: takes the layer it is inserted on
        if name == PLUS:
            block.add_line((0, -0.5), (0, 0.5))
    return drawing


@contextmanager
def as_we_write() -> Iterator[None]:
    """Have ezdxf write a fixed date and fixed GUIDs, and keep to itself that R12 has no units.

    Its only switch for the first is a global option; the second it would log as a warning for every drawing.
    """
    import ezdxf  # here, so that commands that draw nothing start without it

    options = ezdxf.options  # type: ignore[attr-defined]  # ezdxf does not mark what it hands on
    log = logging.getLogger("ezdxf")
    before = options.write_fixed_meta_data_for_testing, log.disabled
    options.write_fixed_meta_data_for_testing = log.disabled = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing, log.disabled = before
