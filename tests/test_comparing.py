"""Comparing two layouts: every difference is told once, and nothing that is the same."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.comparing import Comparison, FigureChange, brief_difference_text, cell_changes, difference_text
from layout_app.edits import (
    ChangePlates,
    ChangeTerminal,
    EraseCells,
    LockCells,
    MoveCells,
    PaintCells,
    PlaceCells,
    UnlockCells,
)
from layout_app.model.cells import Cells
from layout_app.physics.figures import Figure
from layout_app.workings import Workings
from tests.edits.modules import PITCH_MM, module

BASE = module()  # 4 groups of 5 in rows, numbered row by row, a free site at the end of each row


def compared(after, before=BASE):
    return Comparison(Workings(before), Workings(after))


def test_a_layout_and_itself_are_the_same():
    assert compared(module()).is_same


def test_an_erased_cell_is_the_only_one_removed_though_numbers_shift():
    cells = compared(EraseCells((3,)).apply(BASE)).cells
    assert cells.removed.tolist() == [3]
    assert not any(len(part) for part in (cells.added, cells.moved, cells.regrouped))
    assert cells.text == "1 removed"


def test_a_placed_cell_is_added():
    place = (12.5 + 5 * PITCH_MM, 12.5)
    cells = compared(PlaceCells((place,), 1).apply(BASE)).cells
    assert cells.added.tolist() == [20]


def test_a_painted_cell_is_regrouped_and_its_segments_and_theirs_change():
    comparison = compared(PaintCells((7,), 1).apply(BASE))
    assert comparison.cells.regrouped.tolist() == [[7, 7]]
    # derived: group 1 lies under segments 0 and 1, group 2 under 1 and 2
    assert {change.number for change in comparison.segments} == {0, 1, 2}
    assert all(change.kind == "changed" for change in comparison.segments)


def test_a_cell_moved_far_is_still_the_same_cell():
    layout = MoveCells((4,), PITCH_MM, 0.0).apply(BASE)
    cells = compared(layout).cells
    assert cells.moved.tolist() == [[4, 4]]
    assert not len(cells.added) + len(cells.removed) + len(cells.regrouped)


def test_moved_and_erased_cells_are_told_apart():
    layout = EraseCells((0,)).apply(MoveCells((4,), 0.5, 0.0).apply(BASE))
    cells = compared(layout).cells
    assert cells.removed.tolist() == [0]
    assert cells.moved.tolist() == [[4, 3]]


def test_locked_and_unlocked_cells_are_told_though_numbers_shift():
    before = LockCells((4, 9)).apply(BASE)
    after = LockCells((6,)).apply(UnlockCells((8,)).apply(EraseCells((0,)).apply(before)))
    cells = compared(after, before).cells
    assert (cells.locked.tolist(), cells.unlocked.tolist()) == ([[7, 6]], [[9, 8]])
    cells = compared(BASE, before).cells
    assert cells.unlocked.tolist() == [[4, 4], [9, 9]]
    assert cells.text == "2 unlocked"
    assert not compared(BASE, before).is_same
    assert not compared(BASE, before).segments


def test_settings_are_named_as_in_the_file():
    layout = ChangePlates({"gap_mm": 2.0}).apply(ChangeTerminal(True, {"width_mm": 25.0}).apply(BASE))
    changes = {change.name: (change.a, change.b) for change in compared(layout).settings}
    assert changes == {"plates.gap_mm": (1.5, 2.0), "terminals.positive.width_mm": (20.0, 25.0)}


def test_another_housing_is_a_setting():
    outline = BASE.housing.outline.moved(1.0, 0.0)
    layout = replace(BASE, housing=replace(BASE.housing, outline=outline))
    assert [change.name for change in compared(layout).settings] == ["housing.outline"]


def test_findings_are_gone_or_new():
    broken = PaintCells((7,), 1).apply(BASE)
    gone, new = compared(broken).findings
    assert "uneven group" in {finding.rule for finding in new}
    assert "uneven group" not in {finding.rule for finding in gone}
    assert compared(BASE, broken).findings == (new, gone)


def test_figures_that_differ_carry_both_values():
    comparison = compared(EraseCells((19,)).apply(BASE))
    changes = {change.either.key: change for change in comparison.figures}
    assert (changes["cells"].a.value, changes["cells"].b.value, changes["cells"].difference) == (20, 19, -1)
    assert "series" not in changes


def figure(value, key="energy_wh", unit="Wh"):
    return Figure(key=key, label="Energy", value=value, unit=unit, formula="", inputs=(), source="")


@pytest.mark.parametrize(
    ("a", "b", "text"),
    [
        (figure(2000.0), figure(2100.0), "+100 Wh (+5.0 %)"),
        (figure(2000.0), figure(1900.0), "−100 Wh (−5.0 %)"),
        (figure(0.0), figure(5.0), "+5 Wh"),
        (figure(20, "cells", ""), figure(22, "cells", ""), "+2 (+10.0 %)"),
        (figure(0.5, "packing_fraction", ""), figure(0.55, "packing_fraction", ""), "+5.0 points"),
        (figure(2000.0), figure(2000.0), ""),
        (None, figure(1.0), "new"),
        (figure(1.0), None, "gone"),
    ],
)
def test_differences_are_told_with_sign_unit_and_share(a, b, text):
    assert difference_text(FigureChange(a, b)) == text


@pytest.mark.parametrize(
    ("a", "b", "text"),
    [
        (figure(2000.0), figure(1900.0), "−5.0 %"),
        (figure(20, "cells", ""), figure(22, "cells", ""), "+2"),
        (figure(0.5, "packing_fraction", ""), figure(0.55, "packing_fraction", ""), "+5.0 points"),
        (figure(0.0), figure(5.0), "+5 Wh"),
        (figure(2000.0), figure(2000.0), ""),
    ],
)
def test_where_room_is_scarce_counts_come_as_they_are_and_quantities_by_share(a, b, text):
    assert brief_difference_text(FigureChange(a, b)) == text


def test_a_later_comparison_takes_over_only_what_is_made_of_the_same_objects():
    before, after = Workings(BASE), Workings(PaintCells((7,), 1).apply(BASE))
    first = Comparison(before, after)
    first.cells, first.settings, first.segments  # noqa: B018
    again = Comparison(before, after).taking_over(first)
    assert again.cells is first.cells
    other = Comparison(before, Workings(ChangePlates({"gap_mm": 2.0}).apply(after.layout))).taking_over(first)
    assert other.cells is first.cells  # the cells themselves are the same
    assert [change.name for change in other.settings] == ["plates.gap_mm"]
    assert len(other.segments) == 5


@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_every_cell_is_accounted_for_once_and_swapping_the_layouts_swaps_the_changes(data):
    n_cells = len(BASE.cells)
    gone = data.draw(st.sets(st.integers(0, n_cells - 1), max_size=4))
    shifts = data.draw(st.lists(st.floats(-0.4, 0.4), min_size=n_cells, max_size=n_cells))
    groups = data.draw(st.lists(st.integers(0, 4), min_size=n_cells, max_size=n_cells))
    kept = [cell for cell in range(n_cells) if cell not in gone]
    centres = (BASE.cells.centres_mm + np.column_stack([shifts, np.zeros(n_cells)]))[kept]
    other = replace(BASE, cells=Cells(centres, np.array(groups)[kept]))
    forth, back = cell_changes(BASE, other), cell_changes(other, BASE)
    assert forth.removed.tolist() == sorted(gone)
    assert back.added.tolist() == sorted(gone)
    assert not len(forth.added)
    want = sorted((a, b) for b, a in enumerate(kept) if BASE.cells.groups[a] != groups[a])
    assert sorted(map(tuple, forth.regrouped.tolist())) == want
    assert sorted(map(tuple, back.regrouped[:, ::-1].tolist())) == want
