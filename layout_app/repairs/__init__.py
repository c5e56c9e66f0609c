"""What can be done about a finding with one click: for each rule a function that offers edits, and the limit behind it.

An offer is an edit and the words on its button. Nothing is offered that would only trade one error for another; all of
it can be undone. A new rule gets its repair by a function in one of these modules and a line in `OFFERING`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from layout_app.checks.findings import Finding
from layout_app.model.layouts import Layout
from layout_app.repairs import cells, groups, metal
from layout_app.repairs.offers import Offer

__all__ = ["OFFERING", "Offer", "offers"]

OFFERING: dict[str, tuple[Callable[[Finding, Layout], Iterator[Offer]], ...]] = {
    "same place": (cells.erase_doubles,),
    "overlap": (cells.move_to_free_sites, cells.erase_overlapping),
    "wall": (cells.move_to_free_sites, cells.erase_loose),
    "keep-out": (cells.move_to_free_sites, cells.erase_loose),
    "cell gap": (cells.fill_again,),
    "unassigned": (groups.mend, cells.erase_loose),
    "missing group": (groups.form_anew,),
    "uneven group": (groups.place_lacking, groups.mend, groups.form_anew),
    "split group": (groups.mend, groups.form_anew),
    "step apart": (groups.mend, groups.form_anew),
    "insulation gap": (metal.move_terminal,),
    "setback": (metal.move_terminal,),
    "web": (metal.smaller_windows,),
    "window": (metal.safe_windows,),
    "terminal": (metal.wider_tab, metal.tab_outside, metal.move_terminal),
    "neck": (metal.thicker_sheet,),
}


def offers(finding: Finding, layout: Layout) -> tuple[Offer, ...]:
    """Return what can be done about a finding, the gentlest first; empty when only judgement helps."""
    return tuple(offer for make in OFFERING.get(finding.rule, ()) for offer in make(finding, layout))
