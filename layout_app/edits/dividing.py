"""Dividing: some cells of a layout cut into parts that follow one another, around those that are locked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout_app.edits.locks import named_cells
from layout_app.geometry.arrays import IntArray
from layout_app.model.cells import UNASSIGNED
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout

if TYPE_CHECKING:
    from layout_app.planning.links import Links


def divided(
    layout: Layout,
    members: IntArray,
    held: IntArray,
    n_groups: int,
    start_rad: float | None,
    now: IntArray | None = None,
) -> IntArray:
    """Return (m,) parts 1…n of some cells, counts differing by at most one where trades can do it.

    `held`, (m,), is the part a cell must be in, 0 for one that may be in any; `now`, (m,), the parts as they are.
    """
    from layout_app.planning.evening import evened, links_of
    from layout_app.planning.grouping import divide

    is_in = np.isin(np.arange(len(layout.cells)), members)
    links = links_of(layout).part(is_in)
    division = divide(
        links.centres_mm,
        pitch_mm=links.pitch_mm,
        n_series=n_groups,
        n_parallel=-(-len(members) // n_groups),
        chain="straight",
        start_rad=start_rad,
        pairs=links.pairs,
    )
    parts = np.where(division.groups == UNASSIGNED, n_groups, division.groups)
    if held.any():
        return _around_locked(links, [parts] if now is None else [parts, now], held, members)
    if n_groups > 1 and np.ptp(np.bincount(parts, minlength=n_groups + 1)[1:]) > 1:
        parts = evened(links, parts, n_groups, np.arange(1, n_groups + 1))
    return parts


def towards_rad(layout: Layout, members: IntArray, first: int, last: int | None = None) -> float | None:
    """Return the direction from the middle of some cells towards the group before them, or away from that after."""
    middle = layout.cells.centres_mm[members].mean(axis=0)
    for group, sign in ((first - 1, 1.0), ((first if last is None else last) + 1, -1.0)):
        others = layout.cells.centres_mm[layout.cells.of_group(group)] if group >= 1 else members[:0]
        if len(others):
            dx, dy = (sign * (others.mean(axis=0) - middle)).tolist()
            if math.hypot(dx, dy) > 0:
                return math.atan2(dy, dx)
    return None


def _around_locked(links: Links, tries: list[IntArray], held: IntArray, members: IntArray) -> IntArray:
    """Return parts with every held cell in its own: of the divisions this does not tear to pieces the most even one."""
    from layout_app.planning.holding import formed_around, n_pieces

    numbers = np.unique(tries[0]).tolist()
    allowed = [max(n_pieces(links, tries[0], k), 1) for k in numbers]
    sound = []
    for parts in tries:
        formed = formed_around(links, parts, held, len(numbers))
        if all(n_pieces(links, formed, k) <= most for k, most in zip(numbers, allowed, strict=True)):
            sound.append(formed)
    if sound:
        return min(sound, key=lambda formed: max(int(np.ptp(np.bincount(formed)[1:])), 1))
    locked = members[held > 0].tolist()
    raise LayoutError(
        f"No groups in one piece were found that leave the locked {named_cells(locked)} where they are. Unlock some, "
        "or paint by hand."
    )
