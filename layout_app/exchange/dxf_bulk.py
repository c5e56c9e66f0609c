"""Circles, numbers and signs by the thousand, written as DXF text in the form ezdxf would give them.

A drawing of a large rack holds 40 000 of these and little else; as text each takes a tenth of the time it takes as an
object. Everything else in our drawings goes through ezdxf, which also frames the file.
"""

from __future__ import annotations

from typing import Any

from layout_app.exchange.dxf_layers import DxfVersion

_ENTITIES, _END = "  0\nSECTION\n  2\nENTITIES\n", "  0\nENDSEC\n"


class Bulk:
    """Entities of one drawing's model space, kept as text until the drawing is written."""

    def __init__(self, drawing: Any, version: DxfVersion) -> None:
        self._drawing = drawing
        self._entities: list[str] = []  # what follows the handle, kind first
        owner = drawing.modelspace().layout_key
        self._is_r12 = version == "R12"
        self._head = "" if self._is_r12 else f"330\n{owner}\n100\nAcDbEntity\n"

    def circle(self, x_mm: float, y_mm: float, radius_mm: float, layer: str) -> None:
        """Add a circle."""
        body = f" 10\n{x_mm}\n 20\n{y_mm}\n 30\n0.0\n 40\n{radius_mm}\n"
        self._add("CIRCLE", layer, self._subclass("AcDbCircle") + body)

    def number(self, number: int, x_mm: float, y_mm: float, height_mm: float, layer: str) -> None:
        """Add a number centred on a point, both ways."""
        place, subclass = f"{x_mm}\n 2%d\n{y_mm}\n 3%d\n0.0\n", self._subclass("AcDbText")
        body = f" 10\n{place % (0, 0)} 40\n{height_mm}\n  1\n{number}\n 72\n1\n 11\n{place % (1, 1)}{subclass} 73\n2\n"
        self._add("TEXT", layer, subclass + body)

    def block(self, name: str, x_mm: float, y_mm: float, size_mm: float, layer: str) -> None:
        """Add a block scaled alike in all directions; a scale of 1 goes without saying."""
        scale = "" if size_mm == 1 else f" 41\n{size_mm}\n 42\n{size_mm}\n 43\n{size_mm}\n"
        body = f"  2\n{name}\n 10\n{x_mm}\n 20\n{y_mm}\n 30\n0.0\n{scale}"
        self._add("INSERT", layer, self._subclass("AcDbBlockReference") + body)

    def reserve_handles(self) -> None:
        """Give every entity a handle of its own; to be called before the drawing is written."""
        handles = self._drawing.entitydb.handles
        first = int(str(handles), 16)
        handles.reset(f"{first + len(self._entities):X}")
        self._entities = [text % (first + k) for k, text in enumerate(self._entities)]

    def inserted(self, text: str) -> str:
        """Return the written drawing with these entities after those it has."""
        end = text.index(_END, text.index(_ENTITIES))
        return "".join((text[:end], *self._entities, text[end:]))

    def _subclass(self, name: str) -> str:
        return "" if self._is_r12 else f"100\n{name}\n"

    def _add(self, kind: str, layer: str, body: str) -> None:
        self._entities.append(f"  0\n{kind}\n  5\n%X\n{self._head}  8\n{layer}\n{body}")
