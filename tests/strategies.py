"""Hypothesis strategies for the model: any value that passes the door, however odd, down to the last bit of a float.

The layouts are valid, not sensible: cells may overlap or stand outside. Use ``from tests.strategies import layouts``.
"""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import wire_metals
from layout_app.model.cell_types import CellType, Contacts
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.joints import JointSettings
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.model.materials import Material
from layout_app.model.overrides import SegmentOverride
from layout_app.model.plates import BOLT_HOLE_MM, BorderStyle, PlateSettings, TabPlace, Terminal

FAR_MM = 1e6  # drawings lie anywhere: a kilometre from the origin leaves ten digits for the micrometre

lines = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=20)
words = st.text("abcdefghijklmnop0123456789-", min_size=1, max_size=20)
notes = st.text(max_size=40)


def numbers(least: float, most: float) -> st.SearchStrategy[float]:
    """Return floats from `least` to `most`, both included."""
    return st.floats(least, most, allow_nan=False)


def places_mm() -> st.SearchStrategy[tuple[float, float]]:
    """Return points within FAR_MM of the origin."""
    return st.tuples(numbers(-FAR_MM, FAR_MM), numbers(-FAR_MM, FAR_MM))


@st.composite
def cell_types(draw: st.DrawFn, contacts: str | None = None) -> CellType:
    """Return cell types within the bounds of the model, with both kinds of contacts unless one is given."""
    diameter_mm = draw(numbers(5, 100))
    button_mm = draw(numbers(0.1, diameter_mm))
    min_v = draw(numbers(0.5, 5))
    nominal_v = draw(numbers(min_v, 8))
    continuous_a = draw(numbers(0.1, 1000))
    return CellType(
        id=draw(words),
        name=draw(lines),
        diameter_mm=diameter_mm,
        diameter_tolerance_mm=draw(numbers(0, diameter_mm / 4)),
        height_mm=draw(numbers(1, 500)),
        mass_g=draw(numbers(0.1, 1e4)),
        capacity_ah=draw(numbers(0.01, 1e3)),
        voltage_min_v=min_v,
        voltage_nominal_v=nominal_v,
        voltage_max_v=draw(numbers(nominal_v, 10)),
        resistance_ohm=draw(numbers(1e-6, 1)),
        continuous_current_a=continuous_a,
        peak_current_a=draw(numbers(continuous_a, 1e4)),
        contacts=contacts or draw(st.sampled_from(get_args(Contacts))),
        button_diameter_mm=button_mm,
        shoulder_diameter_mm=draw(numbers(button_mm, diameter_mm)),
        bottom_diameter_mm=draw(numbers(0.1, diameter_mm)),
        source=draw(notes),
    )


@st.composite
def materials(draw: st.DrawFn) -> Material:
    """Return sheet materials within the bounds of the model."""
    low = draw(numbers(0.1, 100))
    return Material(
        id=draw(words),
        name=draw(lines),
        resistivity_ohm_m=draw(numbers(1e-9, 1e-6)),
        temperature_coefficient_per_k=draw(numbers(0, 0.1)),
        density_kg_m3=draw(numbers(100, 3e4)),
        conductivity_w_mk=draw(numbers(0.1, 1000)),
        heat_capacity_j_kgk=draw(numbers(10, 5000)),
        melting_c=draw(numbers(1, 4000)),
        current_density_a_mm2=(low, draw(numbers(low, 1000))),
        source=draw(notes),
    )


@st.composite
def contours(draw: st.DrawFn) -> Contour:
    """Return loops that enclose an area: circles, rounded rectangles, stars with arcs; both ways round."""
    kind = draw(st.sampled_from(["circle", "rectangle", "star"]))
    if kind == "circle":
        loop = Contour.circle(0, 0, draw(numbers(1, 500)))
    elif kind == "rectangle":
        width_mm, height_mm = draw(numbers(5, 1000)), draw(numbers(5, 1000))
        loop = Contour.rectangle(width_mm, height_mm, draw(numbers(0, min(width_mm, height_mm) / 2.1)))
    else:
        loop = draw(_stars())
    loop = loop.turned(draw(numbers(-math.pi, math.pi))).moved(*draw(places_mm()))
    return loop.reversed() if draw(st.booleans()) else loop


@st.composite
def _stars(draw: st.DrawFn) -> Contour:
    """Return loops whose vertices go once round a centre, with mixed bulges shallow enough to leave an area."""
    n = draw(st.integers(3, 10))
    radii = draw(arrays(float, n, elements=numbers(50, 300)))
    angles = np.arange(n) * 2 * math.pi / n
    bulges = draw(arrays(float, n, elements=st.one_of(st.just(0.0), numbers(-0.05, -1e-3), numbers(1e-3, 0.05))))
    return Contour(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]), bulges)


@st.composite
def housings(draw: st.DrawFn) -> Housing:
    """Return outlines with keep-outs anywhere and clearances."""
    return Housing(
        outline=draw(contours()),
        keep_outs=tuple(draw(st.lists(contours(), max_size=3))),
        wall_clearance_mm=draw(numbers(0, 10)),
        keep_out_clearance_mm=draw(numbers(0, 10)),
        source=draw(notes),
    )


