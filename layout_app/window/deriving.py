"""Deriving: what the thread beside the window does for one layout, step by step, as long as anybody waits for it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from layout_app.model.layouts import Layout
from layout_app.window.background import HandOver
from layout_app.window.metal_paths import MetalPaths
from layout_app.window.surroundings import Surroundings

FEW_CELLS = 100  # a change of the groups of so many rebuilds a few segments: some milliseconds
MANY_CELLS = 2000  # their currents take a tenth of a second and more: the rest is shown before
TELL_EVERY_S = 0.1


def is_small_change(old: Layout, new: Layout) -> bool:
    """Whether at most a few cells changed their group and nothing else did that metal depends on."""
    if len(old.cells) != len(new.cells) or old.n_series != new.n_series:
        return False
    same = ("housing", "cell_type", "lattice", "plates", "terminals", "first_group_up")
    if not all(getattr(old, part) is getattr(new, part) or getattr(old, part) == getattr(new, part) for part in same):
        return False
    if old.cells.centres_mm is not new.cells.centres_mm:
        return False
    return int(np.count_nonzero(old.cells.groups != new.cells.groups)) <= FEW_CELLS


class _Stopped(Exception):  # noqa: N818  # a wish, no error
    """Nobody waits for the metal any more."""


def derive(workings: Any, around: Surroundings, paths: MetalPaths, stop: threading.Event, hand_over: HandOver) -> None:
    """Work everything out in the order the eye wants it: metal, then sites, figures and findings, then currents.

    Where a newer layout waits, the metal is all that is still of use; once `stop` is set, not even that.
    """
    layout = workings.layout
    tints = around.tints(layout)
    workings.plates.progress = _Telling(stop, hand_over)
    try:
        workings.segments  # noqa: B018  # made by being asked for
    except _Stopped:
        return
    paths.of(workings.segments)  # made here, not when the window paints
    if not hand_over({"workings": workings, "tints": tints}):
        return
    if not hand_over({"free_sites_mm": around.free_sites_mm(layout)}):
        return
    if len(layout.cells) > MANY_CELLS:
        at_once = {"figures": workings.layout_figures, "findings": workings.metal_findings}
        if not hand_over(at_once):
            return
    workings.network.progress = _wanted(stop, hand_over)
    try:
        workings.necks  # noqa: B018  # which want the currents first
    except _Stopped:
        return
    hand_over(
        {
            "figures": workings.figures,
            "findings": workings.findings,
            "necks": workings.necks,
            "currents": workings.currents,
            "joint_faults": workings.joint_faults,
            "no_currents": workings.no_currents,
            "no_joint_faults": workings.no_joint_faults,
            "currents_of": layout,
            "current_segments": workings.segments,
        }
    )


def _wanted(stop: threading.Event, hand_over: HandOver) -> Callable[[float], None]:
    """Return what ends the work on currents when told to stop, or when a newer layout waits."""

    def told(_share: float) -> None:
        if stop.is_set() or not hand_over({}):
            raise _Stopped

    return told


class _Telling:
    """Tells the window how far the metal is, not more often than it can be seen; ends the work when told to stop."""

    def __init__(self, stop: threading.Event, hand_over: HandOver) -> None:
        self._stop, self._hand_over, self._last_s = stop, hand_over, time.monotonic()

    def __call__(self, share: float) -> None:
        if self._stop.is_set():
            raise _Stopped
        now_s = time.monotonic()
        if now_s - self._last_s > TELL_EVERY_S:
            self._last_s = now_s
            self._hand_over({"share": share})
