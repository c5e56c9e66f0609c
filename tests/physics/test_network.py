"""Networks against closed forms: ladders of cells in parallel, grids, and what cannot be solved."""

import math
import warnings
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.model.errors import LayoutError
from layout_app.physics.network import resistance_between_ohm, solve_network

SAME_END, OPPOSITE_ENDS = "same end", "opposite ends"


def ladder(n, cell_ohm, top_ohm, bottom_ohm, *, feed=SAME_END, volts=None, current_a=1.0):
    """Return the solution of n cells between two rails, fed by `current_a`; top terminal at cell 1.

    +I  t1 --rt-- t2 --rt-- … tn
        |c1       |c2         |cn
        b1 --rb-- b2 --rb-- … bn     -I at b1 (same end) or bn
    """
    rails = [(f"t{k}", f"t{k + 1}", top_ohm) for k in range(1, n)] if top_ohm else []
    rails += [(f"b{k}", f"b{k + 1}", bottom_ohm) for k in range(1, n)]
    volts = [0.0] * n if volts is None else volts
    cells = [(f"b{k}", f"t{k}" if top_ohm else "t1", volts[k - 1], cell_ohm) for k in range(1, n + 1)]
    out = "b1" if feed == SAME_END else f"b{n}"
    return solve_network(rails, cells, [("t1", current_a), (out, -current_a)], reference=out), out


def shares(*given, **options):
    return -ladder(*given, **options)[0].source_current_a  # current fed in at the top flows into the cells


def decay(cell_ohm, top_ohm, bottom_ohm):
    """lambda of trade.md section 1: 2 asinh(√ρ / 2), ρ = (r_t + r_b) / R_c."""
    return 2 * math.asinh(math.sqrt((top_ohm + bottom_ohm) / cell_ohm) / 2)


LADDERS = [
    (10, 0.02, 1e-4, 1e-4),
    (10, 0.02, 5e-4, 5e-4),
    (7, 0.02, 4e-4, 1e-4),
    (16, 0.03, 2e-4, 2e-4),
    (2, 0.01, 1e-3, 1e-3),
]


@pytest.mark.parametrize(("n", "cell", "top", "bottom"), [*LADDERS, (9, 0.02, 0.0, 3e-4)])
def test_ladder_fed_at_the_same_end(n, cell, top, bottom):
    lam, k = decay(cell, top, bottom), np.arange(1, n + 1)
    exact = 2 * math.sinh(lam / 2) * np.cosh((n - k + 0.5) * lam) / math.sinh(n * lam)  # trade.md 1a, derived
    found, out = ladder(n, cell, top, bottom)
    assert -found.source_current_a == pytest.approx(exact, rel=1e-9)
    terminal = cell * 2 * math.cosh((n - 0.5) * lam) * math.sinh(lam / 2) / math.sinh(n * lam)
    assert found.voltage_v("t1", out) == pytest.approx(terminal, rel=1e-9)


@pytest.mark.parametrize(("n", "cell", "top", "bottom"), LADDERS)
def test_ladder_fed_at_opposite_ends(n, cell, top, bottom):
    lam, k, f = decay(cell, top, bottom), np.arange(1, n + 1), bottom / (top + bottom)
    exact = (2 * math.sinh(lam / 2) / math.sinh(n * lam)) * (
        (1 - f) * np.cosh((n - k + 0.5) * lam) + f * np.cosh((k - 0.5) * lam)
    )  # trade.md 1a, general, derived
    assert shares(n, cell, top, bottom, feed=OPPOSITE_ENDS) == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(("n", "cell", "rail"), [(10, 0.02, 1e-4), (11, 0.02, 5e-4), (16, 0.03, 2e-4)])
def test_ladder_fed_at_opposite_ends_of_equal_rails(n, cell, rail):
    lam, k = decay(cell, rail, rail), np.arange(1, n + 1)
    exact = math.sinh(lam / 2) * np.cosh((n + 1 - 2 * k) * lam / 2) / math.sinh(n * lam / 2)  # trade.md 1a, derived
    found, out = ladder(n, cell, rail, rail, feed=OPPOSITE_ENDS)
    share = -found.source_current_a
    assert share == pytest.approx(exact, rel=1e-9)
    ratio = math.cosh((n - 1) * lam / 2) / (1 if n % 2 else math.cosh(lam / 2))  # trade.md 1a, derived
    assert share.max() / share.min() == pytest.approx(ratio, rel=1e-9)
    remaining = 1 - np.cumsum(exact)[:-1]
    assert found.voltage_v("t1", out) == pytest.approx(cell * exact[0] + rail * (1 - remaining).sum(), rel=1e-9)


