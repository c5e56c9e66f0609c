"""Readings: what the currents are under the pointer, in words for the line at the foot of the window."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from layout_app.model.layouts import Layout
from layout_app.physics.current_figures import share_of_mean
from layout_app.physics.currents import Currents
from layout_app.physics.joints import joint_ohm
from layout_app.window.maps.kinds import translate
from layout_app.window.maps.sheet_work import SheetResult
from layout_app.window.maps.values import MW_CM2_PER_W_MM2, PER_MILLI, mean_potential_v, triangle_under


def number_words(value: float, digits: int = 3) -> str:
    """Return a number with so many digits that count, without powers of ten where that can be.

    >>> number_words(1234.5), number_words(-0.01234), number_words(0.0)
    ('1230', '−0.0123', '0')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "–"
    places = digits - 1 - int(f"{value:.{digits - 1}e}".partition("e")[2])  # of the number as rounded
    rounded = round(value, places) + 0.0
    text = f"{rounded:.{max(places, 0)}f}" if -2 < places < 8 or places < 0 else f"{rounded:.{digits}g}"
    return text.replace("-", "−")


def cell_words(layout: Layout, found: Currents, cell: int, factor: float) -> list[str]:
    """Return what a cell carries; `factor` is the current looked at over that solved for."""
    if not 0 <= cell < len(found.solved.cell_current_a) or len(found.solved.cell_current_a) != len(layout.cells):
        return []
    if not layout.cells.groups[cell]:
        return [translate("Maps", "carries nothing")]
    current = float(found.solved.cell_current_a[cell]) * factor
    share = float(share_of_mean(layout, found.solved.cell_current_a)[cell])
    joint_mw = PER_MILLI * current**2 * joint_ohm(layout.joints)
    return [
        translate("Maps", "{current} A, {share} of the mean").format(
            current=number_words(current), share=f"{share:.3f}"
        ),
        translate("Maps", "each joint {loss} mW").format(loss=number_words(joint_mw)),
    ]


def sheet_words(
    result: SheetResult,
    segments: Sequence[int],
    spot_mm: tuple[float, float],
    factor: float,
    *,
    is_mirrored: bool = False,
) -> list[str]:
    """Return potential, density with its direction as seen, and loss in the first segment with metal under a point."""
    for number in segments:
        if number >= len(result.fields):
            continue
        field = result.fields[number]
        triangle = triangle_under(field, *spot_mm)
        if triangle is None:
            continue
        potential = float(field.potential_v[field.mesh.triangles[triangle]].mean())
        if not math.isfinite(potential):
            return [translate("Maps", "no current reaches this metal")]
        density = field.density_a_mm2[triangle] * factor
        size = float(np.hypot(*density))
        way = math.degrees(math.atan2(density[1], -density[0] if is_mirrored else density[0])) % 360
        loss = float(field.loss_w_mm2[triangle]) * factor**2 * MW_CM2_PER_W_MM2
        about = PER_MILLI * (potential - mean_potential_v(field)) * factor
        return [
            translate("Maps", "{size} A/mm² {arrow} {way}°").format(
                size=number_words(size), arrow=arrow(way), way=round(way) % 360
            ),
            translate("Maps", "{volts} mV about the mean").format(volts=number_words(about)),
            translate("Maps", "{loss} mW/cm²").format(loss=number_words(loss)),
        ]
    return []


def arrow(way_deg: float) -> str:
    """Return the arrow nearest to a direction, counter-clockwise from the right.

    >>> arrow(100.0), arrow(350.0)
    ('↑', '→')
    """
    return "→↗↑↖←↙↓↘"[round(way_deg / 45) % 8]
