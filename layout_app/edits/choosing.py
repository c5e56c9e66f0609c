"""Choosing: which cells go together, as pure functions from chosen cells (indices) to chosen cells.

Choosing changes no layout; it stands here, beside the edits, because every edit of several cells takes such a set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray, PointArray, rotation
from layout_app.model.layouts import Layout

Choice = frozenset[int]
BESIDE_PITCHES = 1.5  # neighbours stand no further apart: beyond a compressed lattice's opened rows (√2)
_last_pairs: tuple[PointArray, float, IntArray] | None = None  # read-only arrays: while they are the same, so are pairs
SAME_ROW = 0.3  # of the distance of rows: cells of one row differ by less, even when moved a little by hand


def all_cells(layout: Layout) -> Choice:
    """Return every cell."""
    return frozenset(range(len(layout.cells)))


def inverted(layout: Layout, chosen: Choice) -> Choice:
    """Return the cells that are not chosen."""
    return all_cells(layout) - chosen


def whole_groups(layout: Layout, chosen: Choice) -> Choice:
    """Return every cell of the groups the chosen cells are in; unassigned cells count as one group."""
    return _alike(layout.cells.groups, chosen)


def same_polarity(layout: Layout, chosen: Choice) -> Choice:
    """Return every cell that stands the same way up as one of the chosen."""
    return _alike(layout.positive_up, chosen)


def same_lock(layout: Layout, chosen: Choice) -> Choice:
    """Return every locked cell if one of the chosen is locked, every other one if one is not."""
    return _alike(layout.cells.locked, chosen)


def whole_rows(layout: Layout, chosen: Choice) -> Choice:
    """Return every cell in a row, along the lattice, with one of the chosen."""
    across = across_rows_mm(layout)
    wanted, reach = np.sort(across[sorted(chosen)]), SAME_ROW * layout.lattice.row_mm
    low = np.searchsorted(wanted, across - reach)
    return _indices(np.searchsorted(wanted, across + reach) > low)


def grown(layout: Layout, chosen: Choice) -> Choice:
    """Return the chosen cells and their neighbours."""
    return frozenset(chosen | _beside(layout, chosen))


def shrunk(layout: Layout, chosen: Choice) -> Choice:
    """Return the chosen cells that have no neighbour which is not chosen."""
    return chosen - _beside(layout, inverted(layout, chosen))


def in_loop(layout: Layout, corners_mm: PointArray) -> Choice:
    """Return the cells whose centres lie inside a closed line with (n, 2) corners; which may cross itself."""
    corners = np.asarray(corners_mm, dtype=np.float64).reshape(-1, 2)
    x, y = layout.cells.centres_mm[:, 0, None], layout.cells.centres_mm[:, 1, None]
    (x0, y0), (x1, y1) = corners.T, np.roll(corners, -1, axis=0).T
    rises = np.where(y1 == y0, 1.0, y1 - y0)  # a level edge is crossed by no ray to the right
    is_crossed = ((y0 <= y) != (y1 <= y)) & (x < x0 + (y - y0) / rises * (x1 - x0))
    return _indices(is_crossed.sum(axis=1) % 2 == 1)


def in_box(layout: Layout, one_mm: tuple[float, float], other_mm: tuple[float, float]) -> Choice:
    """Return the cells whose centres lie in the rectangle between two points."""
    low, high = np.minimum(one_mm, other_mm), np.maximum(one_mm, other_mm)
    centres = layout.cells.centres_mm
    return _indices(np.asarray(((centres >= low) & (centres <= high)).all(axis=1), dtype=np.bool_))


def region_around(layout: Layout, cell: int) -> Choice:
    """Return the cells of the same group that hang together with a cell, over neighbours."""
    groups = layout.cells.groups
    pairs = neighbours_of(layout)
    inside = pairs[(groups[pairs] == groups[cell]).all(axis=1)]
    return _joined(inside, cell, len(groups))


def after_edit(chosen: Choice, before: Layout, after: Layout) -> Choice:
    """Return the same cells by their numbers after an edit, or none when the layout was laid out anew.

    Cells keep their numbers while they are moved and regrouped. Where cells came, went or were numbered anew on the
    same lattice, they are found by their places.
    """
    if before.lattice != after.lattice:
        return frozenset()
    if len(before.cells) == len(after.cells):
        moved = (before.cells.centres_mm != after.cells.centres_mm).any(axis=1)
        if chosen.issuperset(np.flatnonzero(moved).tolist()) or not _share_places(before, after, moved):
            return chosen
    places = {place: cell for cell, place in enumerate(map(tuple, after.cells.centres_mm.tolist()))}
    was = map(tuple, before.cells.centres_mm[sorted(chosen)].tolist())
    return frozenset(places[place] for place in was if place in places)


def _share_places(before: Layout, after: Layout, moved: BoolArray) -> bool:
    """Whether most cells that moved stand where others of them stood: then it is their numbers that changed."""
    now, was = (set(map(tuple, layout.cells.centres_mm[moved].tolist())) for layout in (after, before))
    return 2 * len(now & was) > len(was)


def across_rows_mm(layout: Layout) -> FloatArray:
    """(n,): how far each cell stands from the lattice's row 0, at right angles to the rows."""
    lattice = layout.lattice
    turned = (layout.cells.centres_mm - lattice.origin_mm) @ rotation(lattice.angle_rad)
    return np.asarray(turned[:, 1], dtype=np.float64)


def neighbours_of(layout: Layout) -> IntArray:
    """(m, 2): pairs of neighbouring cells."""
    global _last_pairs
    centres_mm, pitch_mm = layout.cells.centres_mm, layout.lattice.pitch_mm
    known = _last_pairs
    if known is None or known[0] is not centres_mm or known[1] != pitch_mm:
        from layout_app.geometry.neighbours import neighbour_pairs  # scipy: only when somebody chooses

        known = _last_pairs = (centres_mm, pitch_mm, neighbour_pairs(centres_mm, BESIDE_PITCHES * pitch_mm))
    return known[2]


WIDENINGS: dict[str, Callable[[Layout, Choice], Choice]] = {
    "group": whole_groups, "row": whole_rows, "polarity": same_polarity, "lock": same_lock, "grow": grown,
    "shrink": shrunk, "invert": inverted,
}  # fmt: skip


def _alike(values: IntArray | BoolArray, chosen: Choice) -> Choice:
    return _indices(np.isin(values, values[sorted(chosen)]))


def _beside(layout: Layout, chosen: Choice) -> Choice:
    is_chosen = np.zeros(len(layout.cells), dtype=np.bool_)
    is_chosen[sorted(chosen)] = True
    pairs = neighbours_of(layout)
    rim = pairs[is_chosen[pairs].any(axis=1) & ~is_chosen[pairs].all(axis=1)]
    return _indices_of(rim.ravel()[~is_chosen[rim.ravel()]])


def _joined(pairs: IntArray, start: int, n_cells: int) -> Choice:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    i, j = pairs.T
    links = coo_array((np.ones(len(i), dtype=np.int8), (i, j)), shape=(n_cells, n_cells))
    piece = connected_components(links, directed=False)[1]
    return _indices(piece == piece[start])


def _indices(mask: BoolArray) -> Choice:
    return frozenset(np.flatnonzero(mask).tolist())


def _indices_of(cells: Iterable[int] | IntArray) -> Choice:
    return frozenset(np.asarray(cells).tolist())
