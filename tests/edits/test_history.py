"""Undo and redo hand back the very same layouts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.edits import ChangeBrief, ChangePlates, EraseCells, History, PaintCells, PlaceCells
from layout_app.model.errors import LayoutError

from .modules import module

START = module()
INDICES = st.lists(st.integers(0, 24), max_size=4).map(tuple)
PLACES = st.lists(st.tuples(st.floats(-200, 400), st.floats(-200, 400)), max_size=2).map(tuple)
EDITS = st.one_of(
    st.builds(PaintCells, INDICES, st.integers(-1, 6)),
    st.builds(EraseCells, INDICES),
    st.builds(PlaceCells, PLACES, st.integers(0, 4)),
    st.builds(lambda gap_mm: ChangePlates({"gap_mm": gap_mm}), st.floats(-1, 10)),
    st.builds(lambda current_a: ChangeBrief({"design_current_a": current_a}), st.floats(-1, 100)),
)


@given(edits=st.lists(EDITS, max_size=12))
@settings(deadline=None, max_examples=60)
def test_undoing_everything_gives_the_first_layout_and_redoing_the_last(edits):
    history, seen = History(START), [START]
    for edit in edits:
        try:
            layout = history.apply(edit)
        except LayoutError:
            assert history.current is seen[-1]
            continue
        if layout is not seen[-1]:
            seen.append(layout)
    for layout in reversed(seen[:-1]):
        assert history.undo() is layout
    assert history.undo_label is None
    assert history.undo() is START
    for layout in seen[1:]:
        assert history.redo() is layout
    assert history.redo_label is None


def test_labels_name_the_step_to_take_back_and_to_do_again():
    history = History(START)
    history.apply(PaintCells((0,), 2))
    history.apply(EraseCells((1,)))
    assert (history.undo_label, history.redo_label) == ("Erase 1 cell", None)
    history.undo()
    assert (history.undo_label, history.redo_label) == ("Paint 1 cell into group 2", "Erase 1 cell")


def test_a_new_edit_forgets_what_was_undone():
    history = History(START)
    history.apply(EraseCells((1,)))
    history.undo()
    history.apply(PaintCells((0,), 2))
    assert history.redo_label is None


def test_an_edit_that_is_refused_leaves_no_trace():
    history = History(START)
    with pytest.raises(LayoutError):
        history.apply(PaintCells((0,), 99))
    assert history.current is START
    assert history.undo_label is None


def test_going_to_a_step_is_undoing_or_redoing_until_there():
    history = History(START)
    seen = [START, *(history.apply(EraseCells((0,))) for _ in range(5))]
    for step in (2, 5, 0, 3, 99, -1):
        assert history.go_to(step) is seen[min(max(step, 0), 5)]
        assert history.step == min(max(step, 0), 5)
    assert history.labels == ("Erase 1 cell",) * 5


def test_beyond_its_most_steps_a_history_forgets_the_oldest_only():
    history = History(START, most_steps=3)
    seen = [history.apply(EraseCells((0,))) for _ in range(5)]
    assert len(history.labels) == 3
    assert history.go_to(0) is seen[1]
    assert history.go_to(3) is seen[4]


def test_five_hundred_steps_can_be_taken_back():
    history = History(START)
    for step in range(500):
        history.apply(ChangeBrief({"design_current_a": 100.0 + step}))
    for _ in range(500):
        history.undo()
    assert history.current is START
