"""Network: currents and potentials in a network of resistors, voltage sources and fed-in currents.

`solve_network` is the entry for any network with named nodes; `nodal_potentials_v` is what it, and everything else
here, stands on: nodal analysis (Kirchhoff's current law at every node), solved sparsely.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.model.errors import LayoutError
from layout_app.physics.sparse import factorised

Node = Hashable
Resistor = tuple[Node, Node, float]  # from, to, ohm
Source = tuple[Node, Node, float, float]  # negative end, positive end, volt, ohm inside
Injection = tuple[Node, float]  # where, ampere into the network there

BALANCE = 1e-9  # what the fed-in currents may miss of summing to zero, as a share of the largest
MOST_ROUNDS = 6  # of solving for what is missing still; one or two do
LEAST_OHM, MOST_OHM = 1e-15, 1e15  # beyond, sums of conductances lose all their digits
NODES_NAMED = 5  # in a message; more would not be read


@dataclass(frozen=True, slots=True, eq=False)
class NetworkSolution:
    """What flows in a network.

    Attributes
    ----------
    nodes : all nodes in the order they were first named, resistors first
    potential_v : (n,) float array, of each node against the reference
    resistor_current_a : (r,) float array, from the first to the second node of each resistor
    source_current_a : (s,) float array, that each source delivers: out of its positive end
    loss_w : float, turned into heat in resistors and inside the sources
    """

    nodes: tuple[Node, ...]
    potential_v: FloatArray
    resistor_current_a: FloatArray
    source_current_a: FloatArray
    loss_w: float

    def voltage_v(self, node: Node, against: Node) -> float:
        """Return the potential of a node less that of another."""
        return float(self.potential_v[self.nodes.index(node)] - self.potential_v[self.nodes.index(against)])


def solve_network(
    resistors: Sequence[Resistor],
    sources: Sequence[Source] = (),
    injections: Sequence[Injection] = (),
    reference: Node | None = None,
) -> NetworkSolution:
    """Return potentials and currents of a network.

    Parameters
    ----------
    resistors : (from, to, ohm) each, more than 0 ohm
    sources : (negative end, positive end, volt, ohm) each, with more than 0 ohm inside
    injections : (node, ampere) each, positive into the network; they must sum to zero, for what goes in comes out
    reference : the node of potential 0; the first one named by default

    Raises
    ------
    LayoutError : a resistance that is not positive, a number that is none, a part of the network that hangs on nothing,
        currents that do not sum to zero; the message names the nodes

    >>> found = solve_network([("a", "b", 2.0), ("b", "c", 1.0)], [("c", "a", 6.0, 0.5)], reference="c")
    >>> found.source_current_a.round(6).tolist(), round(found.voltage_v("b", "c"), 6)
    ([1.714286], 1.714286)
    """
    nodes = {node: None for a, b, *_ in (*resistors, *sources) for node in (a, b)}
    names = tuple(
        dict.fromkeys((*nodes, *(node for node, _ in injections), *([] if reference is None else [reference])))
    )
    if not names:
        raise LayoutError("There is no network: neither a resistor nor a source is given.")
    _require_values(resistors, sources, injections)
    number = {name: k for k, name in enumerate(names)}
    links = [(number[a], number[b], ohm, 0.0) for a, b, ohm in resistors]
    links += [(number[positive], number[negative], ohm, volt) for negative, positive, volt, ohm in sources]
    table = np.array(links, dtype=np.float64).reshape(-1, 4)
    (start, end), (ohm, volt) = table[:, :2].T.astype(np.int64), table[:, 2:].T
    fed = np.zeros(len(names))
    for node, ampere in injections:
        fed[number[node]] += ampere
    zero = 0 if reference is None else number[reference]
    _require_one_part(names, start, end, zero)
    potential, current = _refined(len(names), start, end, ohm, volt, fed, zero)
    n = len(resistors)
    return NetworkSolution(names, potential, current[:n], -current[n:], float((current**2 * ohm).sum()))


def _refined(
    n_nodes: int, start: IntArray, end: IntArray, ohm: FloatArray, volt: FloatArray, fed: FloatArray, reference: int
) -> tuple[FloatArray, FloatArray]:
    """Return the potentials of the nodes and the currents of the links, from start to end.

    A source behind its resistance is a current beside it (Norton). Potentials drop by far less than they are where a
    link is nearly a short, and the digits lost there come back by solving again for what Kirchhoff's law still misses:
    currents add up from drops alone.

    Raises
    ------
    LayoutError : what is missing does not get less, as resistances lie too many powers of ten apart
    """
    potential, current = np.zeros(n_nodes), -volt / ohm
    missing = _missing(start, end, current, fed)
    solve = grounded(n_nodes, start, end, 1 / ohm, reference)
    for _ in range(MOST_ROUNDS):
        step = solve(missing)
        potential += step
        current += (step[start] - step[end]) / ohm
        missing = _missing(start, end, current, fed)
        if np.abs(missing).max() <= BALANCE * max(np.abs(current).max(initial=0.0), np.abs(fed).max()):
            return potential, current
    raise LayoutError(
        f"This network cannot be solved: its resistances, from {ohm.min():.3g} to {ohm.max():.3g} Ω, lie too many "
        "powers of ten apart. Leave the largest out, or join the ends of the smallest."
    )


def _missing(start: IntArray, end: IntArray, current: FloatArray, fed: FloatArray) -> FloatArray:
    """Return (n,) what is fed into each node less what its links carry away."""
    leaving = np.bincount(start, weights=current, minlength=len(fed))
    return np.asarray(fed - leaving + np.bincount(end, weights=current, minlength=len(fed)))


def resistance_between_ohm(resistors: Sequence[Resistor], one: Node, other: Node) -> float:
    """Return the resistance of a network of resistors between two of its nodes.

    Raises
    ------
    LayoutError : as `solve_network`, or one of the nodes is not in the network
    """
    known = {node for a, b, _ in resistors for node in (a, b)}
    for node in (one, other):
        if node not in known:
            raise LayoutError(f"Node {node!r} is not in the network.")
    if one == other:
        return 0.0
    return solve_network(resistors, (), [(one, 1.0), (other, -1.0)]).voltage_v(one, other)


def nodal_potentials_v(
    n_nodes: int, start: IntArray, end: IntArray, conductance_s: FloatArray, injected_a: FloatArray, reference: int = 0
) -> FloatArray:
    """Return the (n,) potentials of a connected network, 0 at the reference.

    Parameters
    ----------
    start, end : (m,) the nodes of each link
    conductance_s : (m,) of each link, more than 0
    injected_a : (n,), or (n, c) for several cases at once, into each node, summing to zero
    """
    return grounded(n_nodes, start, end, conductance_s, reference)(injected_a)


def grounded(
    n_nodes: int, start: IntArray, end: IntArray, conductance_s: FloatArray, reference: int
) -> Callable[[FloatArray], FloatArray]:
    """Return what solves a connected network: currents into its nodes in, potentials out, as `nodal_potentials_v`.

    Raises
    ------
    LayoutError : the network cannot be solved in floating point
    """
    from scipy.sparse import csc_matrix

    if n_nodes == 1:
        return np.zeros_like
    place = np.delete(np.arange(n_nodes), reference)
    row = np.concatenate([start, end, start, end])
    column = np.concatenate([end, start, start, end])
    value = np.concatenate([-conductance_s, -conductance_s, conductance_s, conductance_s])
    number = np.full(n_nodes, -1)
    number[place] = np.arange(n_nodes - 1)
    kept = (number[row] >= 0) & (number[column] >= 0)
    matrix = csc_matrix((value[kept], (number[row[kept]], number[column[kept]])), shape=(n_nodes - 1, n_nodes - 1))
    try:
        factors = factorised(matrix)
    except RuntimeError as error:  # "exactly singular": conductances too small to change the sums they are in
        raise LayoutError(
            f"This network cannot be solved: its conductances, from {conductance_s.min():.3g} to "
            f"{conductance_s.max():.3g} S, lie too many powers of ten apart. Leave the smallest out, or join the ends "
            "of the largest."
        ) from error

    def solve(injected_a: FloatArray) -> FloatArray:
        potential = np.zeros(injected_a.shape)
        potential[place] = factors.solve(injected_a[place])
        return potential

    return solve


def parts_of(n_nodes: int, start: IntArray, end: IntArray) -> IntArray:
    """Return (n,) the number of the connected part each node belongs to."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    links = coo_matrix((np.ones(len(start), dtype=np.int8), (start, end)), shape=(n_nodes, n_nodes))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def named(nodes: Sequence[Node]) -> str:
    """Return nodes as a message shows them, the first few by name."""
    shown = ", ".join(str(node) for node in nodes[:NODES_NAMED])
    more = len(nodes) - NODES_NAMED
    return f"{shown} and {more} more" if more > 0 else shown


