"""Side by side: the same work on several things, two at a time, told of as it goes and ended promptly.

What takes the time here (triangulating, looking up neighbours, factorising) lets other threads run meanwhile, so two
threads nearly halve it; a third would want a third core.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from typing import TypeVar

AT_ONCE = 2  # asked for by the user: at most two cores
TELL_EVERY_S = 0.1  # a wish to end is heard as often

Progress = Callable[[float], None]
Step = Callable[[float], None]  # called by the work as it goes, with the share of its own that this step was

Thing = TypeVar("Thing")
Result = TypeVar("Result")


class EndedError(Exception):
    """Raised inside work that nobody waits for any more."""


class _Tally:
    """How much of all work is done, counted by several threads."""

    def __init__(self) -> None:
        self.share, self.is_ended, self._lock = 0.0, False, threading.Lock()

    def step_of(self, weight: float) -> Step:
        """Return the step of one thing, whose work is `weight` of all."""

        def step(share: float) -> None:
            with self._lock:
                self.share += weight * share
            if self.is_ended:
                raise EndedError

        return step


def side_by_side(
    work: Callable[[Thing, Step], Result],
    things: Sequence[Thing],
    weights: Sequence[float],
    progress: Progress | None = None,
) -> list[Result]:
    """Return work(thing, step) of each thing, in order.

    Parameters
    ----------
    work : calls step(share) now and then, with shares that sum to one; each call is a place where it can be ended
    weights : how much work each thing is, in any unit
    progress : called in the caller's thread with the share of all that is done, ten times a second or so and at the
        end. What it raises comes through at once; what runs meanwhile is left to end at its next step.

    Raises
    ------
    what work raises : of the first thing that has trouble
    """
    tally, total = _Tally(), sum(weights) or 1.0
    pool = ThreadPoolExecutor(min(AT_ONCE, os.cpu_count() or 1), thread_name_prefix="side-by-side")
    try:
        futures = [pool.submit(work, each, tally.step_of(w / total)) for each, w in zip(things, weights, strict=True)]
        for future in futures:
            _wait_for(future, tally, progress)
        if progress is not None:
            progress(1.0)
        return [future.result() for future in futures]
    finally:
        tally.is_ended = True
        pool.shutdown(wait=False, cancel_futures=True)


def _wait_for(future: Future[Result], tally: _Tally, progress: Progress | None) -> None:
    """Wait until the work is done, telling how far all work is meanwhile, and raise what it raised."""
    while wait([future], TELL_EVERY_S).not_done:
        if progress is not None:
            progress(min(tally.share, 1.0))
    future.result()
