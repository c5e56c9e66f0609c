"""Where points of the layout are on the screen, and back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout_app.window.overlays import ruler_step_mm
from layout_app.window.view_transform import ViewTransform

PLACES = st.floats(-1e4, 1e4)
VIEWS = st.builds(
    ViewTransform,
    width_px=st.integers(1, 4000),
    height_px=st.integers(1, 4000),
    px_per_mm=st.floats(0.01, 100),
    x_mm=PLACES,
    y_mm=PLACES,
    is_mirrored=st.booleans(),
)


@given(view=VIEWS, x_mm=PLACES, y_mm=PLACES)
def test_there_and_back_is_the_same_place(view, x_mm, y_mm):
    x_px, y_px = view.to_screen(np.array([[x_mm, y_mm]]))[0].tolist()
    assert view.to_layout(x_px, y_px) == pytest.approx((x_mm, y_mm), abs=1e-6)


@given(view=VIEWS, factor=st.floats(0.2, 5), x_px=st.floats(0, 4000), y_px=st.floats(0, 4000))
def test_zooming_keeps_the_place_under_the_pointer(view, factor, x_px, y_px):
    before = view.to_layout(x_px, y_px)
    assert view.zoomed(factor, x_px, y_px).to_layout(x_px, y_px) == pytest.approx(before, rel=1e-9, abs=1e-6)


@given(view=VIEWS, dx=st.integers(-500, 500), dy=st.integers(-500, 500))
def test_panning_moves_every_point_by_the_same_pixels(view, dx, dy):
    points = np.array([[0.0, 0.0], [123.0, -45.0]])
    moved = view.panned(dx, dy).to_screen(points) - view.to_screen(points)
    np.testing.assert_allclose(moved, [[dx, dy]] * 2, atol=1e-6)


@given(view=VIEWS)
def test_mirroring_twice_is_no_change(view):
    assert view.mirrored(not view.is_mirrored).mirrored(view.is_mirrored) == view


def test_up_is_up_and_right_is_right_seen_from_above():
    (x0, y0), (x1, y1) = ViewTransform().to_screen(np.array([[0.0, 0.0], [1.0, 1.0]])).tolist()
    assert x1 > x0
    assert y1 < y0


@given(scale=st.floats(0.005, 400))
def test_ruler_labels_stand_apart_but_not_far(scale):
    step_px = ruler_step_mm(scale, 70.0) * scale
    assert 70.0 * (1 - 1e-9) <= step_px <= 70.0 * 2.5 * (1 + 1e-9)  # 2 to 5 is the widest of the steps 1, 2, 5, 10
