"""The netlist: the same network in a circuit simulator carries the same currents.

Reference: ngspice, Debian's package.
"""

import os
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest

from layout_app.cli import main
from layout_app.exchange.netlist import netlist
from layout_app.model import saved_file
from layout_app.model.errors import LayoutError
from layout_app.physics.currents import NetworkModel
from layout_app.physics.module import CellCondition
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded

NGSPICE = shutil.which("ngspice")
CONDITIONS = (CellCondition.opened(3), CellCondition.shorted(17), CellCondition(cell=30, source_v=3.71))


def module(**options):
    return banded(n_columns=8, n_rows=5, n_series=4, **options)


def simulated(deck, tmp_path, names):
    """Return what ngspice finds for the named vectors at the operating point."""
    asked = "\n".join(f"print {name}" for name in names)
    control = f".control\nset numdgt=12\nop\n{asked}\nquit\n.endc\n"
    file = tmp_path / "module.cir"
    file.write_text(deck.replace(".end\n", control + ".end\n"), encoding="utf-8")
    done = subprocess.run([NGSPICE, "-b", file.name], cwd=tmp_path, capture_output=True, text=True, check=False)
    found = dict(re.findall(r"^(\S+) = (\S+)$", done.stdout, re.MULTILINE))
    return np.array([float(found[name]) for name in names])


@pytest.mark.skipif(NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed")
@pytest.mark.parametrize("conditions", [(), CONDITIONS], ids=["sound", "faulty"])
def test_ngspice_finds_the_same_cell_currents_and_voltage(tmp_path, conditions):
    model = NetworkModel(Plates(module()))
    found = model.solve(60.0, conditions).solved
    closed = [k for k in range(len(model.plates.layout.cells)) if k != 3 or not conditions]
    names = [f"i(v{k + 1})" for k in closed] + ["v(plus)"]
    theirs = simulated(netlist(model, 60.0, conditions), tmp_path, names)
    assert -theirs[:-1] == pytest.approx(found.cell_current_a[closed], rel=1e-6, abs=1e-9)
    assert theirs[-1] == pytest.approx(found.voltage_v, rel=1e-6)


def test_metal_that_hangs_on_nothing_is_told_instead_of_written():
    """A simulator would only say that its matrix is singular."""
    layout = module()
    groups = layout.cells.groups.copy()
    groups[np.flatnonzero(groups == 1)[0]] = layout.n_series
    astray = NetworkModel(Plates(replace(layout, cells=layout.cells.regrouped(groups))))
    with pytest.raises(LayoutError, match="leads to no terminal"):
        netlist(astray, 10.0)


def test_every_line_is_a_comment_a_command_or_an_element_named_once():
    deck = netlist(NetworkModel(Plates(module())), 60.0, CONDITIONS).splitlines()
    elements = [line.split()[0].lower() for line in deck if line and line[0] not in "*."]
    assert len(elements) == len(set(elements))
    assert {name[0] for name in elements} == {"r", "v", "i"}
    assert deck[-1] == ".end"
    assert deck[0].startswith("*")  # simulators take the first line for a title
    assert all(float(line.split()[3]) > 0 for line in deck if line.startswith("R"))
    assert "* cell 4 is open" in deck


def test_the_command_writes_the_deck(tmp_path, capsys):
    file, out = tmp_path / "m.busweave", tmp_path / "m.cir"
    saved_file.save(module(), file)
    assert main(["netlist", str(file), "--amps", "60", "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8") == netlist(NetworkModel(Plates(module())), 60.0)
    assert main(["netlist", str(file), "--out", str(file)]) == 2
    assert "is a layout's name" in capsys.readouterr().err
