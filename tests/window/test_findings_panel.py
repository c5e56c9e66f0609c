"""Findings: listed gravest first, told why, limits changed there, repaired with one undoable click."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from layout_app.checks.reasons import reason
from layout_app.edits import ChangeLimits, ChangePlates, EraseCells, PaintCells
from layout_app.window.document import Document
from layout_app.window.panels.findings import FindingsPanel, count_text

from .modules import module


def settle(qtbot, workbench):
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=15_000)


def rows(panel):
    return [panel.list.item(row).data(Qt.ItemDataRole.UserRole) for row in range(panel.list.count())]


def click(qtbot, panel, rule):
    """Click the first finding of a rule."""
    row = next(row for row, finding in enumerate(rows(panel)) if finding.rule == rule)
    item = panel.list.item(row)
    panel.list.scrollToItem(item)
    qtbot.mouseClick(panel.list.viewport(), Qt.MouseButton.LeftButton, pos=panel.list.visualItemRect(item).center())
    return panel.why


def press(qtbot, why, words):
    (button,) = [button for button in why.repairs if button.text().startswith(words)]
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


@pytest.fixture
def painted(workbench, qtbot):
    """A workbench on 6 groups of 20, one cell of group 2 painted into group 1."""
    workbench.document.request(PaintCells((20,), 1))
    settle(qtbot, workbench)
    return workbench


def test_errors_are_listed_before_warnings_and_notes(painted):
    grades = [["error", "warning", "note"].index(finding.severity) for finding in rows(painted.findings)]
    assert grades == sorted(grades)


def test_a_click_tells_rule_reason_limit_and_source(painted, qtbot):
    why = click(qtbot, painted.findings, "uneven group")
    said = why.words.text()
    assert reason("uneven group") in said
    assert "limit <b>20 cells</b>" in why.title.text()
    assert "cells in parallel chosen for this layout" in said
    assert not why.isHidden()


def test_the_arrow_keys_walk_through_the_reasons(painted, qtbot):
    click(qtbot, painted.findings, "uneven group")
    before = painted.findings.why.finding
    qtbot.keyClick(painted.findings.list, Qt.Key.Key_Down)
    assert painted.findings.why.finding is not before


def test_one_click_evens_groups_out_and_undo_takes_it_back(painted, qtbot):
    before = painted.document.current
    press(qtbot, click(qtbot, painted.findings, "uneven group"), "Trade border cells")
    qtbot.waitUntil(lambda: painted.document.current is not before, timeout=15_000)
    assert painted.document.current.group_sizes.tolist() == [20] * 6
    settle(qtbot, painted)
    assert "uneven group" not in {finding.rule for finding in rows(painted.findings)}
    assert painted.findings.why.isHidden()
    painted.actions["undo"].trigger()
    assert painted.document.current is before


def test_a_cell_that_was_erased_is_placed_again(workbench, qtbot):
    whole = workbench.document.current
    workbench.document.request(EraseCells((119,)))
    settle(qtbot, workbench)
    press(qtbot, click(qtbot, workbench.findings, "uneven group"), "Place 1 cell beside group 6")
    assert len(workbench.document.current.cells) == len(whole.cells)
    assert workbench.document.current.group_sizes.tolist() == [20] * 6


def test_the_limit_is_changed_where_it_is_told(workbench, qtbot):
    workbench.document.request(ChangeLimits({"touch_voltage_v": 20.0}))
    settle(qtbot, workbench)
    why = click(qtbot, workbench.findings, "touch voltage")
    editor = why.limit.editor
    assert editor.text() == "20"
    editor.selectAll()
    qtbot.keyClicks(editor, "30")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert workbench.document.current.limits.touch_voltage_v == 30.0
    settle(qtbot, workbench)
    assert "touch voltage" not in {finding.rule for finding in rows(workbench.findings)}  # derived: 6 × 4.2 V = 25.2


def test_a_wrong_limit_is_explained_beside_it_and_not_applied(workbench, qtbot):
    workbench.document.request(ChangeLimits({"touch_voltage_v": 20.0}))
    settle(qtbot, workbench)
    why, before = click(qtbot, workbench.findings, "touch voltage"), workbench.document.current
    why.limit.editor.selectAll()
    qtbot.keyClicks(why.limit.editor, "-5")
    qtbot.keyClick(why.limit.editor, Qt.Key.Key_Return)
    assert "touch" in why.limit.wrong.lower()
    assert workbench.document.current is before


def test_a_window_too_wide_is_set_to_what_is_allowed(workbench, qtbot):
    workbench.document.request(ChangePlates({"positive_window_mm": 14.6}))
    settle(qtbot, workbench)
    press(qtbot, click(qtbot, workbench.findings, "window"), "Set the positive window to 14.00 mm")
    # derived: shoulder ring of 15 mm less twice the clearance of 0.5 mm
    assert workbench.document.current.plates.positive_window_mm == pytest.approx(14.0)


def test_the_reasons_stay_with_the_finding_looked_at_while_others_come_and_go(painted, qtbot):
    why = click(qtbot, painted.findings, "split group") if _has(painted, "split group") else None
    why = why or click(qtbot, painted.findings, "uneven group")
    rule = why.finding.rule
    painted.document.request(ChangeLimits({"touch_voltage_v": 20.0}))
    settle(qtbot, painted)
    assert why.finding.rule == rule
    assert any(finding.rule == "touch voltage" for finding in rows(painted.findings))


def _has(workbench, rule):
    return any(finding.rule == rule for finding in rows(workbench.findings))


def test_a_click_goes_to_the_place_and_makes_it_pulse(painted, qtbot):
    why = click(qtbot, painted.findings, "uneven group")
    x0, y0, x1, y1 = painted.canvas.view.visible_mm()
    (place,) = why.finding.places_mm
    assert (np.array([x0, y0]) < place).all()
    assert (np.array(place) < (x1, y1)).all()
    assert painted.canvas._flash_places == [place]


def test_going_to_a_finding_leaves_the_figures_in_sight(workbench, qtbot):
    document = workbench.document
    workbench.window.show()
    qtbot.waitExposed(workbench.window)
    document.request(EraseCells((0,)))
    qtbot.waitUntil(lambda: document.is_settled and bool(document.findings), timeout=10_000)
    workbench.docks["figures"].raise_()
    qtbot.waitUntil(lambda: not workbench.figures.visibleRegion().isEmpty(), timeout=2000)
    listed = workbench.findings.list
    qtbot.mouseClick(listed.viewport(), Qt.MouseButton.LeftButton, pos=listed.visualItemRect(listed.item(0)).center())
    qtbot.wait(50)
    assert not workbench.figures.visibleRegion().isEmpty()


def test_before_the_first_checks_nothing_is_said_to_be_in_order(qtbot):
    document = Document(module())
    panel = FindingsPanel(document)
    qtbot.addWidget(panel)
    assert "Checking" in panel.summary.text()
    document.start()
    qtbot.waitUntil(lambda: document.is_settled, timeout=15_000)
    assert panel.summary.text() == count_text(document.findings)
    document.close()
