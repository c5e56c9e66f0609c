"""Netlist: the current network of a layout as a SPICE deck that any simulator runs.

Node 0 is the negative terminal, `plus` the positive one. Every cell is a voltage source and a resistor between its two
joints; every segment a network of resistors over its lands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layout_app.model.layouts import Layout
from layout_app.physics.currents import NetworkModel, current_of
from layout_app.physics.module import Branches, CellCondition, Metal, branches_of
from layout_app.plates.segments import Segment

GROUND, PLUS = "0", "plus"


def netlist(model: NetworkModel, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> str:
    """Return the deck: operating point at a current drawn from the module.

    Raises
    ------
    LayoutError : as for `network_currents`
    """
    layout = model.plates.layout
    current = current_of(layout, current_a)
    branches = branches_of(layout, model.joints, conditions)
    model.solve(current, conditions)  # refuses what would leave a simulator with nodes that hang on nothing
    lines = [
        *_head(layout, current),
        *_cells(layout, branches),
        *(line for s, m in zip(model.plates.segments, model.metals, strict=True) for line in _segment(layout, s, m)),
        "",
        "* The load: drawn from the positive terminal, back into the negative one",
        f"ILOAD {PLUS} {GROUND} DC {current!r}",
        "",
        ".op",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _head(layout: Layout, current_a: float) -> list[str]:
    name = " ".join(layout.name.encode("ascii", "replace").decode().split()) or "module"
    return [
        f"* {name}: current network, {layout.n_series} groups in series, {len(layout.cells)} cells, {current_a:g} A",
        "* Volt, ampere, ohm. Node 0: negative terminal. Node plus: positive terminal.",
        "* s<k>_c<n>: land of cell n on segment k. s<k>_n<j>: metal of segment k between lands.",
        "* V<n>: source of cell n; the current through it is the cell's, negative when it discharges.",
        "* RC<n>: the cell's resistance. RN<n>, RP<n>: joints at its negative and positive end.",
        "* RS<k>_<j>: metal of segment k.",
        "* Lithium-ion modules burn. This computes; it does not certify.",
    ]


def _cells(layout: Layout, branches: Branches) -> Iterator[str]:
    columns = (branches.cells, branches.groups, branches.source_v, branches.cell_ohm, branches.is_closed)
    before = 0
    for cell, group, source_v, ohm, is_closed in sorted(
        zip(*(c.tolist() for c in columns), strict=True), key=_by_group
    ):
        if group != before:
            yield from ("", f"* Group {group}")
            before = group
        number = cell + 1
        if not is_closed:
            yield f"* cell {number} is open"
            continue
        yield f"RN{number} s{group - 1}_c{number} m{number} {branches.joint_ohm!r}"
        yield f"V{number} e{number} m{number} DC {source_v!r}"
        yield f"RC{number} e{number} p{number} {ohm!r}"
        yield f"RP{number} p{number} s{group}_c{number} {branches.joint_ohm!r}"


def _by_group(row: tuple[int, int, float, float, bool]) -> tuple[int, int]:
    return row[1], row[0]


def _segment(layout: Layout, segment: Segment, metal: Metal) -> Iterator[str]:
    k = segment.number
    names = [f"s{k}_c{cell + 1}" for cell in segment.window_cells.tolist()]
    if k in (0, layout.n_series):
        names.append(GROUND if k == 0 else PLUS)
    names += [f"s{k}_n{j + 1}" for j in range(metal.n_nodes - len(names))]
    yield from ("", f"* Segment {k}: {segment.material.name}, {segment.thickness_mm:g} mm")
    links = zip(metal.start.tolist(), metal.end.tolist(), metal.conductance_s.tolist(), strict=True)
    for j, (start, end, conductance_s) in enumerate(links):
        yield f"RS{k}_{j + 1} {names[start]} {names[end]} {1 / conductance_s!r}"
