"""Metal fields: the sheet all segments are cut from, and what their outlines keep to."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication

from layout_app.edits import ChangePlates
from layout_app.model.catalogues import materials
from layout_app.model.layouts import Layout
from layout_app.window.panels.fields import Field

translate = QCoreApplication.translate


def metal_fields(layout: Layout, number: Callable[..., Field], choice: Callable[..., Field]) -> list[Field]:
    """Return the fields in the order shown.

    Parameters
    ----------
    number, choice : make a field that shows what a function reads from a layout and asks for the edit another makes
    """
    known = materials()
    known.setdefault(layout.plates.material.id, layout.plates.material)
    material = choice(
        translate("settings", "Material"),
        [(id_, kind.name) for id_, kind in known.items()],
        lambda layout: layout.plates.material.id,
        lambda id_: ChangePlates({"material": known[id_]}),
        tip=translate("settings", "Sheet metal of all segments"),
    )
    borders = choice(
        translate("settings", "Borders"),
        (("zigzag", translate("settings", "Zigzag")), ("straight", translate("settings", "Smoothed"))),
        lambda layout: layout.plates.borders,
        lambda value: ChangePlates({"borders": value}),
        tip=translate("settings", "Gap between two segments: around every cell, or smoothed where there is room"),
    )
    rows = [
        (
            translate("settings", "Sheet thickness"),
            "thickness_mm",
            translate("settings", "Thickness of the sheet"),
        ),
        (translate("settings", "Insulation gap"), "gap_mm", translate("settings", "Between segments of a face")),
        (
            translate("settings", "Setback"),
            "setback_mm",
            translate("settings", "Metal to the housing's wall and keep-outs"),
        ),
        (
            translate("settings", "Corner radius"),
            "corner_radius_mm",
            translate("settings", "Least radius of any corner of an outline"),
        ),
        (
            translate("settings", "Least web"),
            "min_web_mm",
            translate("settings", "Least metal between windows and from a window to the edge"),
        ),
        (
            translate("settings", "Shoulder clearance"),
            "shoulder_clearance_mm",
            translate("settings", "Window edge to the can's shoulder"),
        ),
        (
            translate("settings", "Positive window"),
            "positive_window_mm",
            translate("settings", "Diameter over a button"),
            translate("settings", "from the cell"),
        ),
        (
            translate("settings", "Negative window"),
            "negative_window_mm",
            translate("settings", "Diameter over a can bottom"),
            translate("settings", "from the cell"),
        ),
    ]
    return [material, borders, *(_plate_number(number, *row) for row in rows)]


def _plate_number(
    number: Callable[..., Field], label: str, field: str, tip: str, none_text: str | None = None
) -> Field:
    return number(
        label, "mm", lambda layout: getattr(layout.plates, field), lambda value: ChangePlates({field: value}),
        tip=tip, none_text=none_text,
    )  # fmt: skip
