"""What the brief page has worked out beside the window, and how it sums a proposal up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QCoreApplication

from layout_app.model.housings import Housing
from layout_app.model.layouts import Layout
from layout_app.window.background import HandOver

if TYPE_CHECKING:
    from layout_app.planning.proposals import Proposal

translate = QCoreApplication.translate


def sums(proposal: Proposal) -> str:
    """Return cells, mass, voltages, capacity and energy of a proposal, in three lines."""
    cell, n_series = proposal.cell_type, proposal.n_series
    return translate(
        "brief",
        "{n_series} × {n_parallel} = <b>{n_cells}</b> cells, {mass_kg:.4g} "
        "kg<br>{voltage_min_v:.4g} to {voltage_max_v:.4g} V, nominal {voltage_nominal_v:.4g} "
        "V<br>{capacity_ah:.4g} Ah, <b>{energy_wh:.4g}</b> Wh, {energy_wh_l:.4g} Wh/l",
    ).format(
        n_series=n_series,
        n_parallel=proposal.n_parallel,
        n_cells=proposal.n_cells,
        mass_kg=proposal.n_cells * cell.mass_g / 1000,
        voltage_min_v=n_series * cell.voltage_min_v,
        voltage_max_v=n_series * cell.voltage_max_v,
        voltage_nominal_v=n_series * cell.voltage_nominal_v,
        capacity_ah=proposal.n_parallel * cell.capacity_ah,
        energy_wh=proposal.energy_wh,
        energy_wh_l=proposal.energy_wh_l,
    )


def fillings(housing: Housing, cell: Any, gap_mm: float) -> tuple[Any, ...]:
    """Return what fits."""
    from layout_app.planning import proposals

    return proposals.fillings(housing, cell, gap_mm)


def group(brief: Layout, wanted: Sequence[Proposal], hand_over: HandOver) -> None:
    """Hand over each proposal with its layout and what its chain lacks, as long as somebody wants more."""
    from layout_app.planning import proposals

    for proposal in wanted:
        layout = proposals.laid(brief, proposal)
        if not hand_over((proposal, layout, proposals.chain_lacks(layout))):
            return


def laid(brief: Layout, proposal: Proposal, gap_mm: float, known: Layout | None) -> Layout:
    """Return the proposal as a layout; where the sites do not suffice, lay() says what would let them."""
    from layout_app.planning import proposals
    from layout_app.planning.laying import lay

    if proposal.n_spare < 0:
        asked = {"n_series": proposal.n_series, "n_parallel": proposal.n_parallel, "chain": proposal.chain}
        return lay(brief.housing, brief.cell_type, gap_mm=gap_mm, plates=brief.plates, name=brief.name, **asked)
    if known is None:
        return proposals.laid(brief, proposal)
    words = ("name", "design_current_a", "peak_current_a")  # may have been typed since
    return replace(known, **{word: getattr(brief, word) for word in words})
