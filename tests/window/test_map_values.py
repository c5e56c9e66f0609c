"""Values of maps and their pixels: against hand-made fields, a plain way of looking triangles up, and laws of scale."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.geometry.meshes import mesh_of
from layout_app.window.maps import rasters
from layout_app.window.maps.colour_bar import tick_texts, ticks
from layout_app.window.maps.colour_maps import Range
from layout_app.window.maps.kinds import KINDS
from layout_app.window.maps.picture_work import fixed
from layout_app.window.maps.readings import number_words
from layout_app.window.maps.values import (
    automatic_range,
    corner_values,
    mean_potential_v,
    nice,
    raster,
    scale,
    triangle_under,
    triangle_values,
)

STRIP_MM, THICKNESS_MM, AMPERES, RHO_OHM_M = (30.0, 10.0), 0.5, 20.0, 1.7e-8


def strip():
    """A field of a plain strip, current from left to right. Source: derived: J = I / (b t), p = ρ J² per volume."""
    mesh = mesh_of(shapely.box(0, 0, *STRIP_MM), 1.0)
    density = AMPERES / (STRIP_MM[1] * THICKNESS_MM)
    volts_per_mm = density * 1e6 * RHO_OHM_M * 1e-3
    n = len(mesh.triangles)
    return SimpleNamespace(
        mesh=mesh, potential_v=7.0 - volts_per_mm * mesh.points_mm[:, 0],
        density_a_mm2=np.tile([density, 0.0], (n, 1)), density_size_a_mm2=np.full(n, density),
        loss_w_mm2=np.full(n, density**2 * 1e12 * RHO_OHM_M * THICKNESS_MM * 1e-3 * 1e-6),
    )  # fmt: skip


def test_a_strip_has_the_densities_of_the_closed_form():
    field = strip()
    assert triangle_values(KINDS["density"], field) == pytest.approx(4.0)  # 20 A over 10 mm × 0.5 mm
    # 4 A/mm² in copper of 1.7e-8 Ωm: 0.272 W/cm³, over 0.5 mm 13.6 mW/cm² (by hand)
    assert triangle_values(KINDS["loss"], field) == pytest.approx(13.6)
    assert corner_values(KINDS["density"], field) == pytest.approx(4.0)  # a mean of one value is that value
    # 0.068 mV/mm over 30 mm (by hand): 1.02 mV above and below the mean
    told = corner_values(KINDS["potential"], field)
    assert (told.min(), told.max()) == (pytest.approx(-1.02), pytest.approx(1.02))
    assert mean_potential_v(field) == pytest.approx(7.0 - 1.02e-3)


def test_metal_no_contact_reaches_has_no_potential_and_spoils_no_mean():
    field = strip()
    field.potential_v = np.where(field.mesh.points_mm[:, 0] > 15, np.nan, field.potential_v)
    told = corner_values(KINDS["potential"], field)
    assert np.isnan(told).any()
    assert np.isfinite(told).any()
    assert np.isfinite(mean_potential_v(field))


def linear(points_mm):
    return 3.0 * points_mm[..., 0] - 2.0 * points_mm[..., 1] + 5.0


@settings(deadline=None, max_examples=20)
@given(angle=st.floats(0, 6.3), px_per_mm=st.floats(0.7, 9.0), x=st.floats(-2000, 2000))
def test_pixels_of_linear_values_are_those_values_at_their_centres(angle, px_per_mm, x):
    shape = shapely.affinity.translate(shapely.affinity.rotate(shapely.box(0, 0, 12, 7), angle, use_radians=True), x)
    mesh = mesh_of(shape, 2.0)
    frame = rasters.Frame.around(shape.bounds, px_per_mm)
    picture = np.full((frame.n_rows, frame.n_columns), np.nan, dtype=np.float32)
    rasters.draw(picture, frame, mesh.points_mm, mesh.triangles, linear(mesh.points_mm[mesh.triangles]))
    row, column = np.nonzero(np.isfinite(picture))
    centres = np.column_stack(
        [frame.x_mm + (column + 0.5) / px_per_mm, frame.y_mm - (row + 0.5) / px_per_mm]  # what a frame says it is
    )
    assert picture[row, column] == pytest.approx(linear(centres), rel=1e-4, abs=1e-2)
    n_inside = shapely.contains_xy(shape.buffer(-1e-6), *_centres(frame).T).sum()
    assert n_inside <= len(row) <= shapely.contains_xy(shape.buffer(1e-6), *_centres(frame).T).sum()


def _centres(frame):
    row, column = np.divmod(np.arange(frame.n_rows * frame.n_columns), frame.n_columns)
    x = frame.x_mm + (column + 0.5) / frame.px_per_mm
    return np.column_stack([x, frame.y_mm - (row + 0.5) / frame.px_per_mm])


def test_pixels_grow_outwards_and_change_none_that_are_known():
    picture = np.full((7, 9), np.nan, dtype=np.float32)
    picture[3, 4] = 2.0
    grown = rasters.grown(picture, 2)
    assert np.isfinite(grown).sum() == 25  # a square of two pixels around one
    assert (grown[np.isfinite(grown)] == 2.0).all()


def test_pictures_stay_within_their_bounds_of_pixels():
    px_per_mm = rasters.scale_for(4.0e6, 1_000_000, 12.0)
    assert px_per_mm == pytest.approx(0.5)  # by hand: a million pixels over 2 m × 2 m
    assert rasters.scale_for(10.0, 1_000_000, 12.0) == 12.0


def test_a_picture_covers_metal_that_bulges_between_its_corners():
    mesh = mesh_of(shapely.Point(5, 5).buffer(20.0, quad_segs=32), 4.0)
    n = len(mesh.triangles)
    disc = SimpleNamespace(face="top", contours=lambda: (Contour.circle(5.0, 5.0, 20.0),))
    field = SimpleNamespace(mesh=mesh, density_size_a_mm2=np.ones(n))
    made = raster(KINDS["density"], "top", [disc], [field], 2.0)
    area_mm2 = np.isfinite(made.values).sum() / 2.0**2
    grown_mm2 = np.pi * (20.0 + rasters.GROWN_PX / 2.0) ** 2  # by hand: the disc and as many pixels round it
    assert np.pi * 20.0**2 < area_mm2 < 1.05 * grown_mm2
    assert raster(KINDS["density"], "bottom", [disc], [field], 2.0) is None


@settings(deadline=None, max_examples=30)
@given(x=st.integers(-30, 330), y=st.integers(-30, 130))
def test_the_triangle_under_a_point_is_the_one_that_shapely_finds(x, y):
    field, x, y = strip(), x / 10 + 0.0123, y / 10 + 0.0456  # never on the metal's edge
    found = triangle_under(field, x, y)
    shapes = shapely.polygons(field.mesh.points_mm[field.mesh.triangles])
    under = np.flatnonzero(shapely.distance(shapes, shapely.Point(x, y)) < 1e-9)
    assert (found is None) == (len(under) == 0)
    assert found is None or found in under


@settings(deadline=None)
@given(values=st.lists(st.floats(1e-3, 1e3), min_size=1, max_size=30), name=st.sampled_from(sorted(KINDS)))
def test_an_automatic_range_holds_all_values_of_cells_and_has_its_middle_in_the_middle(values, name):
    kind = KINDS[name]
    span = automatic_range(kind, np.array([*values, np.nan]))
    assert span.high > span.low
    if kind.middle is not None:
        assert (span.low + span.high) / 2 == pytest.approx(kind.middle, abs=1e-9)
    if kind.is_of_cells or kind.middle is not None:
        assert span.low <= min(values) + 1e-9
        assert span.high >= max(values) - 1e-9
    else:
        assert span.low == 0.0


def test_a_spread_of_one_per_cent_takes_no_full_colour():
    share = automatic_range(KINDS["share"], np.array([0.99, 1.0, 1.01]))
    assert (share.low, share.high) == pytest.approx((0.95, 1.05))  # derived: cells differ by 5 % anyway, either side
    loss = automatic_range(KINDS["joint_loss"], 10.0 * np.array([0.99, 1.0, 1.01]) ** 2)
    assert loss.high - loss.low >= 2.0  # derived: (1 ± 0.05)² is a fifth from end to end
    assert loss.low < 9.0  # what is found lies about the middle, none of it dark
    assert loss.high > 11.0


def test_nothing_known_still_gives_a_range():
    for kind in KINDS.values():
        span = automatic_range(kind, np.array([np.nan]))
        assert span.high > span.low


@given(low=st.none() | st.floats(-10, 10), high=st.none() | st.floats(-10, 10))
def test_ends_that_are_given_are_kept(low, high):
    span = fixed(Range(0.0, 2.0), low, high)
    assert span.high > span.low
    assert low is None or span.low == low or (high is not None and high <= low)
    assert high is None or span.high == high or (low is not None and high <= low)


@given(value=st.floats(1e-9, 1e9))
def test_a_round_number_is_not_below_and_not_far_above(value):
    assert value * (1 - 1e-6) <= nice(value) <= value * 1.34  # the widest step is from 1.5 to 2


def test_losses_grow_with_the_square_of_the_current_and_shares_not_at_all():
    found = SimpleNamespace(solved=SimpleNamespace(current_a=80.0))
    factors = {name: scale(kind, found, 160.0) for name, kind in KINDS.items()}
    # source: Ohm's and Joule's laws
    assert factors == {"share": 1.0, "joint_loss": 4.0, "potential": 2.0, "density": 2.0, "loss": 4.0}
    assert [scale(KINDS[name], found, -80.0) for name in ("density", "potential", "loss")] == [1.0, -1.0, 1.0]
    assert scale(KINDS["loss"], found, None) == 1.0
    assert scale(KINDS["loss"], SimpleNamespace(solved=SimpleNamespace(current_a=0.0)), 5.0) == 1.0


@settings(deadline=None)
@given(low=st.floats(-1e4, 1e4), width=st.floats(1e-4, 1e4), n_most=st.integers(2, 12))
def test_ticks_lie_in_the_range_evenly_and_are_told_apart(low, width, n_most):
    values = ticks(Range(low, low + width), n_most)
    assert len(values) <= n_most + 1
    assert all(low - 1e-6 * width <= value <= low + 1.000001 * width for value in values)
    texts = tick_texts(values)
    assert len(set(texts)) == len(texts)
    if len(values) > 2:
        assert np.diff(values) == pytest.approx(np.diff(values)[0], rel=1e-6)


def test_numbers_are_told_with_the_digits_that_count():
    assert number_words(0.0123456) == "0.0123"
    assert number_words(-4.56789, 2) == "−4.6"
    assert number_words(float("nan")) == "–"
    assert number_words(99.96) == "100"
    assert number_words(9.996) == "10.0"
