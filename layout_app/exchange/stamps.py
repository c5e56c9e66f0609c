"""Stamp: what an export is marked with besides the layout: date and revision, as the drawing office writes them."""

from dataclasses import dataclass

from layout_app.model.validation import require_line

LONGEST = 24  # characters that fit into their places in the title block


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Date and revision; an empty one leaves its place on the sheets free to be written into."""

    date: str = ""
    revision: str = ""

    def __post_init__(self) -> None:
        require_line("date", self.date, longest=LONGEST)
        require_line("revision", self.revision, longest=LONGEST)

    def __str__(self) -> str:
        parts = [f"revision {self.revision}"] if self.revision.strip() else []
        return ", ".join(parts + ([self.date] if self.date.strip() else []))


BLANK = Stamp()