def test_ladders_of_the_table():
    """Source: trade.md rows 1 and 2, prints of 5 to 6 digits."""
    same = [1.264977, 1.17763, 1.10205, 1.03750, 0.98332, 0.93898, 0.90402, 0.87811, 0.86097, 0.852447]
    found, out = ladder(10, 0.02, 1e-4, 1e-4)
    assert -10 * found.source_current_a == pytest.approx(same, rel=1e-5)
    assert found.voltage_v("t1", out) == pytest.approx(2.529955e-3, rel=1e-6)
    opposite = [1.058712, 1.0193, 0.99008, 0.97076, 0.961149]
    found, out = ladder(10, 0.02, 1e-4, 1e-4, feed=OPPOSITE_ENDS)
    assert -10 * found.source_current_a == pytest.approx(opposite + opposite[::-1], rel=1e-5)
    assert found.voltage_v("t1", out) == pytest.approx(2.567424e-3, rel=1e-6)
    found, out = ladder(10, 0.02, 5e-4, 5e-4, feed=OPPOSITE_ENDS)
    assert -10 * found.source_current_a[[0, 4]] == pytest.approx([1.270653, 0.825968], rel=1e-5)
    assert found.voltage_v("t1", out) == pytest.approx(4.791306e-3, rel=1e-6)
    found, out = ladder(10, 0.02, 5e-4, 5e-4)
    assert -10 * found.source_current_a[[0, 9]] == pytest.approx([2.052487, 0.488820], rel=1e-5)
    assert found.voltage_v("t1", out) == pytest.approx(4.104973e-3, rel=1e-6)


def test_feeding_opposite_ends_is_the_mirror_image_of_half_the_row():
    """Source: trade.md, "also cheap and exact": even N, equal rails."""
    whole = shares(12, 0.02, 3e-4, 3e-4, feed=OPPOSITE_ENDS)
    half = shares(6, 0.02, 3e-4, 3e-4) / 2
    assert whole == pytest.approx(np.concatenate([half, half[::-1]]), rel=1e-9)


@pytest.mark.parametrize(
    ("feed", "n", "law"), [(SAME_END, 10, 45.0), (OPPOSITE_ENDS, 10, 10.0), (OPPOSITE_ENDS, 9, 8.0)]
)
def test_the_spread_of_a_stiff_ladder_follows_its_law(feed, n, law):
    """Source: trade.md 1a, small rho: (max−min)/mean = ρN(N−1)/2, ρN(N−2)/8 (even), ρ(N−1)²/8 (odd)."""
    rho = 1e-6
    share = shares(n, 1.0, rho / 2, rho / 2, feed=feed)
    assert np.ptp(share) * n == pytest.approx(rho * law, rel=1e-4)


def published_last_cell(volts, cell_ohm, step_ohm, current_a):
    """Return the currents of unequal cells by elimination from the far end, the published recursion's way.

    Source: trade.md 1a, the recursion published with arXiv:2508.14454 (one rail, source term for unequal voltage).
    Cell j carries i_j, the rail beyond it the sum of the further ones; equal voltage from rail start to each cell:
    v_j + R i_j = v_(j+1) + R i_(j+1) + r (i_(j+1) + … + i_n). With i_n as unknown, all others are linear in it.
    """
    n = len(volts)
    fixed, slope = np.zeros(n), np.zeros(n)
    slope[-1] = 1.0
    for j in range(n - 2, -1, -1):
        fixed[j] = (volts[j + 1] - volts[j]) / cell_ohm + fixed[j + 1] + step_ohm / cell_ohm * fixed[j + 1 :].sum()
        slope[j] = slope[j + 1] + step_ohm / cell_ohm * slope[j + 1 :].sum()
    last = (current_a - fixed.sum()) / slope.sum()
    return fixed + slope * last


@settings(deadline=None, max_examples=40)
@given(
    volts=st.lists(st.floats(3.0, 4.2), min_size=2, max_size=12), step=st.floats(1e-6, 1e-2), current=st.floats(-50, 50)
)
def test_cells_of_unequal_voltage_share_as_the_published_recursion_says(volts, step, current):
    found = shares(len(volts), 0.02, 0.0, step, volts=volts, current_a=current)
    assert found == pytest.approx(published_last_cell(volts, 0.02, step, current), rel=1e-9, abs=1e-9)


def test_the_last_of_equal_cells_is_the_published_beta():
    """i_n = I / β₂ with β₂ = sinh(Nλ)/sinh λ; source: trade.md 1a, read from the listing of arXiv:2508.14454."""
    lam = decay(0.02, 0.0, 1e-3)
    assert shares(10, 0.02, 0.0, 1e-3)[-1] == pytest.approx(math.sinh(lam) / math.sinh(10 * lam), rel=1e-9)


