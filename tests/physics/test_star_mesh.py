"""Star-mesh: what is left is the same network, seen from the nodes that are left."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.physics.module import Metal
from layout_app.physics.star_mesh import without_stars


def seen_from(metal, n):
    """Return the conductances between the first n nodes, the others eliminated."""
    whole = np.zeros((metal.n_nodes, metal.n_nodes))
    np.add.at(whole, (metal.start, metal.end), -metal.conductance_s)
    whole = whole + whole.T
    whole -= np.diag(whole.sum(axis=0))
    inner = whole[n:, n:]
    return whole[:n, :n] - whole[:n, n:] @ np.linalg.pinv(inner) @ whole[n:, :n]


def test_a_star_becomes_the_triangle_of_the_textbook():
    """Closed form: star of 1, 2, 3 Ω to a triangle (Kennelly): Rab = Ra + Rb + Ra·Rb / Rc."""
    ohm = np.array([1.0, 2.0, 3.0])
    found = without_stars(Metal(4, np.array([0, 1, 2]), np.array([3, 3, 3]), 1 / ohm), 3)
    assert found.n_nodes == 3
    between = dict(zip(zip(found.start.tolist(), found.end.tolist(), strict=True), found.conductance_s, strict=True))
    for (a, b), c in {(0, 1): 2, (0, 2): 1, (1, 2): 0}.items():
        assert 1 / between[a, b] == pytest.approx(ohm[a] + ohm[b] + ohm[a] * ohm[b] / ohm[c])


def test_a_chain_of_two_is_a_series():
    found = without_stars(Metal(3, np.array([0, 2]), np.array([2, 1]), np.array([1.0, 0.5])), 2)
    assert (found.n_nodes, 1 / found.conductance_s[0]) == (2, pytest.approx(3.0))


@settings(deadline=None, max_examples=60)
@given(data=st.data(), n=st.integers(3, 14))
def test_any_network_stays_the_same_between_the_nodes_kept(data, n):
    """Law: the transformation is an elimination."""
    pairs = [(i, j) for i in range(n) for j in range(i)]
    chosen = data.draw(st.lists(st.sampled_from(pairs), min_size=1, max_size=3 * n))
    links = [*chosen, *((k, k + 1) for k in range(n - 1))]  # all in one part
    start, end = np.array(links).T
    value = np.array(data.draw(st.lists(st.floats(0.1, 10), min_size=len(links), max_size=len(links))))
    n_kept = data.draw(st.integers(1, n))
    metal = Metal(n, start, end, value)
    found = without_stars(metal, n_kept)
    assert found.n_nodes <= n
    assert (found.start < found.end).all()
    assert seen_from(found, n_kept) == pytest.approx(seen_from(metal, n_kept), abs=1e-9)
