"""Work side by side: results in order, progress in the caller's thread, the first trouble told, ended when asked."""

import threading

import pytest

from layout_app.physics.side_by_side import AT_ONCE, EndedError, side_by_side


def test_results_come_in_the_order_of_the_things():
    held = threading.Event()

    def work(thing, step):
        held.wait() if thing == 0 else held.set()  # the first is done last
        return thing * 2

    assert side_by_side(work, range(5), [1] * 5) == [0, 2, 4, 6, 8]
    assert side_by_side(work, [], []) == []


def test_no_more_run_at_once_than_said():
    running, most, lock = 0, 0, threading.Lock()

    def work(thing, step):
        nonlocal running, most
        with lock:
            running += 1
            most = max(most, running)
        threading.Event().wait(0.01)
        with lock:
            running -= 1

    side_by_side(work, range(12), [1] * 12)
    assert most <= AT_ONCE


def test_progress_is_told_in_the_callers_thread_and_never_falls():
    told, waiting = [], threading.Event()

    def work(thing, step):
        step(0.25)
        waiting.wait()
        step(0.75)

    def progress(share):
        assert threading.current_thread() is threading.main_thread()
        told.append(share)
        waiting.set()

    side_by_side(work, "ab", [3, 1], progress)
    assert told == sorted(told)
    assert told[0] == pytest.approx(0.25)
    assert told[-1] == 1.0


def test_trouble_of_the_first_thing_is_told_whichever_fails_first():
    second_failed = threading.Event()

    def work(thing, step):
        if thing == 0:
            second_failed.wait(5)
        else:
            second_failed.set()
        raise ValueError(thing)

    with pytest.raises(ValueError, match="0"):
        side_by_side(work, range(2), [1, 1])


def test_what_progress_raises_comes_through_and_ends_the_work_at_its_next_step():
    let_go, ended, begun = threading.Event(), threading.Event(), []

    def work(thing, step):
        begun.append(thing)
        let_go.wait()
        try:
            step(0.5)
        except EndedError:
            ended.set()
            raise

    def progress(share):
        raise KeyError("enough")

    with pytest.raises(KeyError, match="enough"):
        side_by_side(work, range(9), [1] * 9, progress)
    let_go.set()
    assert ended.wait(5)
    assert len(begun) <= AT_ONCE  # the others never began