# Source: trade.md section 4, "decay 0.046 per block at R_c/r = 200, 0.174 at 40" (derived); see the docstring for how
@pytest.mark.parametrize(("stiffness", "decay_a_block"), [(200, 0.046), (40, 0.174)])
def test_where_a_terminal_sits_wears_off_from_block_to_block(stiffness, decay_a_block):
    """Derived: plates of n nodes, r a step, cells R between plates. A potential cos(q(j − 1/2)), q = π/n, stays one
    from plate to plate; Kirchhoff at a plate gives x + 1/x = 2 + (R/r)(2 − 2 cos q) for its factor x a block."""
    n, n_blocks = 10, 6
    half = 1 + stiffness * (1 - math.cos(math.pi / n))
    factor = half - math.sqrt(half**2 - 1)
    assert factor == pytest.approx(decay_a_block, abs=5e-4)
    plates = range(n_blocks + 1)
    rails = [((k, j), (k, j + 1), 1.0) for k in plates for j in range(n - 1)]
    cells = [((k, j), (k + 1, j), 3.6, float(stiffness)) for k in plates[:-1] for j in range(n)]
    mode = np.cos(math.pi / n * (np.arange(n) + 0.5))
    fed = [((0, j), float(mode[j])) for j in range(n)]
    flow = solve_network(rails, cells, fed).source_current_a.reshape(n_blocks, n) @ mode
    assert flow[1:3] / flow[:2] == pytest.approx(factor, rel=1e-4)  # the far end sends (almost) nothing back


def test_the_last_cells_share_by_the_published_ratios():
    """i_n = I/β₂; β_(n+1) = 1, β_n = α_n, β_j = α_j β_(j+1) − θ_j β_(j+2); source: trade.md 1a, read in the listing
    of arXiv:2508.14454: θ_j = r_j/r_(j−1), ω_j = R_j/r_(j−1), α_j = 1 + θ_j + ω_j, r the cells, R the steps between."""
    n, rng = 8, np.random.default_rng(1)
    cell, step = rng.uniform(0.01, 0.03, n), rng.uniform(1e-4, 2e-3, n)  # step[k] lies before cell k; step[0] is unused
    theta, omega = cell[1:] / cell[:-1], step[1:] / cell[:-1]
    beta, after = 1 + theta[-1] + omega[-1], 1.0
    for k in range(n - 3, -1, -1):
        beta, after = (1 + theta[k] + omega[k]) * beta - theta[k] * after, beta
    rails = [(f"b{k - 1}", f"b{k}", float(step[k])) for k in range(1, n)]
    cells = [(f"b{k}", "top", 0.0, float(cell[k])) for k in range(n)]
    found = solve_network(rails, cells, [("top", 1.0), ("b0", -1.0)])
    assert -found.source_current_a[-1] == pytest.approx(1 / beta, rel=1e-9)


def test_an_open_cell_leaves_its_current_to_the_others_and_to_no_rail():
    """Derived: without rails every healthy cell carries 1/(N−1)."""
    cells = [("b", "t", 3.6, 0.02) for _ in range(9)]
    found = solve_network([("b", "out", 1e-3)], cells, [("t", -9.0), ("out", 9.0)])
    assert found.source_current_a == pytest.approx(np.ones(9), rel=1e-12)


@pytest.mark.parametrize(("n", "faulty", "healthy", "cell"), [(10, 472.5, 52.5, 0.025), (3, 254.5, 127.3, 0.020)])
def test_a_dead_cell_draws_from_its_neighbours(n, faulty, healthy, cell):
    """Source: trade.md section 3, selectivity, derived: 4.2 V, wire 1 mΩ, fault 5 mΩ."""
    found = solve_network([("t", "d", 1e-3), ("d", "b", 5e-3)], [("b", "t", 4.2, cell + 1e-3)] * (n - 1))
    assert found.resistor_current_a[0] == pytest.approx(faulty, abs=0.06)
    assert found.source_current_a == pytest.approx(np.full(n - 1, healthy), abs=0.06)


# Source: values.md section 5, infinite square grid of 1 Ω, Cserti 2000 and Atkinson & van Steenwijk 1999
@pytest.mark.parametrize(("to", "exact"), [((1, 0), 0.5), ((1, 1), 2 / math.pi), ((2, 1), 4 / math.pi - 0.5)])
def test_a_wide_square_grid_nears_the_infinite_one(to, exact):
    span = range(-30, 31)
    links = [((x, y), (x + 1, y), 1.0) for x in span[:-1] for y in span]
    links += [((x, y), (x, y + 1), 1.0) for x in span for y in span[:-1]]
    assert resistance_between_ohm(links, (0, 0), to) == pytest.approx(exact, rel=2e-3)


