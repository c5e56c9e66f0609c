"""Writes the help pages that are made from the program itself, and their pictures: python tests/help/make_pages.py

Run it after a change of rules, figures, commands, actions, or of how the window looks; `--no-pictures` leaves the
pictures alone. tests/help/test_help.py tells when a page is out of date.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.help import rules_page

HELP = Path(__file__).resolve().parents[2] / "resources" / "help"

FIGURES_HEAD = """\
# Figures

Every figure follows from the layout and is never typed in. Click one: the line below the table tells its formula, what
went into it, and where it comes from. The same list comes from `busweave figures FILE --explain`, and with `--json`
under the names in the last column, which other programs can rely on.

![The figures, and what the chosen one is made of](pictures/figures.png)

When groups are uneven the smallest one is empty first: it limits capacity, energy and current, and the figures say so.
They rest on the cell type's values: generic types are typical, so put in your data sheet's
([Cells of your own](own_cells.md)).

| Figure | Formula | Name |
|---|---|---|
"""
CURRENT_FIGURES_HEAD = """\

## Figures of the metal and the currents

These rest on the metal and on the solved network ([Currents and bonds](currents.md)). The window, the report and
`busweave compare` show them; `busweave currents FILE --json` gives them to other programs.

| Figure | Formula |
|---|---|
"""
COMMAND_HEAD = """\
# The command line

Everything works without a window too. Exit codes: 0 done; 1 `check` found errors in the layout; 2 the input was not
usable, with one line that says what, where and what to do. `--json` answers in JSON whose keys carry their units.
"""


def figures_page() -> str:
    """Return the page of figures, those of a sample with every figure in it."""
    from layout_app.model.resources import sample_layouts
    from layout_app.model.saved_file import load
    from layout_app.workings import Workings

    told = Workings(load(sample_layouts()["orchard_rover"]))
    rows = "\n".join(f"| {f.label} | {f.formula} | `{f.key}` |" for f in told.layout_figures)
    solved = "\n".join(f"| {f.label} | {f.formula} |" for f in told.metal_figures + told.current_figures)
    return f"{FIGURES_HEAD}{rows}\n{CURRENT_FIGURES_HEAD}{solved}\n"


def command_page() -> str:
    """Return the page of commands: what each says of itself."""
    parts = [COMMAND_HEAD]
    commands = re.findall(
        r"^    ([a-z]+) ", _help_of().partition("commands:")[2].partition("examples:")[0], re.MULTILINE
    )
    for command in ("", *commands):
        told = _help_of(*command.split())
        parts.append(f"## busweave {command}".rstrip() + f"\n\n```\n{told.strip()}\n```\n")
    return "\n".join(parts)


def _help_of(*command: str) -> str:
    environment = {**os.environ, "COLUMNS": "100"}
    done = subprocess.run(
        [sys.executable, "-m", "layout_app", *command, "--help"],
        capture_output=True, text=True, encoding="utf-8", env=environment, check=True,
    )  # fmt: skip
    return done.stdout


def keys_page() -> str:
    """Return the page of keys, from the actions of a window on a sample; wants a QApplication."""
    from layout_app.model.resources import sample_layouts
    from layout_app.window.app import Program
    from layout_app.window.key_list import keys_markdown

    window = Program().new_window()
    window.open_path(sample_layouts()["harbour_buoy"], is_copy=True)
    try:
        return keys_markdown(window)
    finally:
        window.close()
        window.deleteLater()


PAGES: dict[str, Callable[[], str]] = {
    "findings": rules_page.page, "figures": figures_page, "command_line": command_page, "keys": keys_page,
}  # fmt: skip


def main() -> None:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    os.environ["QT_SCALE_FACTOR"] = "2"
    from PySide6.QtWidgets import QApplication

    app = QApplication([])
    for topic, make in PAGES.items():
        (HELP / f"{topic}.md").write_text(make(), encoding="utf-8")
    if "--no-pictures" not in sys.argv:
        from tests.help import pictures

        pictures.take_all(HELP / "pictures")
    app.quit()


if __name__ == "__main__":
    main()
