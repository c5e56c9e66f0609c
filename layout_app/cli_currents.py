"""The commands about currents: how the cells share the load, and the network for a circuit simulator."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from layout_app.cli_console import Progress, say, say_json, say_table
from layout_app.model.errors import LayoutError

if TYPE_CHECKING:
    from layout_app.model.layouts import Layout
    from layout_app.physics.currents import Currents, SheetModel

DONE = 0
ENDING = ".cir"


def currents(options: Namespace) -> int:
    """Tell how the cells share the current, and what the metal adds."""
    from layout_app.model.saved_file import load
    from layout_app.physics.currents import NetworkModel, SheetModel
    from layout_app.physics.model_difference import model_difference
    from layout_app.workings import Workings

    layout = load(options.file)
    plates = Workings(layout).plates
    sheet: SheetModel | None = None
    quick: Currents | None = None
    with Progress("Solving the currents") as progress:
        if options.model == "sheet":
            sheet = SheetModel(plates, progress=progress.done)
            found = sheet.solve(options.amps)
            quick = NetworkModel(plates).solve(options.amps)
        else:
            found = NetworkModel(plates).solve(options.amps)
        peaks = () if sheet is None else sheet.fields(found, progress.done)
    if options.json:
        told = found.as_json()
        if quick is not None:
            told["network"] = quick.as_json()
            told["network_difference"] = model_difference(quick, found).as_json()
            told["segment_peak_a_mm2"] = [field.peak_a_mm2 for field in peaks]
            told["segment_peak_mm"] = [list(field.peak_mm) for field in peaks]
            told["segment_foot_a_mm2"] = [field.foot_a_mm2 for field in peaks]
        say_json(told)
        return DONE
    _say_currents(layout, found)
    if quick is not None:
        _say_difference(quick, found)
        rows = [
            (str(k), f"{loss:.3g}", f"{p.peak_a_mm2:.3g}", "({:.1f}, {:.1f})".format(*p.peak_mm), f"{p.foot_a_mm2:.3g}")
            for k, (loss, p) in enumerate(zip(found.solved.segment_loss_w, peaks, strict=True))
        ]  # fmt: skip
        say_table([("segment", "loss W", "peak A/mm²", "at mm", "mean at feet A/mm²"), *rows], right="r r r l r")
    return DONE


def _say_currents(layout: Layout, found: Currents) -> None:
    solved, flow = found.solved, found.solved.cell_current_a[layout.cells.groups > 0]
    say(f"{layout.name}: {solved.current_a:g} A, {found.model} model")
    rows = [
        (
            "Cell currents",
            f"{flow.min():.4g} to {flow.max():.4g} A, the largest {found.imbalance:.4g} of its group's mean",
        ),
        ("Terminal voltage", f"{solved.voltage_v:.4g} V, every cell at {layout.cell_type.voltage_nominal_v:g} V"),
        ("Terminal resistance", f"{solved.terminal_resistance_ohm * 1e3:.4g} mΩ"),
        ("added by metal and joints", f"{found.interconnect_resistance_ohm * 1e3:.4g} mΩ"),
        ("Loss in cells", f"{solved.cell_loss_w:.4g} W"),
        ("Loss in joints", f"{solved.joint_loss_w:.4g} W"),
        ("Loss in segments", f"{solved.segment_loss_w.sum():.4g} W"),
    ]
    if found.errors:
        current, ohm = found.errors["cell_current_a"], found.errors["terminal_resistance_ohm"]
        rows.append(("Estimated error", f"{current:.2g} A of a cell's current, {ohm * 1e3:.2g} mΩ of the resistance"))
    for label, text in rows:
        say(f"{label:<26}{text}")


def _say_difference(network: Currents, sheet: Currents) -> None:
    """Tell how far the network, which follows every edit in the window, is from the sheet model."""
    from layout_app.physics.model_difference import model_difference

    difference = model_difference(network, sheet)
    worst = difference.worst_segment
    rows = [
        ("Network model beside it", f"cell currents within {difference.cell_current_a:.2g} A, their spread "
                                    f"{difference.spread:+.2%}"),
        ("", f"terminal resistance {difference.terminal_resistance:+.2%}"),
        ("", f"losses of segments within {abs(difference.segment_loss[worst]):.2%}, most in segment {worst}"),
    ]  # fmt: skip
    for label, text in rows:
        say(f"{label:<26}{text}")


def netlist(options: Namespace) -> int:
    """Write the current network as a SPICE deck."""
    from layout_app.exchange.netlist import netlist as deck
    from layout_app.model.atomic import replace_file
    from layout_app.model.saved_file import load
    from layout_app.physics.currents import NetworkModel
    from layout_app.workings import Workings

    out: Path = options.out
    if out.suffix == ".busweave":
        raise LayoutError(f"netlist: {out} is a layout's name; a deck's usually ends in {ENDING}. Name another --out.")
    text = deck(NetworkModel(Workings(load(options.file)).plates), options.amps)
    replace_file(out, text.encode("utf-8"))
    say(f"Saved: {out}")
    return DONE