def _require_one_part(names: Sequence[Node], start: IntArray, end: IntArray, reference: int) -> None:
    part = parts_of(len(names), start, end)
    adrift: BoolArray = part != part[reference]
    if adrift.any():
        loose = [names[k] for k in np.flatnonzero(adrift).tolist()]
        raise LayoutError(
            f"The network falls into parts: {named(loose)} {'hang' if len(loose) > 1 else 'hangs'} on nothing that "
            f"leads to {names[reference]}. Join them by a resistor, or solve them apart."
        )


def _require_values(resistors: Sequence[Resistor], sources: Sequence[Source], injections: Sequence[Injection]) -> None:
    for a, b, ohm in resistors:
        _require_positive(ohm, f"The resistor from {a} to {b}")
    for negative, positive, volt, ohm in sources:
        _require_positive(ohm, f"The source from {negative} to {positive}")
        if not math.isfinite(volt):
            raise LayoutError(f"The source from {negative} to {positive} has {volt} V; it must be a finite number.")
    for node, ampere in injections:
        if not math.isfinite(ampere):
            raise LayoutError(f"The current fed in at {node} is {ampere} A; it must be a finite number.")
    total = math.fsum(ampere for _, ampere in injections)
    largest = max((abs(ampere) for _, ampere in injections), default=0.0)
    if abs(total) > BALANCE * largest:
        raise LayoutError(
            f"The currents fed in at {named([node for node, _ in injections])} sum to {total:g} A; what goes in must "
            "come out. Let one node take it out."
        )


def _require_positive(ohm: float, what: str) -> None:
    if not 0 < ohm < math.inf:
        raise LayoutError(f"{what} has {ohm:g} Ω; it must be a finite number above 0. Leave an open branch out.")
    if not LEAST_OHM <= ohm <= MOST_OHM:
        raise LayoutError(f"{what} has {ohm:g} Ω; from {LEAST_OHM:g} to {MOST_OHM:g} Ω can be solved.")