@st.composite
def lattices(draw: st.DrawFn) -> Lattice:
    """Return all three kinds at any angle and origin."""
    pitch_mm, angle_rad, origin_mm = draw(numbers(5, 200)), draw(numbers(-math.pi, math.pi)), draw(places_mm())
    kind = draw(st.sampled_from(["hexagonal", "square", "compressed"]))
    if kind == "compressed":
        return Lattice.compressed(pitch_mm, pitch_mm * draw(numbers(1, math.sqrt(2))), angle_rad, origin_mm)
    maker = Lattice.hexagonal if kind == "hexagonal" else Lattice.square
    return maker(pitch_mm, angle_rad, origin_mm)


@st.composite
def cells(draw: st.DrawFn, n_series: int, most: int = 12) -> Cells:
    """Return up to `most` cells anywhere, in groups 0 to `n_series`, some locked."""
    n = draw(st.integers(0, most))
    centres = draw(arrays(float, (n, 2), elements=numbers(-FAR_MM, FAR_MM)))
    locked = draw(st.none() | arrays(np.bool_, n))
    return Cells(centres, draw(arrays(np.int64, n, elements=st.integers(0, n_series))), locked)


@st.composite
def plate_settings(draw: st.DrawFn) -> PlateSettings:
    """Return settings with and without given window diameters."""
    windows_mm = st.none() | numbers(0.1, 100)
    return PlateSettings(
        material=draw(materials()),
        thickness_mm=draw(numbers(0.01, 20)),
        gap_mm=draw(numbers(0.01, 50)),
        setback_mm=draw(numbers(0, 200)),
        corner_radius_mm=draw(numbers(0, 50)),
        min_web_mm=draw(numbers(0, 50)),
        shoulder_clearance_mm=draw(numbers(0, 20)),
        positive_window_mm=draw(windows_mm),
        negative_window_mm=draw(windows_mm),
        borders=draw(st.sampled_from(get_args(BorderStyle))),
    )


@st.composite
def terminals(draw: st.DrawFn) -> Terminal:
    """Return tabs of every bolt, placed or left to the program."""
    bolt = draw(st.sampled_from(list(BOLT_HOLE_MM)))
    return Terminal(
        near_mm=draw(st.none() | places_mm()),
        width_mm=draw(numbers(BOLT_HOLE_MM[bolt] + 0.1, 500)),
        length_mm=draw(numbers(BOLT_HOLE_MM[bolt] + 0.1, 500)),
        bolt=bolt,
        place=draw(st.sampled_from(get_args(TabPlace))),
        more_near_mm=tuple(draw(st.lists(places_mm(), max_size=2))),
    )


@st.composite
def limits(draw: st.DrawFn) -> Limits:
    """Return other limits than the defaults."""
    return Limits(
        touch_voltage_v=draw(numbers(0, 1e3)),
        cell_gap_mm=draw(numbers(0, 10)),
        imbalance=draw(numbers(1, 10)),
        bond_share=draw(numbers(0.01, 1)),
    )


@st.composite
def joint_settings(draw: st.DrawFn) -> JointSettings:
    """Return wires or welds within the bounds of the model."""
    return JointSettings(
        wire_metal=draw(st.sampled_from(list(wire_metals().values()))),
        wire_diameter_mm=draw(numbers(0.05, 1)),
        wire_length_mm=draw(numbers(0.5, 50)),
        n_wires=draw(st.integers(1, 5)),
        foot_ohm=draw(numbers(0, 1e-2)),
        weld_ohm=draw(st.none() | numbers(1e-6, 1e-1)),
        busbar_c=draw(numbers(-60, 200)),
    )


@st.composite
def overrides(draw: st.DrawFn, n_series: int) -> tuple[SegmentOverride, ...]:
    """Return none, or a few segments that differ in anything."""
    differing = sorted(draw(st.sets(st.integers(0, n_series), max_size=2)))
    return tuple(
        SegmentOverride(
            segment=segment,
            material=draw(st.none() | materials()),
            thickness_mm=draw(st.none() | numbers(0.01, 20)),
            setback_mm=draw(st.none() | numbers(0, 200)),
            corner_radius_mm=draw(st.none() | numbers(0, 50)),
            keep_outs=tuple(draw(st.lists(contours(), max_size=1))),
        )
        for segment in differing
    )


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    """Return any valid layout of a few cells."""
    n_series = draw(st.integers(1, 8))
    return Layout(
        name=draw(lines),
        housing=draw(housings()),
        cell_type=draw(cell_types()),
        lattice=draw(lattices()),
        cells=draw(cells(n_series)),
        n_series=n_series,
        n_parallel=draw(st.integers(1, 100)),
        plates=draw(plate_settings()),
        terminals=(draw(terminals()), draw(terminals())),
        chain=draw(st.sampled_from(["straight", "folded"])),
        first_group_up=draw(st.booleans()),
        design_current_a=draw(numbers(0, 1e4)),
        peak_current_a=draw(numbers(0, 1e4)),
        limits=draw(limits()),
        joints=draw(joint_settings()),
        notes=draw(notes),
        overrides=draw(overrides(n_series)),
    )
