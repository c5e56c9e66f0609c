"""Proposals: they keep to the sites there are, say truly what they lack, and come best first."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import cell_type, cell_types, material
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.plates import PlateSettings
from layout_app.physics.figures import figures
from layout_app.planning.proposals import (
    Target,
    UnclearTargetError,
    chain_lacks,
    fillings,
    laid,
    proposals,
)

CELL = cell_type("21700-energy")  # 5 Ah, 3.6 V nominal, 2.5 to 4.2 V
# 130 cells of 21 mm at a pitch of 22 mm fit hexagonally (source: trade.md row 10)
HOUSING = Housing(outline=Contour.rectangle(300, 200), wall_clearance_mm=0.0)
BRIEF = Layout(
    name="canal tender", housing=HOUSING, cell_type=CELL, lattice=Lattice.hexagonal(22.0), n_series=1, n_parallel=1,
    cells=Cells(np.empty((0, 2))), plates=PlateSettings(material=material("copper")),
)  # fmt: skip


def proposed(target, cell=CELL):
    return proposals(HOUSING, cell, target, fillings(HOUSING, cell, 1.0))


def figure(layout, key):
    return next(f.value for f in figures(layout) if f.key == key)


def test_the_numbers_told_are_those_of_the_layout_that_is_opened():
    best = proposed(Target(n_series=6))[0]
    layout = laid(BRIEF, best)
    assert (layout.n_series, layout.n_parallel, layout.chain) == (best.n_series, best.n_parallel, best.chain)
    assert len(layout.cells) == best.n_cells
    assert figure(layout, "energy_wh") == pytest.approx(best.energy_wh)
    assert figure(layout, "volumetric_energy_wh_l") == pytest.approx(best.energy_wh_l)
    assert chain_lacks(layout) == ()


def test_without_a_size_the_fullest_module_comes_first():
    found = proposed(Target(n_series=6))
    assert found[0].n_cells == 126  # derived: 130 sites (trade.md row 10), 6 × 21
    assert found[0].n_spare == 4
    assert [p.n_cells for p in found] == sorted((p.n_cells for p in found), reverse=True)


def test_an_energy_asked_for_is_met_with_the_fewest_cells_first():
    per_cell_wh = CELL.capacity_ah * CELL.voltage_nominal_v
    found = proposed(Target(n_series=6, energy_wh=70 * per_cell_wh))
    assert found[0].n_cells == 72  # derived: the least multiple of 6 that is at least 70
    assert not found[0].lacks
    assert any(p.n_cells == 126 for p in found)


def test_energy_per_litre_counts_the_space_inside_the_wall():
    litres = 300 * 200 * CELL.height_mm * 1e-6
    found = proposed(Target(n_series=6, energy_wh_l=100 * CELL.capacity_ah * CELL.voltage_nominal_v / litres))
    assert found[0].n_cells == 102  # derived: the least multiple of 6 that is at least 100


@pytest.mark.parametrize(
    ("target", "series"),
    [
        (Target(lowest_v=15.0, highest_v=26.0), {6}),  # derived: 15 / 2.5 = 6 at least, 26 / 4.2 = 6.19 at most
        (Target(lowest_v=15.0), {6}),
        (Target(highest_v=30.0), {7}),  # derived: 30 / 4.2 = 7.14
        (Target(n_series=4, lowest_v=15.0), {4}),
        (Target(lowest_v=20.0, highest_v=42.0), {8, 9, 10}),  # derived: 8 to 10
        (Target(lowest_v=24.0, highest_v=26.0), {6, 10}),  # no number does both: 6 keeps 26 V, 10 keeps 24 V
    ],
)
def test_the_voltages_asked_for_set_the_groups_in_series(target, series):
    assert {p.n_series for p in proposed(target)} == series


def test_what_does_not_keep_the_voltages_says_so():
    for proposal in proposed(Target(lowest_v=24.0, highest_v=26.0)):
        said = " ".join(lack.words for lack in proposal.lacks)
        assert ("below 24 V" in said) == (proposal.n_series == 6)
        assert ("above 26 V" in said) == (proposal.n_series == 10)


def test_too_large_a_wish_tells_how_many_sites_are_missing_and_the_nearest_comes_first():
    found = proposed(Target(n_series=6, n_parallel=22))
    assert found[0].lacks[0].words == "2 sites too few"  # derived: 6 × 22 less 130
    assert [p.shortfall for p in found] == sorted(p.shortfall for p in found)


def test_a_current_beyond_the_cells_is_told_per_cell():
    found = proposed(Target(n_series=6, n_parallel=10, current_a=20 * CELL.continuous_current_a))
    assert "a cell continuously" in found[0].lacks[0].words


def test_a_target_without_series_and_voltage_is_refused_in_words():
    with pytest.raises(UnclearTargetError, match="series or a voltage"):
        proposed(Target(energy_wh=500.0))


def test_cells_contacted_at_one_end_are_said_to_get_no_metal():
    one_end = next(cell for cell in cell_types().values() if not cell.has_opposite_contacts)
    assert all("one end" in p.lacks[-1].words for p in proposed(Target(n_series=6), one_end))


def test_asking_again_fills_the_housing_only_once():
    assert fillings(HOUSING, CELL, 1.0) is fillings(HOUSING, CELL, 1.0)


wishes = st.builds(
    Target,
    n_series=st.none() | st.integers(1, 40),
    n_parallel=st.none() | st.integers(1, 60),
    lowest_v=st.floats(1, 100),
    highest_v=st.none() | st.floats(1, 200),
    energy_wh=st.none() | st.floats(1, 5000),
    energy_wh_l=st.none() | st.floats(1, 900),
    current_a=st.floats(0, 400),
    chain=st.sampled_from([None, "straight", "folded"]),
)


@given(target=wishes)
@settings(deadline=None, max_examples=150)
def test_what_lacks_nothing_meets_every_wish_and_comes_before_what_does(target):
    found = proposed(target)
    assert found
    assert [bool(p.lacks) for p in found] == sorted(bool(p.lacks) for p in found)
    for p in found:
        meets = (
            p.n_cells <= len(p.arrangement),
            p.n_series * CELL.voltage_min_v >= target.lowest_v * (1 - 1e-6),
            target.highest_v is None or p.n_series * CELL.voltage_max_v <= target.highest_v * (1 + 1e-6),
            p.energy_wh >= (target.energy_wh or 0) * (1 - 1e-6),
            p.energy_wh_l >= (target.energy_wh_l or 0) * (1 - 1e-6),
            target.current_a / p.n_parallel <= CELL.continuous_current_a * (1 + 1e-6),
        )
        assert all(meets) == (not p.lacks), p.lacks
        assert target.n_parallel in (None, p.n_parallel)
        assert target.chain in (None, p.chain)