@settings(deadline=None, max_examples=40)
@given(data=st.data())
def test_current_and_power_balance_in_any_connected_network(data):
    """Laws: Kirchhoff's at every node; Tellegen's: power of the sources and of fed-in currents is the loss."""
    n = data.draw(st.integers(2, 9))
    ohms = st.floats(1e-4, 1e3)
    links = [(data.draw(st.integers(0, k)), k + 1, data.draw(ohms)) for k in range(n - 1)]
    links += data.draw(st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1), ohms), max_size=8))
    node = st.integers(0, n - 1)
    sources = data.draw(st.lists(st.tuples(node, node, st.floats(-5, 5), ohms), max_size=4))
    fed_a = data.draw(st.floats(-100, 100))
    found = solve_network(links, sources, [(0, fed_a), (n - 1, -fed_a)])
    into = dict.fromkeys(range(n), 0.0)
    into[0] += fed_a
    into[n - 1] -= fed_a
    for (a, b, _), current in zip(links, found.resistor_current_a, strict=True):
        into[a] -= current
        into[b] += current
    for (negative, positive, _, _), current in zip(sources, found.source_current_a, strict=True):
        into[positive] += current
        into[negative] -= current
    scale = max(1.0, np.abs(found.resistor_current_a).max(initial=0), np.abs(found.source_current_a).max(initial=0))
    assert list(into.values()) == pytest.approx([0.0] * n, abs=1e-7 * scale)
    given_w = fed_a * found.voltage_v(0, n - 1) if n > 1 else 0.0
    given_w += sum(volt * current for (_, _, volt, _), current in zip(sources, found.source_current_a, strict=True))
    assert found.loss_w == pytest.approx(given_w, rel=1e-6, abs=1e-6 * scale)


CHAIN = [(a, b, 1.0) for a, b in pairwise("abcd")]
TROUBLES = {
    "zero": (([("a", "b", 0.0)],), "resistor from a to b has 0 Ω"),
    "negative": (([("a", "b", -1.0)],), "resistor from a to b has -1 Ω"),
    "not a number": (([("a", "b", math.nan)],), "resistor from a to b has nan Ω"),
    "endless": (([("a", "b", math.inf)],), "resistor from a to b has inf Ω"),
    "absurd": (([("a", "b", 1e-300)],), "resistor from a to b has 1e-300 Ω; from"),
    "ideal source": ((CHAIN, [("a", "d", 1.0, 0.0)]), "source from a to d has 0 Ω"),
    "no volt": ((CHAIN, [("a", "d", math.nan, 1.0)]), "source from a to d has nan V"),
    "floating": (([*CHAIN, ("x", "y", 1.0)],), "x, y hang on nothing that leads to a"),
    "floating feed": ((CHAIN, [], [("a", 1.0), ("z", -1.0)]), "z hangs on nothing that leads to a"),
    "one way": ((CHAIN, [], [("a", 1.0)]), "fed in at a sum to 1 A"),
    "no ampere": ((CHAIN, [], [("a", math.inf), ("d", -math.inf)]), "fed in at a is inf A"),
    "unknown reference": ((CHAIN, [], [], "q"), "hang on nothing that leads to q"),
    "nothing": (([],), "no network"),
}


@pytest.mark.parametrize(("given_", "message"), TROUBLES.values(), ids=TROUBLES)
def test_what_cannot_be_solved_names_the_nodes(given_, message):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(LayoutError, match=message):
            solve_network(*given_)


@pytest.mark.parametrize("wire_ohm", [1e-9, 1e-12])
def test_wires_of_next_to_nothing_share_evenly_and_keep_kirchhoffs_law(wire_ohm):
    """Derived: between rails without resistance every cell carries the same; at 3.6 V a drop over a picoohm has no
    digits left, yet what flows in the rails is the sum of what cells have fed in."""
    n = 31
    found, _ = ladder(n, 0.02, wire_ohm, wire_ohm, volts=[3.6] * n, current_a=-30.0)
    assert found.source_current_a == pytest.approx(np.full(n, 30 / n), rel=1e-4)
    beyond = found.source_current_a.sum() - np.cumsum(found.source_current_a)[:-1]
    assert -found.resistor_current_a[: n - 1] == pytest.approx(beyond, rel=1e-7, abs=1e-7)


def test_resistances_no_arithmetic_can_hold_together_are_refused():
    links = [("a", "b", 1e-15), ("b", "c", 1e15)]
    assert solve_network(links, [], [("a", 1.0), ("c", -1.0)], "a").resistor_current_a == pytest.approx([1.0, 1.0])
    with pytest.raises(LayoutError, match="too many powers of ten apart"):
        solve_network(links, [], [("a", 1.0), ("c", -1.0)], "c")


def test_a_node_that_is_not_there_has_no_resistance_to_anything():
    with pytest.raises(LayoutError, match="'q' is not in the network"):
        resistance_between_ohm(CHAIN, "a", "q")
    assert resistance_between_ohm(CHAIN, "a", "d") == pytest.approx(3.0)
