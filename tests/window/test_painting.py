"""Painting: a picture painted piece by piece is the picture painted at once."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QLabel

from layout_app.edits import ChangeTerminal, EraseCells
from layout_app.window import overlays
from layout_app.window.elided_label import ElidedLabel
from layout_app.window.painting import ScenePainter


def painted(canvas, areas) -> np.ndarray:
    """The canvas's scene in its view, painted area after area: (h, w, 4)."""
    view = canvas.view
    image = QImage(view.width_px, view.height_px, QImage.Format.Format_RGB32)
    scene_painter, painter = ScenePainter(canvas.theme, canvas.ratio), QPainter(image)
    for area in areas:
        scene_painter.paint(painter, view, canvas.scene, area)
    painter.end()
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4).copy()


@pytest.mark.parametrize("zoom", [0.5, 1.0, 2.2])
def test_painting_in_two_pieces_leaves_no_seam_wherever_the_cut_lies(workbench, zoom):
    canvas = workbench.canvas
    canvas.zoom_by(zoom)
    width, height = canvas.view.width_px, canvas.view.height_px
    whole = painted(canvas, [QRectF(0, 0, width, height)])
    for cut in range(height // 2, height // 2 + 40, 3):  # across a row of cells
        pieces = [QRectF(0, 0, width, cut), QRectF(0, cut, width, height - cut)]
        differs = np.abs(painted(canvas, pieces).astype(int) - whole).max(axis=2) > 48
        # smooth lines may end a pixel sooner at a cut: a few pixels where they cross it, never a row of them
        assert differs.sum() < 12, cut


def test_marks_go_from_the_picture_with_their_findings_though_the_pointer_rests(workbench, qtbot, monkeypatch):
    painted = []
    monkeypatch.setattr(overlays, "paint_findings", lambda painter, canvas: painted.append(canvas.document.findings))
    document = workbench.document
    for step in (lambda: document.request(EraseCells((0,))), document.undo) * 2:
        step()
        qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
        qtbot.waitUntil(lambda: painted[-1] is document.findings, timeout=2_000)
        is_short = len(document.current.cells) < 120  # 6 x 20: one short is an uneven group
        assert any(finding.rule == "uneven group" for finding in painted[-1]) == is_short


def test_a_neck_is_not_drawn_on_metal_it_does_not_belong_to(workbench, qtbot, monkeypatch):
    drawn = []
    monkeypatch.setattr(overlays, "_paint_neck", lambda *_: drawn.append(workbench.document.is_settled))
    canvas, document = workbench.canvas, workbench.document
    canvas.choose(segment=0)
    workbench.actions[document.current.face_of(0)].trigger()
    x0, y0, _, _ = document.current.housing.outline.bounds_mm
    document.request(ChangeTerminal(is_positive=False, changes={"near_mm": (x0, y0)}))
    canvas.grab()
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    canvas.grab()
    assert drawn
    assert all(drawn)


def test_rulers_and_what_is_written_on_the_canvas_grow_with_the_font_of_the_system(workbench):
    canvas = workbench.canvas
    font = canvas.font()
    seen = {}
    for points in (9, 18):
        font.setPointSizeF(points)
        canvas.setFont(font)
        scene_painter = canvas._painter
        seen[points] = (
            overlays.ruler_px(canvas),
            overlays.overlay_font(canvas, 12).pixelSize(),
            scene_painter.chip_box(0, 0).height(),
        )
    assert seen[18] == pytest.approx(tuple(2 * size for size in seen[9]), rel=0.1)


def test_no_mark_of_a_finding_covers_the_number_of_a_group(workbench):
    box = QRectF(100.0, 100.0, 30.0, 24.0)
    higher = QRectF(95.0, 85.0, 30.0, 24.0)
    marks = np.array([[110.0, 105.0], [300.0, 105.0], [110.0, 128.0]])
    over_one = overlays._above_labels(marks, [box], 8.0)
    assert over_one[0, 1] + 8.0 <= box.top()
    assert over_one[1].tolist() == [300.0, 105.0]
    over_both = overlays._above_labels(marks, [box, higher], 8.0)
    assert over_both[0, 1] + 8.0 <= higher.top()  # where two labels meet, over both
    assert over_both[2].tolist() == over_one[2].tolist()  # which only the lower one would be covered by
    assert overlays._above_labels(np.empty((0, 2)), [box], 8.0).shape == (0, 2)


def test_a_line_without_room_ends_in_dots_and_keeps_the_whole_in_its_tip(qtbot):
    label = ElidedLabel("Click two things: cells, edges of windows, walls and metal, or points.")
    qtbot.addWidget(label)
    label.show()
    label.resize(120, 20)
    shown = QLabel.text(label)
    assert shown.endswith("…")
    assert label.text() == label.toolTip() == "Click two things: cells, edges of windows, walls and metal, or points."
    label.resize(2000, 20)
    assert QLabel.text(label) == label.text()
