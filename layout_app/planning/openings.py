"""Openings: how far the rows of a compressed lattice are worth opening.

Opening a row from the pitch p to a lets rows come as near as √(p² - a²/4), but each cell then takes a √(p² - a²/4) of
floor, which only grows from the hexagonal lattice on. So opening pays where it lets one more row in, or where rows can
be opened without losing a cell.
"""

import math

import numpy as np

from layout_app.geometry.arrays import FloatArray
from layout_app.planning.borders import SLACK_MM
from layout_app.planning.rows import Rows

LEAST = 1 + 1e-4  # times the pitch: opened by less, a lattice is hexagonal to any eye
MOST = math.sqrt(2)  # from there on cells of next rows but one would come nearer than the pitch
MOST_LOST = (
    0.75  # lines of cells the floor may lose: of 118 random searches, none was won by an opening losing half one
)
MAX_HEIGHTS = 12
MAX_WIDTHS = 20
N_EVEN = 4


def openings_mm(rows: Rows, pitch_mm: float) -> FloatArray:
    """Return the distances along a row worth trying, ascending, mm."""
    even = pitch_mm * np.linspace(1.01, 1.2, N_EVEN)
    openings = np.concatenate([_one_more_row(rows, pitch_mm), _same_row(rows, pitch_mm), even])
    openings = np.unique(openings[(openings >= LEAST * pitch_mm) & (openings <= MOST * pitch_mm)])
    bearable = _cells_lost(rows, pitch_mm, openings) <= MOST_LOST * _longest_line(rows, pitch_mm)
    return openings[bearable] if bearable.any() else openings[:1]


def _cells_lost(rows: Rows, pitch_mm: float, openings_mm: FloatArray) -> FloatArray:
    """Return how many cells fewer than with a hexagonal lattice the floor itself takes."""
    row_mm = np.sqrt(pitch_mm**2 - openings_mm**2 / 4)
    return np.asarray(rows.area_mm2 * (2 / (math.sqrt(3) * pitch_mm**2) - 1 / (openings_mm * row_mm)))


def _longest_line(rows: Rows, pitch_mm: float) -> float:
    """Return the cells of the longest row or column, whichever is more: what one row more can bring."""
    n_rows = (rows.levels_mm[-1] - rows.levels_mm[0]) / (pitch_mm * math.sqrt(3) / 2) + 1
    return float(max(n_rows, rows.widths_mm(_middles(rows)).max() / pitch_mm + 1))


def _middles(rows: Rows) -> FloatArray:
    return np.asarray((rows.levels_mm[1:] + rows.levels_mm[:-1]) / 2)


def _one_more_row(rows: Rows, pitch_mm: float) -> FloatArray:
    """Openings at which one or two more rows than hexagonal ones fit between two walls along the rows."""
    walls = rows.by_step_mm[:MAX_HEIGHTS]
    walls = np.unique(np.concatenate([walls, rows.levels_mm[[0, -1]]]))
    low, high = np.triu_indices(len(walls), 1)
    heights = np.maximum(walls[high] - walls[low] - 2 * SLACK_MM, 0.0)
    n_gaps = np.floor(heights / (pitch_mm * math.sqrt(3) / 2)) + np.array([[1], [2]])
    row_sq = (heights / n_gaps).ravel() ** 2
    return np.asarray(2 * np.sqrt(np.maximum(pitch_mm**2 - row_sq, 0.0)), dtype=np.float64)


def _same_row(rows: Rows, pitch_mm: float) -> FloatArray:
    """Openings at which a span just holds as many cells as a hexagonal row, or one less, with or without the shift."""
    left, right = rows.spans_mm(_middles(rows))
    used = right > left
    widths = np.unique((right[used] - left[used]).round(3))
    widths = widths[np.linspace(0, len(widths) - 1, min(len(widths), MAX_WIDTHS)).astype(int)] - 2 * SLACK_MM - 5e-4
    n_gaps = np.floor(widths / pitch_mm) - np.array([[0.0], [0.5], [1.0], [1.5]])
    return np.asarray((widths / np.maximum(n_gaps, 0.5)).ravel(), dtype=np.float64)
