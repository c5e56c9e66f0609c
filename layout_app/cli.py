"""Busweave from the command line: what may be asked, and how it ends.

Exit codes: 0 done; 1 the layout has findings of severity "error" (only `check` says so); 2 the input was not usable,
or the program itself failed, in which case it says where the details are.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from layout_app import __version__, cli_advise, cli_commands, cli_compare, cli_currents
from layout_app.cli_console import complain, finish_saying, prepare_streams, write_crash_log
from layout_app.cli_window import open_window
from layout_app.model.errors import LayoutError

DONE, NOT_USABLE, STOPPED = 0, 2, 130  # 130: as shells report a program ended by Ctrl-C
DEBUG_VARIABLE = "BUSWEAVE_DEBUG"  # set to 1, the traceback of a crash is shown as well
OPENED = (".busweave", ".dxf")
LATTICES = ("hexagonal", "square", "compressed")  # as the model has them; asking it would load numpy for every --help
DIRECTIONS_DEG = {"right": 0.0, "top": 90.0, "left": 180.0, "bottom": 270.0}

ABOUT = """\
Lay out modules of cylindrical lithium-ion cells: a housing drawing in, busbar outlines out.
Without a command the window opens, on the files named if there are any:

  busweave                               the start page
  busweave rover.busweave                a layout
  busweave tray.dxf                      a housing drawing
"""
EXAMPLES = """\
examples:
  busweave demo
  busweave capacity tray.dxf --cell 21700-energy
  busweave lay tray.dxf --cell 21700-energy --series 6 --parallel 20 --current 80 --out rover.busweave
  busweave check rover.busweave
  busweave export rover.busweave --to for_the_workshop

exit codes: 0 done; 1 `check` found errors in the layout; 2 the input was not usable (or the program failed), with one
line on stderr that says what, where and what to do. BUSWEAVE_DEBUG=1 shows the traceback of a failure.

