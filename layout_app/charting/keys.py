"""Keys: how much room the explanation of a chart's marks takes, reckoned without drawing it."""

from __future__ import annotations

from collections.abc import Sequence

LETTER_EM = 0.58  # mean width of a letter
HANDLE_EM = 4.2  # what stands before the words, with the gap to the next column
LINE_EM = 1.6  # from line to line
BESIDE = 1.9  # two panels stand side by side in rooms so many times as wide as high,
ROW_EM, STACK_EM = 42.0, 27.0  # and in lower ones than STACK_EM, when they are at least as wide as ROW_EM
LEAST_EM = 30.0, 16.0  # width and height of a panel with its words


def are_beside(width_em: float, height_em: float) -> bool:
    """Whether two panels stand side by side in a room, rather than above each other."""
    return width_em >= ROW_EM and (width_em > BESIDE * height_em or height_em < STACK_EM)


def least_height_em(width_em: float, words: Sequence[str]) -> float:
    """Return the least height at which a chart of two panels over a key can be read."""
    panels = LEAST_EM[1] if width_em >= ROW_EM else 1.8 * LEAST_EM[1]
    return panels + key_size_em(words, n_key_columns(words, width_em - 2))[1]


def key_size_em(words: Sequence[str], n_columns: int) -> tuple[float, float]:
    """Return (width, height) of a key of so many columns, in heights of its font.

    >>> key_size_em(["mean", "limit"], 1)[1] > key_size_em(["mean", "limit"], 2)[1]
    True
    """
    rows = -(-len(words) // n_columns)
    columns = [words[k * rows : (k + 1) * rows] for k in range(n_columns)]
    width = sum(HANDLE_EM + LETTER_EM * max(map(len, column), default=0) for column in columns)
    return width, LINE_EM * rows + 0.8


def n_key_columns(words: Sequence[str], width_em: float) -> int:
    """Return how many columns fit into a width; one when not even that does."""
    fitting = [n for n in range(1, len(words) + 1) if key_size_em(words, n)[0] <= width_em]
    return max(fitting, default=1)
