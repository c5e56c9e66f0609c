"""Small drawings for tests, written with the DXF library alone."""

from pathlib import Path

import ezdxf
from ezdxf.document import Drawing

FOOTPRINTS = Path(__file__).parents[1] / "data" / "footprints"
SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


def new(release: str = "R2010", units: int = 4) -> Drawing:
    """An empty drawing; units is $INSUNITS."""
    document = ezdxf.new(release)
    if release != "R12":
        document.header["$INSUNITS"] = units
    return document


def polyline(space, points, **attributes):
    """A closed polyline of the kind the release has; points (x, y) or (x, y, bulge)."""
    rows = [(*point, 0)[:3] for point in points]
    if space.doc.dxfversion == "AC1009":
        return space.add_polyline2d(rows, format="xyb", close=True, dxfattribs=attributes)
    return space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=attributes)


def saved(document: Drawing, folder: Path, fmt: str = "asc", name: str = "housing.dxf") -> Path:
    """Save and return the path."""
    path = folder / name
    document.saveas(path, fmt=fmt)
    return path
