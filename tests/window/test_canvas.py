"""Looking around: pan, zoom, fit, flip, layers; and that shortcuts of painting change nothing in the picture."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage

from layout_app.edits import ChangeTerminal, PaintCells

from .gestures import cell_pixel, drag_to, pixel, wheel


def pixels(canvas) -> np.ndarray:
    """The scene as the canvas keeps it, without overlays: (h, w, 4)."""
    canvas.grab()
    image = canvas.picture._pixmap.toImage().convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine() // 4, 4).copy()


def freshly_painted(canvas) -> np.ndarray:
    canvas.picture.forget()
    return pixels(canvas)


def test_the_whole_module_is_in_view_at_first(workbench):
    view, (x0, y0, x1, y1) = workbench.canvas.view, workbench.canvas.scene.bounds_mm()
    seen = view.visible_mm()
    assert seen[0] < x0
    assert seen[1] < y0
    assert x1 < seen[2]
    assert y1 < seen[3]


@pytest.mark.parametrize("n_steps", [1, 3, -2])
def test_the_point_under_the_pointer_stays_when_the_wheel_turns(workbench, n_steps):
    canvas, at = workbench.canvas, QPoint(300, 222)
    before = canvas.view.to_layout(at.x() * canvas.ratio, at.y() * canvas.ratio)
    scale = canvas.view.px_per_mm
    wheel(canvas, at, n_steps)
    after = canvas.view.to_layout(at.x() * canvas.ratio, at.y() * canvas.ratio)
    assert after == pytest.approx(before, abs=1e-9)
    assert (canvas.view.px_per_mm > scale) == (n_steps > 0)


@pytest.mark.parametrize("button", [Qt.MouseButton.MiddleButton, Qt.MouseButton.LeftButton])
def test_dragging_moves_the_module_with_the_pointer(workbench, qtbot, button):
    canvas = workbench.canvas
    if button == Qt.MouseButton.LeftButton:
        qtbot.keyPress(canvas, Qt.Key.Key_Space)
    grabbed = canvas.view.to_layout(300 * canvas.ratio, 300 * canvas.ratio)
    qtbot.mousePress(canvas, button, pos=QPoint(300, 300))
    drag_to(canvas, QPoint(340, 275), button)
    qtbot.mouseRelease(canvas, button, pos=QPoint(340, 275))
    assert pixel(canvas, grabbed) == QPoint(340, 275)


def test_arrow_keys_move_the_view(workbench, qtbot):
    canvas = workbench.canvas
    before = canvas.view
    qtbot.keyClick(canvas, Qt.Key.Key_Right)
    assert canvas.view.x_mm > before.x_mm
    qtbot.keyClick(canvas, Qt.Key.Key_Left)
    assert canvas.view.x_mm == pytest.approx(before.x_mm)
    qtbot.keyClick(canvas, Qt.Key.Key_Up)
    assert canvas.view.y_mm > before.y_mm


def test_a_panned_picture_is_the_same_as_one_painted_afresh(workbench):
    canvas = workbench.canvas
    canvas.zoom_by(1.7)
    pixels(canvas)
    for dx, dy in ((37, -12), (-150, 80), (5, 300)):
        canvas.pan_by(dx, dy)
        panned = pixels(canvas)
    # stamps are placed to a quarter of a pixel: the last bit of a rounding may go either way, the picture may not
    differs = np.abs(panned.astype(int) - freshly_painted(canvas)).max(axis=2) > 48
    assert differs.mean() < 1e-3


def test_a_picture_patched_after_painting_a_cell_is_the_same_as_one_painted_afresh(workbench, qtbot):
    canvas, document = workbench.canvas, workbench.document
    pixels(canvas)
    document.request(PaintCells((39, 38), 3))
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    patched = pixels(canvas)
    differs = np.abs(patched.astype(int) - freshly_painted(canvas)).max(axis=2) > 48
    assert differs.mean() < 1e-3


def test_from_below_left_and_right_change_places_and_up_stays_up(workbench, qtbot):
    canvas = workbench.canvas
    above = np.array([cell_pixel(canvas, cell).toTuple() for cell in (0, 9, 110)])
    qtbot.keyClick(workbench.window, Qt.Key.Key_F)
    assert canvas.scene.side == "bottom"
    below = np.array([cell_pixel(canvas, cell).toTuple() for cell in (0, 9, 110)])
    np.testing.assert_allclose(np.diff(below[:, 0]), -np.diff(above[:, 0]), atol=1.01)
    np.testing.assert_array_equal(below[:, 1], above[:, 1])
    qtbot.keyClick(workbench.window, Qt.Key.Key_F)
    assert canvas.scene.side == "top"


def test_the_sign_shown_from_below_is_the_other_end(workbench):
    canvas = workbench.canvas
    above = canvas.scene.shows_plus()
    workbench.actions["bottom"].trigger()
    np.testing.assert_array_equal(canvas.scene.shows_plus(), ~above)


def test_only_the_metal_of_the_face_is_hit(workbench):
    canvas, layout = workbench.canvas, workbench.document.current
    place = layout.cells.centres_mm[0].tolist()  # group 1: segment 0 at its − end, 1 at its + end
    workbench.actions["top"].trigger()
    assert canvas.segments_at(*place) == [1 if layout.face_of(1) == "top" else 0]
    workbench.actions["through"].trigger()
    assert sorted(canvas.segments_at(*place)) == [0, 1]


@pytest.mark.parametrize("layer", ["housing", "cells", "numbers", "signs", "metal", "windows", "sites"])
def test_every_layer_can_be_hidden_and_shown_again(workbench, layer):
    canvas, action = workbench.canvas, workbench.menus.layers[layer]
    shown = freshly_painted(canvas)
    action.trigger()
    hidden = freshly_painted(canvas)
    assert not np.array_equal(shown, hidden)
    action.trigger()
    np.testing.assert_array_equal(freshly_painted(canvas), shown)


def test_the_readout_names_cell_group_polarity_segments_and_gap(workbench, qtbot):
    canvas = workbench.canvas
    qtbot.mouseMove(canvas, cell_pixel(canvas, 25))
    drag_to(canvas, cell_pixel(canvas, 25), Qt.MouseButton.NoButton)
    text = workbench.readout.text()
    assert "cell 26" in text
    assert "group 2" in text
    assert "+ end down" in text  # group 1 stands + up, group 2 the other way
    assert "1 at −, 2 at +" in text
    assert "1.00 mm away" in text  # pitch 22 less diameter 21


def test_a_cell_painted_while_the_view_was_moved_is_repainted_where_it_is_now(workbench, qtbot):
    canvas, document = workbench.canvas, workbench.document
    pixels(canvas)
    canvas.pan_by(90, 40)  # not shown yet
    document.request(PaintCells((39,), 3))
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    differs = np.abs(pixels(canvas).astype(int) - freshly_painted(canvas)).max(axis=2) > 48
    assert differs.mean() < 1e-3


def test_a_terminal_that_moved_leaves_nothing_of_its_sign_behind(workbench, qtbot):
    canvas, document = workbench.canvas, workbench.document
    workbench.actions[document.current.face_of(0)].trigger()
    canvas.zoom_by(0.7)
    pixels(canvas)
    x0, y0, x1, _ = document.current.housing.outline.bounds_mm
    for near_mm in ((x0, y0), ((x0 + x1) / 2, y0 - 30)):
        document.request(ChangeTerminal(is_positive=False, changes={"near_mm": near_mm}))
        qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
        pixels(canvas)
    document.undo()
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    patched = pixels(canvas)
    differs = np.abs(patched.astype(int) - freshly_painted(canvas)).max(axis=2) > 48
    assert differs.sum() < 12
