"""The command that advises: what would serve a layout better, ranked beside the layout as it is."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING

from layout_app.cli_console import Progress, say, say_json, say_table

if TYPE_CHECKING:
    from layout_app.advising.adviser import Advice
    from layout_app.advising.measures import Measures
    from layout_app.model.layouts import Layout

DONE = 0


def advise(options: Namespace) -> int:
    """Propose terminal places, borders and sheet, best first."""
    from layout_app.advising.adviser import advise as advice_of
    from layout_app.model.saved_file import load
    from layout_app.workings import Workings

    layout = load(options.file)
    with Progress("Trying terminals and sheet") as progress:
        advice = advice_of(Workings(layout), current_a=options.amps, progress=progress.done)
    if options.json:
        say_json(advice.as_json())
    else:
        _say_advice(layout, advice)
    return DONE


def _say_advice(layout: Layout, advice: Advice) -> None:
    say(f"{layout.name}: {advice.start.current_a:g} A, network model, {advice.n_tried} layouts tried")
    rows = [("", "score", "imbalance", "loss W", "metal g", "layout"), ("", *_row(1.0, advice.start, "As it is"))]
    rows += [(str(k), *_row(p.score, p.measures, p.label)) for k, p in enumerate(advice.proposals, 1)]
    say_table(rows, right="r r r r r l")
    if not advice.proposals:
        say("Nothing tried serves better in imbalance, loss or mass and keeps the rules.")
    say(f"Score: mean of {advice.weights.words}; less is better. Loss is that of joints and metal.")
    for remark in dict.fromkeys(remark for p in advice.proposals for remark in p.remarks):
        named = ", ".join(str(k) for k, p in enumerate(advice.proposals, 1) if remark in p.remarks)
        say(f"{named}: {remark}")
    for left in advice.left_out:
        say(f"Left out: {left.label}. {left.why}")


def _row(score: float, measures: Measures, label: str) -> tuple[str, str, str, str, str]:
    loss_w, mass_g = measures.interconnect_loss_w, measures.metal_mass_g
    return f"{score:.3f}", f"{measures.imbalance:.4f}", f"{loss_w:.4g}", f"{mass_g:.4g}", label
