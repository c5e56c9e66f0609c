"""Work beside the window: what is no longer wanted is dropped, what fails is said."""

import threading
import time

import pytest

from layout_app.edits import ChangeFill, ChangeGrouping, ChangePlates, EraseCells, PaintCells
from layout_app.model.errors import LayoutError
from layout_app.window.background import Background
from layout_app.window.document import Document

from .modules import module


@pytest.fixture
def document(qtbot):
    document = Document(module(4, 5, 5))
    document.start()
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    yield document
    document.close()


@pytest.fixture
def background(qapp):
    background = Background()
    yield background
    background.close()


def test_the_result_of_a_job_that_was_replaced_is_dropped(background, qtbot):
    got, may_go = [], threading.Event()
    background.delivered.connect(lambda _, result: got.append(result))

    def slow(hand_over):
        may_go.wait(5)
        hand_over("old")

    background.start(slow)
    background.start(lambda hand_over: hand_over("new"))
    may_go.set()
    qtbot.waitUntil(lambda: bool(got), timeout=5000)
    qtbot.wait(50)
    assert got == ["new"]


def test_of_several_waiting_jobs_only_the_newest_is_done(background, qtbot):
    done, got, may_go = [], [], threading.Event()
    background.delivered.connect(lambda _, result: got.append(result))
    background.start(lambda hand_over: may_go.wait(5))
    for number in range(5):
        background.start(lambda hand_over, number=number: (done.append(number), hand_over(number)))
    may_go.set()
    qtbot.waitUntil(lambda: bool(got), timeout=5000)
    assert done == [4]


def test_an_error_in_a_job_is_handed_over_and_the_next_job_still_runs(background, qtbot):
    errors, got = [], []
    background.failed.connect(lambda _, error: errors.append(error))
    background.delivered.connect(lambda _, result: got.append(result))

    def fails(hand_over):
        raise LayoutError("no room")

    background.start(fails)
    qtbot.waitUntil(lambda: bool(errors), timeout=5000)
    background.start(lambda hand_over: hand_over(1))
    qtbot.waitUntil(lambda: got == [1], timeout=5000)
    assert str(errors[0]) == "no room"


def test_segments_figures_and_findings_follow_every_edit(document, qtbot):
    assert len(document.segments) == 5  # S + 1
    before = {figure.key: figure.value for figure in document.figures}
    document.request(EraseCells((0,)))
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    after = {figure.key: figure.value for figure in document.figures}
    assert after["cells"] == before["cells"] - 1
    assert any("group" in finding.rule for finding in document.findings)  # group 1 is a cell short


def test_a_refused_edit_tells_why_and_changes_nothing(document):
    said, before = [], document.current
    document.request(ChangePlates({"gap_mm": -1.0}), said.append)
    assert "insulation gap" in said[0]
    assert document.current is before
    assert document.undo_label is None


def test_laying_out_anew_happens_beside_the_window_and_is_one_step(document, qtbot):
    before = document.current
    document.request(ChangeGrouping(chain="folded"))
    assert document.current is before
    qtbot.waitUntil(lambda: document.current is not before, timeout=20_000)
    assert document.current.chain == "folded"
    assert document.undo_label == "Change chain"
    document.undo()
    assert document.current is before


def test_laying_out_that_was_overtaken_by_another_edit_is_dropped(document, qtbot):
    document.request(ChangeGrouping(chain="folded"))
    document.request(PaintCells((0,), 2))
    painted = document.current
    qtbot.wait(500)
    assert document.current is painted
    assert document.current.chain == "straight"


def test_asking_for_more_cells_than_fit_says_how_many_do(document, qtbot):
    said = []
    document.request(ChangeGrouping(n_parallel=500), said.append)
    qtbot.waitUntil(lambda: bool(said), timeout=20_000)
    assert "fit" in said[0]
    assert document.undo_label is None


@pytest.fixture
def noted(document):
    told = []
    document.noted.connect(told.append)
    return told


def laid_anew(qtbot, document, edit):
    """Ask for an edit that lays out anew and wait until it is done."""
    step = document.step
    document.request(edit)
    qtbot.waitUntil(lambda: document.step == step + 1, timeout=10_000)


def test_painted_cells_replaced_by_a_new_division_are_told_of_with_the_way_back(document, noted, qtbot):
    document.request(PaintCells((4,), 2))
    painted = document.current
    laid_anew(qtbot, document, ChangeFill(gap_mm=0.9))
    assert "by hand" in noted[-1]
    assert f"Undo {document.undo_label[:1].lower()}{document.undo_label[1:]}" in noted[-1]
    document.undo()
    assert document.current is painted


def test_nothing_is_told_where_nothing_was_painted_since_the_last_laying_out(document, noted, qtbot):
    laid_anew(qtbot, document, ChangeFill(gap_mm=0.9))
    laid_anew(qtbot, document, ChangeFill(gap_mm=0.8))
    assert not [told for told in noted if "by hand" in told]


@pytest.fixture
def slow_metal(monkeypatch):
    """Every segment takes a while, as those of a large module do."""
    from layout_app.plates import deriving

    made = deriving._FaceMaker._made

    def slowly(*arguments):
        time.sleep(0.12)
        return made(*arguments)

    monkeypatch.setattr(deriving._FaceMaker, "_made", slowly)


def test_metal_that_takes_long_tells_how_far_it_is_and_greys_the_old(document, qtbot, slow_metal):
    shares, before = [], document.segments
    document.progress_changed.connect(shares.append)
    document.request(ChangePlates({"gap_mm": 2.5}))
    qtbot.waitUntil(lambda: document.is_stale, timeout=5_000)
    assert document.segments is before
    qtbot.waitUntil(lambda: document.is_settled, timeout=10_000)
    assert shares == sorted(shares)
    assert shares
    assert 0 < shares[0] <= 1
    assert not document.is_stale
    assert document.segments is not before


def test_working_the_metal_out_can_be_given_up_and_taken_up_again(document, qtbot, slow_metal):
    before = document.segments
    document.request(ChangePlates({"gap_mm": 2.5}))
    qtbot.waitUntil(lambda: document.is_stale, timeout=5_000)
    document.cancel_work()
    qtbot.wait(400)
    assert document.is_stopped
    assert document.is_stale
    assert document.segments is before
    assert document.current.plates.gap_mm == 2.5  # the edit itself stands
    document.resume_work()
    qtbot.waitUntil(lambda: document.is_settled and not document.is_stale, timeout=10_000)
    assert document.segments is not before
    assert not document.is_stopped


def test_an_edit_after_giving_up_works_the_metal_out(document, qtbot, slow_metal):
    document.request(ChangePlates({"gap_mm": 2.5}))
    qtbot.waitUntil(lambda: document.is_stale, timeout=5_000)
    document.cancel_work()
    document.undo()
    qtbot.waitUntil(lambda: document.is_settled and not document.is_stale, timeout=10_000)
    assert not document.is_stopped
