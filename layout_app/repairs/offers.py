"""Offer: an edit that repairs, and the words on its button."""

from __future__ import annotations

from dataclasses import dataclass

from layout_app.edits import Edit


@dataclass(frozen=True)
class Offer:
    """Something one click would do."""

    words: str  # an order, e.g. "Erase cell 14"
    edit: Edit
