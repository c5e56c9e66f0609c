"""Island conductance: the boundary element method against closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.physics.island_conductance import Island, island_conductance


def loop(corners, n):
    """Return the nodes of a polygon, counter-clockwise, each side in n elements."""
    corners = np.array(corners, dtype=float)
    share = (np.arange(n) / n)[:, None]
    return np.vstack([a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def circle(radius, n, clockwise=False):
    angle = np.arange(n) * 2 * np.pi / n * (-1 if clockwise else 1)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def island(loops, contact_of, *, n_cuts=0, sources=(), windows=(), land=(), radius=1.0):
    """Return an island; `contact_of` names the contact of each element by its middle, -1 for none."""
    following, first = [], 0
    for nodes in loops:
        following += [*range(first + 1, first + len(nodes)), first]
        first += len(nodes)
    nodes = np.vstack(loops)
    contact = np.array([contact_of(*middle) for middle in (nodes + nodes[following]) / 2])
    on_contact = np.flatnonzero(contact >= 0)[np.argsort(contact[contact >= 0], kind="stable")]
    piece = np.full(len(nodes), -1)
    piece[on_contact] = np.arange(len(on_contact)) // 2
    return Island(
        nodes_mm=nodes,
        following=np.array(following),
        piece=piece,
        contact=contact[on_contact[::2]],
        n_cuts=n_cuts,
        sources_mm=np.reshape(sources, (-1, 2)).astype(float),
        windows_mm=np.reshape(windows, (-1, 3)).astype(float),
        land=np.array(land, dtype=np.int64),
        radius_mm=radius,
    )


def by_x(left, right):
    return lambda x, y: 0 if abs(x - left) < 1e-9 else 1 if abs(x - right) < 1e-9 else -1


@settings(deadline=None, max_examples=25)
@given(
    length=st.floats(0.5, 40), width=st.floats(0.5, 40), n=st.sampled_from([2, 4, 6]), n_cuts=st.sampled_from([0, 2])
)
def test_a_strip_has_its_length_over_its_width_in_squares_whatever_its_elements(length, width, n, n_cuts):
    """Closed form: values.md section 5, uniform strip. Cut or held makes no difference: the field is uniform."""
    strip = island([loop([(0, 0), (length, 0), (length, width), (0, width)], n)], by_x(0, length), n_cuts=n_cuts)
    assert 1 / island_conductance(strip)[0, 0] == pytest.approx(length / width, rel=1e-5)


def test_an_annulus_from_rim_to_rim():
    """Closed form: ln(R / r) / 2π squares (values.md section 5); second order in the elements."""
    errors = []
    for n in (16, 32, 64):
        ring = island([circle(10, n), circle(4, n, True)], lambda x, y: 0 if np.hypot(x, y) > 7 else 1)
        errors.append(abs(1 / island_conductance(ring)[0, 0] / (np.log(10 / 4) / (2 * np.pi)) - 1))
    assert errors[0] < 0.05
    assert errors[1] < errors[0] / 2.5
    assert errors[2] < errors[1] / 2.5


def test_a_bend_lies_between_its_bounds():
    """Closed form: a quarter of an annulus, ends held at one potential: π / 2 / ln(R / r) squares.

    Current fed in evenly all along the ends meets more (Thomson's principle).
    """
    n, inner, outer = 24, 4.0, 10.0
    turn = np.linspace(0, np.pi / 2, n + 1)
    arc = np.column_stack([np.cos(turn), np.sin(turn)])
    across = np.linspace(inner, outer, n // 2, endpoint=False)[:, None]
    nodes = np.vstack([across * (1, 0), outer * arc[:-1], (inner + outer - across) * (0, 1), inner * arc[:0:-1]])
    exact = np.pi / 2 / np.log(outer / inner)
    held = island([nodes], lambda x, y: 0 if abs(y) < 1e-9 else 1 if abs(x) < 1e-9 else -1)
    assert 1 / island_conductance(held)[0, 0] == pytest.approx(exact, rel=0.01)
    cut = island([nodes], lambda x, y: 0 if abs(y) < 1e-9 else 1 if abs(x) < 1e-9 else -1, n_cuts=2)
    assert exact * 0.99 < 1 / island_conductance(cut)[0, 0] < exact * 1.1


@pytest.mark.parametrize(("inner", "at", "outer"), [(7.0, 8.05, 10.0), (6.0, 7.0, 20.0), (5.0, 9.0, 11.0)])
def test_a_land_beside_a_window_in_a_ring(inner, at, outer):
    """Derived: Green's function of a ring, current kept in at the inner rim and let out at the outer one.

    With q = s / outer, p = (inner / s)², each harmonic m adds (1 + pᵐ)(1 − q²ᵐ) / (1 + (inner / outer)²ᵐ) − 1, over
    2πm, to what a source of radius ρ alone has up to the outer rim, ln(outer / ρ) / 2π.
    """
    m, rho = np.arange(1, 400), 0.3
    harmonics = (1 + (inner / at) ** (2 * m)) * (1 - (at / outer) ** (2 * m)) / (1 + (inner / outer) ** (2 * m)) - 1
    exact = np.log(outer / rho) / (2 * np.pi) + (harmonics / (2 * np.pi * m)).sum()
    ring = island(
        [circle(outer, 64), circle(inner, 64, True)],
        lambda x, y: 0 if np.hypot(x, y) > (inner + outer) / 2 else -1,
        sources=[(at, 0)],
        windows=[(0, 0, inner)],
        land=[0],
        radius=rho,
    )
    assert 1 / island_conductance(ring)[0, 0] == pytest.approx(exact, rel=0.01)


def test_contacts_of_one_potential_take_current_as_they_like_and_sums_are_zero():
    """Laws: what goes in comes out; a conductance matrix is symmetric; two sources of a land are one contact."""
    square = island(
        [loop([(0, 0), (20, 0), (20, 20), (0, 20)], 8)],
        by_x(0, 20),
        sources=[(9, 5), (11, 5), (10, 16)],
        windows=[(10, -5, 5), (10, -5, 5), (10, 24, 4)],
        land=[0, 0, 1],
        radius=0.4,
    )
    g = island_conductance(square)
    assert g.shape == (4, 4)
    assert g == pytest.approx(g.T)
    assert g.sum(axis=0) == pytest.approx(np.zeros(4), abs=1e-9)
    assert (g[np.triu_indices(4, 1)] < 0).all()
    assert g[0, 2] == pytest.approx(g[1, 2], rel=1e-6)  # the square is its own mirror