Lithium-ion modules burn. Busweave computes; it does not certify: local codes, the cell's data sheet and licensed
practice decide.
"""


class UsageError(LayoutError):
    """What was typed is not a command the program knows."""


class _Parser(argparse.ArgumentParser):
    """An argparse parser that complains in one line, like everything else here."""

    def error(self, message: str) -> NoReturn:
        command = self.prog.removeprefix("busweave").strip()
        where = f"{command}: " if command else ""
        raise UsageError(f"{where}{message.rstrip('.')}. '{self.prog} --help' shows what is possible.")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code. Never raises what a user could see as a traceback."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    prepare_streams()
    try:
        code = _run(arguments)
    except LayoutError as error:
        complain(error)
        code = NOT_USABLE
    except KeyboardInterrupt:
        complain("stopped.")
        code = STOPPED
    except Exception as error:
        code = _crashed(error)
    finish_saying()
    return code


def _run(arguments: list[str]) -> int:
    parser, commands = _parsers()
    if not arguments:
        return open_window([])
    if arguments[0] not in commands and not arguments[0].startswith("-"):
        return open_window(_files(arguments, commands))
    try:
        chosen = parser.parse_args(arguments)
    except SystemExit:  # --help and --version have said it all
        return DONE
    code = chosen.run(chosen)
    assert isinstance(code, int)
    return code


def _files(arguments: list[str], commands: Sequence[str]) -> list[Path]:
    """Return what the window shall open; raise when it can only be a mistyped command."""
    from difflib import get_close_matches

    for text in arguments:
        path = Path(text)
        if path.suffix.lower() in OPENED:
            if not path.exists():
                raise UsageError(f"{text}: there is no such file. Check the name and the folder.")
        elif path.exists():
            raise UsageError(f"{text}: not a file the window opens. Name a layout (.busweave) or a drawing (.dxf).")
        else:
            near = get_close_matches(text, commands, n=1)
            hint = f"Did you mean '{near[0]}'? " if near else f"Commands are {', '.join(commands)}. "
            raise UsageError(f"{text!r} is neither a command nor a file. {hint}'busweave --help' tells more.")
    return [Path(text) for text in arguments]


def _crashed(error: Exception) -> int:
    import traceback

    details = "".join(traceback.format_exception(error))
    if os.environ.get(DEBUG_VARIABLE) == "1":
        sys.stderr.write(details)
    log = write_crash_log(f"Busweave {__version__}, Python {sys.version}\n{details}")
    where = f"Details are in {log}; please report them" if log else f"Set {DEBUG_VARIABLE}=1 to see the details"
    complain(f"the program failed ({type(error).__name__}: {error}). This is a fault of ours. {where}.")
    return NOT_USABLE


# -- what may be asked ----------------------------------------------------------------------------------------------


def _parsers() -> tuple[argparse.ArgumentParser, list[str]]:
    """Return the parser and the names of all commands."""
    parser = _Parser(
        prog="busweave",
        usage="busweave [FILE ...] | busweave COMMAND [OPTION ...]",
        description=ABOUT,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"busweave {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True, prog="busweave")
    for add in (
        _add_demo,
        _add_lay,
        _add_capacity,
        _add_cells,
        _add_figures,
        _add_check,
        _add_currents,
        _add_advise,
        _add_netlist,
        _add_export,
        _add_compare,
    ):
        add(commands)
    return parser, list(commands.choices)


_Commands = argparse._SubParsersAction  # argparse gives its type no public name


def _command(commands: _Commands[_Parser], name: str, summary: str, example: str) -> _Parser:
    return commands.add_parser(
        name,
        help=summary,
        description=summary[0].upper() + summary[1:] + ".",
        epilog=f"example:\n  {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def _add_demo(commands: _Commands[_Parser]) -> None:
    demo = _command(commands, "demo", "do the whole job on a sample housing, and show it", "busweave demo --to trial")
    demo.add_argument("--to", type=Path, metavar="DIR", help="where the files go (default: a new folder here)")
    demo.add_argument("--no-window", action="store_true", help="write the files and stop")
    demo.set_defaults(run=cli_commands.demo)


def _add_lay(commands: _Commands[_Parser]) -> None:
    lay = _command(
        commands,
        "lay",
        "fill a housing with S × P cells, form groups in series order, save the layout",
        "busweave lay tray.dxf --cell 21700-energy --series 6 --parallel 20 --out rover.busweave",
    )
    _add_housing(lay)
    lay.add_argument("--series", type=_count, required=True, metavar="S", help="groups in series")
    lay.add_argument("--parallel", type=_count, required=True, metavar="P", help="cells in each group")
    lay.add_argument("--lattice", choices=("best", *LATTICES), default="best", help="default: best")
    lay.add_argument("--chain", choices=("straight", "folded"), default="straight",
                     help="straight: terminals at opposite ends (default); folded: side by side")  # fmt: skip
    lay.add_argument("--start", type=_direction, metavar="EDGE",
                     help="where group 1 lies: left, right, top, bottom, or degrees from right")  # fmt: skip
    lay.add_argument("--current", type=_number, default=0.0, metavar="A", help="continuous current of the module")
    lay.add_argument("--peak", type=_number, default=0.0, metavar="A", help="its current for ten seconds")
    lay.add_argument("--name", help="the layout's name (default: that of the file)")
    lay.add_argument("--out", type=Path, required=True, metavar="FILE.busweave",
                     help="where to save it; a layout that is there is kept beside it as FILE.busweave~")  # fmt: skip
    lay.set_defaults(run=cli_commands.lay)


def _add_capacity(commands: _Commands[_Parser]) -> None:
    example = "busweave capacity --rectangle 300x200x12 --cell 18650-power"
    capacity = _command(commands, "capacity", "tell how many cells fit a housing, lattice by lattice", example)
    _add_housing(capacity)
    _add_json(capacity)
    capacity.set_defaults(run=cli_commands.capacity)


def _add_cells(commands: _Commands[_Parser]) -> None:
    cells = _command(commands, "cells", "list the cell types: ours and your own", "busweave cells")
    _add_json(cells)
    cells.set_defaults(run=cli_commands.cells)


def _add_figures(commands: _Commands[_Parser]) -> None:
    figures = _command(
        commands, "figures", "tell what a layout amounts to", "busweave figures rover.busweave --explain"
    )
    _add_layout(figures)
    figures.add_argument("--explain", action="store_true", help="add formula, inputs and source")
    _add_json(figures)
    figures.set_defaults(run=cli_commands.figures)


def _add_check(commands: _Commands[_Parser]) -> None:
    check = _command(
        commands, "check", "judge a layout; exit code 1 when it has errors", "busweave check rover.busweave"
    )
    _add_layout(check)
    _add_json(check)
    check.set_defaults(run=cli_commands.check)


def _add_currents(commands: _Commands[_Parser]) -> None:
    example = "busweave currents rover.busweave --amps 160 --model sheet"
    currents = _command(commands, "currents", "tell how the cells share the current and what the metal adds", example)
    _add_layout(currents)
    _add_amps(currents)
    currents.add_argument("--model", choices=("network", "sheet"), default="network",
                          help="network: links between lands, at once (default); sheet: meshed metal")  # fmt: skip
    _add_json(currents)
    currents.set_defaults(run=cli_currents.currents)


def _add_advise(commands: _Commands[_Parser]) -> None:
    example = "busweave advise rover.busweave --amps 160"
    advise = _command(
        commands, "advise", "propose terminal places, borders and sheet that serve a layout better", example
    )
    _add_layout(advise)
    _add_amps(advise)
    _add_json(advise)
    advise.set_defaults(run=cli_advise.advise)


def _add_netlist(commands: _Commands[_Parser]) -> None:
    example = "busweave netlist rover.busweave --out rover.cir"
    netlist = _command(commands, "netlist", "write the current network as a SPICE deck", example)
    _add_layout(netlist)
    _add_amps(netlist)
    netlist.add_argument("--out", type=Path, required=True, metavar="FILE.cir", help="where to write it")
    netlist.set_defaults(run=cli_currents.netlist)


def _add_amps(parser: _Parser) -> None:
    parser.add_argument(
        "--amps", type=_number, metavar="A", help="module current (default: the layout's design current)"
    )


def _add_export(commands: _Commands[_Parser]) -> None:
    example = "busweave export rover.busweave --to for_the_workshop --only dxf,tables"
    export = _command(commands, "export", "write drawings, tables and a report", example)
    _add_layout(export)
    export.add_argument("--to", type=Path, required=True, metavar="DIR", help="the folder they go to")
    export.add_argument("--only", type=_words, metavar="KIND,…",
                        help="dxf, tables, drawings, report (default: all these); paths: stream lines and necks, for "
                        "reference")  # fmt: skip
    export.add_argument("--dxf", choices=("R2010", "R12"), default="R2010", help="DXF release (default: R2010)")
    export.add_argument("--revision", default="", metavar="TEXT", help="revision, for sheets and report")
    export.add_argument("--date", default="", metavar="TEXT", help="date, for sheets and report (default: left free)")
    export.set_defaults(run=cli_commands.export)


def _add_compare(commands: _Commands[_Parser]) -> None:
    example = "busweave compare rover_old.busweave rover.busweave"
    compare = _command(commands, "compare", "tell what differs between two layouts", example)
    compare.add_argument("a", type=Path, metavar="A", help="the layout as it was")
    compare.add_argument("b", type=Path, metavar="B", help="the layout as it is")
    _add_json(compare)
    compare.set_defaults(run=cli_compare.compare)


def _add_layout(parser: _Parser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE.busweave", help="a saved layout")


def _add_json(parser: _Parser) -> None:
    parser.add_argument("--json", action="store_true", help="for programs: JSON whose keys carry the units")


def _add_housing(parser: _Parser) -> None:
    parser.add_argument("outline", nargs="?", type=Path, metavar="OUTLINE.dxf", help="drawing of the housing")
    parser.add_argument("--rectangle", metavar="WxH[xR]", help="in place of a drawing: mm, with corner radius R")
    parser.add_argument("--circle", type=_number, metavar="D", help="in place of a drawing: inside diameter, mm")
    parser.add_argument("--units", metavar="UNIT", help="of the drawing: mm, cm, m, inch, … (default: as it says)")
    parser.add_argument("--layer", metavar="NAME", help="look at this layer of the drawing only")
    parser.add_argument("--cell", required=True, metavar="ID|FILE.toml", help="cell type; 'busweave cells' lists them")
    parser.add_argument("--gap", type=_number, default=1.0, metavar="MM", help="can to can (default: 1)")
    parser.add_argument("--wall", type=_number, default=1.0, metavar="MM", help="can to wall (default: 1)")
    parser.add_argument("--keep-out", type=_number, metavar="MM", help="can to keep-out (default: as the wall)")


def _count(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no whole number") from None


def _number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no number")
    return number


def _direction(text: str) -> float:
    return math.radians(DIRECTIONS_DEG[text] if text in DIRECTIONS_DEG else _number(text))


def _words(text: str) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]
