"""Derives the colour maps beside it: python resources/colour_maps/derive.py writes them anew. README.md says how."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

# linear sRGB to CIE XYZ under D65. Source: IEC 61966-2-1, to seven digits
TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
WHITE = TO_XYZ.sum(axis=1)
KNEE = 6 / 29  # source: CIE 15, inverse of L*a*b*

# found by search over starts, ends and bends of arcs in the a*b* plane that stay inside sRGB: the longest way, seen
# with each of the three colour vision deficiencies, that keeps a clear colour half-way
FIRST_HUE_DEG, FIRST_CHROMA, LAST_HUE_DEG, LAST_CHROMA, BEND = 340.0, 35.0, 100.0, 40.0, 0.7
DARKEST, LIGHTEST, N_STEPS = 16.0, 94.0, 256
# both arms of the other map: as dark and as colourful as sRGB allows on the axis that all kinds of sight keep
MIDDLE, ARM_END, N_ARM = 93.0, 34.0, 127
BELOW_HUE_DEG, ABOVE_HUE_DEG, ARM_CHROMA = 290.0, 45.0, 58.0


def linear_rgb(lab: np.ndarray) -> np.ndarray:
    """Return (n, 3) linear sRGB of (n, 3) CIE 1976 L*a*b* under D65. Source: CIE 15."""
    y = (lab[:, 0] + 16) / 116
    f = np.column_stack([y + lab[:, 1] / 500, y, y - lab[:, 2] / 200])
    return np.where(f > KNEE, f**3, 3 * KNEE**2 * (f - 4 / 29)) * WHITE @ np.linalg.inv(TO_XYZ).T


def code(linear: np.ndarray) -> list[str]:
    """Return colours as #rrggbb. Source of the curve: IEC 61966-2-1."""
    if linear.min() < -1e-3 or linear.max() > 1 + 1e-3:
        raise ValueError("The map leaves sRGB; its steps would not be even.")
    clipped = np.clip(linear, 0, 1)
    curve = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return ["#{:02x}{:02x}{:02x}".format(*row) for row in np.round(255 * curve).astype(int).tolist()]


def polar(hue_deg: float, chroma: float) -> complex:
    """Return a* + i b* of a hue angle and a chroma."""
    return chroma * np.exp(1j * np.radians(hue_deg))


def arc(first: complex, last: complex, bend: float, n: int) -> np.ndarray:
    """Return n points evenly along a circle's arc; `bend` is the tangent of a quarter of its angle, as in a drawing."""
    turn = 4 * np.arctan(bend)
    middle = first + (last - first) / 2 * (1 + 1j * np.tan(np.pi / 2 - turn / 2))
    return middle + (first - middle) * np.exp(1j * turn * np.linspace(0, 1, n))


def sequential() -> list[str]:
    """L* rises evenly while a*b* is walked evenly, so that every step has the same length."""
    plane = arc(polar(FIRST_HUE_DEG, FIRST_CHROMA), polar(LAST_HUE_DEG, LAST_CHROMA), BEND, N_STEPS)
    return code(linear_rgb(np.column_stack([np.linspace(DARKEST, LIGHTEST, N_STEPS), plane.real, plane.imag])))


def diverging() -> list[str]:
    """Two straight lines from ends of one lightness to a light grey between them."""
    share = np.linspace(0, 1, N_ARM + 1)[1:]
    lightness, arms = MIDDLE + (ARM_END - MIDDLE) * share, []
    for hue_deg in (BELOW_HUE_DEG, ABOVE_HUE_DEG):
        plane = polar(hue_deg, ARM_CHROMA) * share
        arms.append(np.column_stack([lightness, plane.real, plane.imag]))
    return code(linear_rgb(np.vstack([arms[0][::-1], [[MIDDLE, 0.0, 0.0]], arms[1]])))


# outside the range: told apart from every step of both maps with every kind of sight, found by search
BELOW, ABOVE = "#8b00ff", "#74ff00"
MAPS = {"sequential": sequential, "diverging": diverging}

if __name__ == "__main__":
    for name, make in MAPS.items():
        told = {"kind": name, "below": BELOW, "above": ABOVE, "steps": make()}
        (Path(__file__).parent / f"{name}.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
